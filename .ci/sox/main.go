// Command sox holds the curves of scenes/tone against those of sox, a program of Debian
// that has filters of its own: an impulse goes through each of its equalizer, bass,
// treble, highpass, lowpass and bandreject, and the Fourier sum of what comes out is
// compared with our curve. It prints the largest difference in dB for each filter at each
// sample rate, and ends with 1 if one is over 0.05 dB from 40 Hz to 16 kHz, wherever a curve is above -60 dB.
//
//	sox DIRECTORY
//
// The directory is for the samples.
package main

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"deskhand/scenes/tone"
)

// within is how near the curves must be, in dB, and above which level they are compared.
const within, deep = 0.05, -60

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "sox: give a directory for the samples")
		os.Exit(2)
	}
	if err := compareAll(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "sox:", err)
		os.Exit(1)
	}
}

// effect is a filter in sox's words and in ours, and what a person calls it.
type effect struct {
	name  string
	words []string
	shape tone.Shape
}

// rates are in Hz.
var rates = []int{44100, 48000, 96000}

func compareAll(directory string) error {
	fmt.Printf("%-26s", "sox; difference in dB at")
	for _, rate := range rates {
		fmt.Printf("%9d Hz", rate)
	}
	fmt.Println()
	compared, worst := 0, 0.0
	for _, e := range effects() {
		fmt.Printf("%-26s", e.name)
		for _, rate := range rates {
			most, err := compare(directory, rate, e)
			if err != nil {
				return err
			}
			fmt.Printf("%12.5f", most)
			compared, worst = compared+1, max(worst, most)
		}
		fmt.Println()
	}
	if !(worst <= within) { // It may be no number.
		return fmt.Errorf("a curve is %.3f dB from that of sox, over %v dB", worst, within)
	}
	fmt.Printf("%d curves, at most %.4f dB from those of sox\n", compared, worst)
	return nil
}

func effects() []effect {
	var all []effect
	say := func(n float64) string { return strconv.FormatFloat(n, 'f', -1, 64) }
	add := func(b tone.Band, words ...string) {
		all = append(all, effect{strings.Join(words, " "), words, tone.Shape{Bands: []tone.Band{b}}})
	}
	for _, b := range []struct{ frequency, q, gain float64 }{{80, 0.7, 6}, {315, 1.4, -9}, {1000, 4, 12}, {2500, 0.5, -4.5}, {8000, 8, -15}, {12500, 1, 7}} {
		add(tone.Band{Kind: tone.Bell, Frequency: b.frequency, Q: b.q, Gain: b.gain}, "equalizer", say(b.frequency), say(b.q)+"q", say(b.gain))
	}
	for _, s := range []struct{ frequency, q, gain float64 }{{100, 0.7071, -6}, {250, 0.5, 12}, {1000, 1.2, 4}, {6300, 0.7071, -12}} {
		add(tone.Band{Kind: tone.LowShelf, Frequency: s.frequency, Q: s.q, Gain: s.gain}, "bass", say(s.gain), say(s.frequency), say(s.q)+"q")
		add(tone.Band{Kind: tone.HighShelf, Frequency: s.frequency, Q: s.q, Gain: s.gain}, "treble", say(s.gain), say(s.frequency), say(s.q)+"q")
	}
	for _, p := range []struct{ frequency, q float64 }{{80, 0.7071}, {400, 2}, {3150, 0.5}, {10000, 1}} {
		add(tone.Band{Kind: tone.HighPass, Frequency: p.frequency, Q: p.q}, "highpass", "-2", say(p.frequency), say(p.q)+"q")
		add(tone.Band{Kind: tone.LowPass, Frequency: p.frequency, Q: p.q}, "lowpass", "-2", say(p.frequency), say(p.q)+"q")
		add(tone.Band{Kind: tone.Notch, Frequency: p.frequency, Q: p.q}, "bandreject", say(p.frequency), say(p.q)+"q")
	}
	return append(all, lowCuts()...)
}

// lowCuts are chains of sox's high passes that make Butterworth filters, and our low cut.
// The Q of each pair of poles is 1 / (2 sin angle), of which the angles are odd multiples
// of pi / 2n, n being the number of poles.
func lowCuts() []effect {
	var all []effect
	for _, c := range []struct {
		frequency string
		qs        []string
		low       tone.LowCut
	}{
		{"120", []string{"0.70711q"}, tone.LowCut{Frequency: 120, Slope: 12}},
		{"100", []string{"0.54120q", "1.30656q"}, tone.LowCut{Frequency: 100, Slope: 24}},
		{"300", []string{"0.50980q", "0.60134q", "0.89998q", "2.56292q"}, tone.LowCut{Frequency: 300, Slope: 48}},
	} {
		var words []string
		for _, q := range c.qs {
			words = append(words, "highpass", "-2", c.frequency, q)
		}
		name := fmt.Sprintf("%d x highpass, %v dB/oct", len(c.qs), c.low.Slope)
		all = append(all, effect{name, words, tone.Shape{LowCut: c.low}})
	}
	return all
}

// compare gives the largest difference in dB between the two curves.
func compare(directory string, rate int, e effect) (most float64, err error) {
	answer, err := through(directory, rate, e.words)
	if err != nil {
		return 0, err
	}
	hz := make([]float64, 200)
	for i := range hz {
		hz[i] = 40 * math.Pow(16000.0/40, float64(i)/float64(len(hz)-1))
	}
	ours := make([]float64, len(hz))
	tone.NewGrid(float64(rate), hz).Curve(ours, tone.Desk{Rate: float64(rate)}, e.shape)
	for i, f := range hz {
		theirs := magnitude(answer, float64(rate), f)
		if !(theirs <= deep && ours[i] <= deep) {
			most = max(most, math.Abs(theirs-ours[i]))
		}
	}
	return most, nil
}

// size is that of the impulse: far enough below full scale that no filter clips it, and
// above the last bit of sox's samples, of which it has 32.
const size = 0.05

// through sends an impulse and a second of silence through sox, without dither, and gives
// what comes out for an impulse of 1.
func through(directory string, rate int, words []string) ([]float64, error) {
	in, out := filepath.Join(directory, "impulse.raw"), filepath.Join(directory, "answer.raw")
	samples := make([]float64, rate)
	samples[0] = size
	var raw bytes.Buffer
	if err := binary.Write(&raw, binary.LittleEndian, samples); err != nil {
		return nil, err
	}
	if err := os.WriteFile(in, raw.Bytes(), 0o600); err != nil {
		return nil, err
	}
	form := []string{"-t", "raw", "-r", strconv.Itoa(rate), "-e", "floating-point", "-b", "64", "-L", "-c", "1"}
	arguments := append([]string{"-D"}, form...)
	arguments = append(append(append(arguments, in), form...), out)
	said, err := exec.Command("sox", append(arguments, words...)...).CombinedOutput()
	if err == nil && len(said) > 0 { // A warning, as of clipping, spoils the result too.
		err = errors.New("it warns")
	}
	if err != nil {
		return nil, fmt.Errorf("sox %s at %d Hz: %w\n%s", strings.Join(words, " "), rate, err, said)
	}
	return read(out, len(samples))
}

func read(file string, want int) ([]float64, error) {
	raw, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	answer := make([]float64, len(raw)/8)
	if len(answer) < want {
		return nil, fmt.Errorf("%s: %d samples came out of %d", file, len(answer), want)
	}
	for i := range answer {
		answer[i] = math.Float64frombits(binary.LittleEndian.Uint64(raw[8*i:])) / size
	}
	return answer, nil
}

// magnitude is the Fourier sum at one frequency, in dB.
func magnitude(answer []float64, rate, hz float64) float64 {
	turn := cmplx.Exp(complex(0, -2*math.Pi*hz/rate))
	var sum complex128
	for i := len(answer) - 1; i >= 0; i-- { // Horner's scheme
		sum = sum*turn + complex(answer[i], 0)
	}
	return 20 * math.Log10(cmplx.Abs(sum))
}
