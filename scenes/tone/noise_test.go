package tone_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"deskhand/scenes/tone"
)

// table is the spectrum of speech as sound.md's source gives it: third-octaves from 63 Hz
// to 16 kHz, in dB.
var table = []float64{
	38.6, 43.5, 54.4, 57.7, 56.8, 60.2, 60.3, 59.0, 62.1, 62.1, 60.5, 56.8,
	53.7, 53.0, 52.0, 48.7, 48.1, 46.8, 45.6, 44.5, 44.3, 43.7, 43.4, 41.3, 40.7,
}

// period is how many samples the noise takes until it comes round again, 2.7 s at 48 kHz.
const period = 1 << 17

// speechNoise is noise of the long-term spectrum of speech, of so many dB re full scale
// (RMS, a full sine being -3 dB). It is a sum of sines of random phase, 40 and more in a
// band, that comes round after a period. In each third-octave, of centre 1000 Hz x
// 10^(n/10), their powers add up to the table's and slope as from the band before to the
// band after.
func speechNoise(rate, level float64) []float64 {
	random := rand.New(rand.NewPCG(4, 1994))
	spectrum := make([]complex128, period)
	for band, dB := range table {
		centre := 1000 * math.Pow(10, float64(band-12)/10)
		first := int(math.Ceil(centre * math.Pow(10, -0.05) * period / rate))
		end := int(math.Ceil(centre * math.Pow(10, 0.05) * period / rate))
		before, after := max(band-1, 0), min(band+1, len(table)-1)
		slope := (table[after] - table[before]) / float64(after-before) // dB a third-octave
		share := func(bin int) float64 {
			thirds := 10 * math.Log10(float64(bin)*rate/period/centre)
			return math.Pow(10, slope*thirds/10) / float64(bin)
		}
		var whole float64
		for bin := first; bin < end; bin++ {
			whole += share(bin)
		}
		for bin := first; bin < end; bin++ {
			power := math.Pow(10, dB/10) * share(bin) / whole
			spectrum[bin] = cmplx.Rect(math.Sqrt(power), 2*math.Pi*random.Float64())
		}
	}
	fourier(spectrum)
	noise := make([]float64, period)
	for i, v := range spectrum {
		noise[i] = real(v)
	}
	factor := math.Pow(10, (level-rms(noise))/20)
	for i := range noise {
		noise[i] *= factor
	}
	return noise
}

// fourier is the transform of J. W. Cooley and J. W. Tukey, in place, for a length that is
// a power of 2.
func fourier(v []complex128) {
	n := len(v)
	if n == 1 {
		return
	}
	even, odd := make([]complex128, n/2), make([]complex128, n/2)
	for i := range even {
		even[i], odd[i] = v[2*i], v[2*i+1]
	}
	fourier(even)
	fourier(odd)
	for i := range even {
		turned := odd[i] * cmplx.Rect(1, 2*math.Pi*float64(i)/float64(n))
		v[i], v[i+n/2] = even[i]+turned, even[i]-turned
	}
}

// rms is the long-term level in dB re full scale.
func rms(samples []float64) float64 {
	var power float64
	for _, x := range samples {
		power += x * x
	}
	return 10 * math.Log10(power/float64(len(samples)))
}

// squasher is a compressor that runs: a detector of RMS, slow so that it goes by the
// long-term level, and the gain that follows from it.
type squasher struct {
	tone.Compressor
	power, kept float64
	gain        float64
	until       int
}

// through gives a sample's answer. The gain is worked out anew every 64 samples.
func (c *squasher) through(x float64) float64 {
	if !c.On {
		return x
	}
	c.power += (x*x - c.power) * c.kept
	if c.until == 0 {
		c.gain, c.until = math.Pow(10, (c.reduction(10*math.Log10(c.power))+c.Makeup)/20), 64
	}
	c.until--
	return x * c.gain
}

// reduction is what is taken off a level, in dB: the sum, from the knee upwards, of the
// parts of a dB that each dB loses. That part grows evenly across the knee, from nothing to
// 1 - 1/ratio.
func (c *squasher) reduction(level float64) float64 {
	const step = 0.01
	var lost float64
	for at := c.Threshold - c.Knee/2; at < level; at += step {
		part := 1.0
		if c.Knee > 0 {
			part = min((at-c.Threshold)/c.Knee+0.5, 1)
		}
		lost += step * part * (1 - 1/c.Ratio)
	}
	return -lost
}

// factor is dB as a factor of amplitude; silence is 0.
func factor(dB float64) float64 { return math.Pow(10, dB/20) }

// sides gives the factors of the two loudspeakers, that of the centre being 1: a sine and
// cosine that keep the power, bent by a power of their own to a law other than 3 dB.
func sides(law, pan float64) (left, right float64) {
	angle := (pan + 100) / 200 * math.Pi / 2
	bent := law / (20 * math.Log10(math.Sqrt2))
	return math.Pow(math.Sqrt2*math.Cos(angle), bent), math.Pow(math.Sqrt2*math.Sin(angle), bent)
}

// louder is the level of the louder side of samples that are panned, in dB.
func louder(samples []float64, law, pan float64) float64 {
	left, right := sides(law, pan)
	side := make([]float64, len(samples))
	most := math.Inf(-1)
	for _, f := range []float64{left, right} {
		for i, x := range samples {
			side[i] = x * f
		}
		most = max(most, rms(side))
	}
	return most
}

// runThrough runs noise of a level through a strip, sample by sample, for three periods,
// and gives what the last of them holds at each place where it is heard, in dB
// relative to the noise.
func runThrough(d tone.Desk, s tone.Strip, arrives float64) tone.Levels {
	noise := speechNoise(d.Rate, arrives)
	eq := filters(d, s.Shape)
	squash := squasher{Compressor: s.Compressor, kept: 1 / (0.7 * d.Rate), power: 1e-12}
	front := factor(s.Gain) * factor(s.Trim)
	head := make([]float64, period)
	for range 3 {
		for i, x := range noise {
			head[i] = squash.through(eq.through(x * front))
		}
	}
	before := rms(noise)
	l := tone.Levels{Main: math.Inf(-1), Mixes: make(map[int]float64)}
	faded := make([]float64, period)
	for i, x := range head {
		faded[i] = x * factor(s.Fader)
	}
	if s.Main {
		l.Main = louder(faded, d.PanLaw, s.Pan) - before
	}
	for mix, send := range s.Sends {
		from := head
		if send.Post {
			from = faded
		}
		sent := make([]float64, period)
		for i, x := range from {
			sent[i] = x * factor(send.Level)
		}
		l.Mixes[mix] = louder(sent, d.PanLaw, send.Pan) - before
	}
	return l
}

func TestLevelsAreThoseOfSpeechNoiseThatRunsThroughTheStrip(t *testing.T) {
	plain := tone.Desk{Rate: 48000, PanLaw: 3}
	bell := func(frequency, gain, q float64) tone.Band {
		return tone.Band{Kind: tone.Bell, Frequency: frequency, Gain: gain, Q: q}
	}
	for _, c := range []struct {
		name    string
		desk    tone.Desk
		arrives float64
		tone.Strip
	}{
		{"gain, trim, fader and pan", plain, -60, tone.Strip{Gain: 34.5, Trim: -1.5, Main: true, Fader: -6, Pan: -40}},
		{"low cut and three bands, sends before and behind the fader", plain, -52, tone.Strip{
			Gain: 32, Main: true, Fader: -8, Pan: 100,
			Shape: tone.Shape{LowCut: tone.LowCut{Frequency: 120, Slope: 18}, Bands: []tone.Band{
				bell(315, -5, 1.4), bell(2500, 3, 1), {Kind: tone.HighShelf, Frequency: 6000, Gain: 4, Q: 0.7}}},
			Sends: map[int]tone.Send{
				1: {Level: -12},
				2: {Level: -3, Post: true},
				3: {Level: 2, Pan: 70},
				4: {Level: math.Inf(-1)},
			}}},
		{"a low cut that reaches into speech", plain, -52, tone.Strip{
			Gain: 32, Main: true, Shape: tone.Shape{LowCut: tone.LowCut{Frequency: 400, Slope: 48}}}},
		// The narrow bell is between two third-octaves, where their centres miss it.
		{"a narrow boost between two third-octaves", plain, -50, tone.Strip{
			Main: true, Shape: tone.Shape{Bands: []tone.Band{bell(447, 12, 10)}}}},
		{"a narrow boost in the middle of one", plain, -50, tone.Strip{
			Main: true, Shape: tone.Shape{Bands: []tone.Band{bell(501, 12, 10)}}}},
		{"bells that narrow, at 44.1 kHz", tone.Desk{Rate: 44100, BellsNarrow: true, PanLaw: 4.5}, -50, tone.Strip{
			Main: true, Pan: 25, Shape: tone.Shape{Bands: []tone.Band{bell(200, 9, 2), bell(630, -12, 3)}}}},
		{"shelves and pass filters, at 96 kHz", tone.Desk{Rate: 96000, PanLaw: 6}, -50, tone.Strip{
			Main: true, Pan: -100, Shape: tone.Shape{Bands: []tone.Band{
				{Kind: tone.LowShelf, Frequency: 250, Gain: -6, Q: 0.7}, {Kind: tone.HighPass, Frequency: 150, Q: 0.9},
				{Kind: tone.LowPass, Frequency: 7000, Q: 0.7}, {Kind: tone.Notch, Frequency: 500, Q: 4}}}}},
		// What comes out of gain and EQ is 10 dB and more over the threshold.
		{"a compressor at work", plain, -52, tone.Strip{
			Gain: 34, Main: true, Fader: -5, Shape: tone.Shape{LowCut: tone.LowCut{Frequency: 100, Slope: 24}, Bands: []tone.Band{bell(400, 6, 1)}},
			Compressor: tone.Compressor{On: true, Threshold: -30, Ratio: 4, Makeup: 5},
			Sends:      map[int]tone.Send{1: {Level: -10}, 2: {Level: -10, Post: true}}}},
		{"a compressor in its knee", plain, -52, tone.Strip{
			Gain: 30, Main: true, Compressor: tone.Compressor{On: true, Threshold: -22, Ratio: 3, Knee: 12, Makeup: 2}}},
		{"a compressor that is not reached", plain, -52, tone.Strip{
			Gain: 20, Main: true, Compressor: tone.Compressor{On: true, Threshold: -20, Ratio: 8, Makeup: 3}}},
		{"a compressor that is off", plain, -52, tone.Strip{
			Gain: 40, Main: true, Compressor: tone.Compressor{Threshold: -40, Ratio: 8, Makeup: 3}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			want, got := runThrough(c.desk, c.Strip, c.arrives), c.Levels(c.desk, c.arrives)
			near := func(place string, want, got float64) {
				t.Logf("%s: %.2f dB, noise %.2f dB", place, got, want)
				if want != got && !(math.Abs(want-got) <= 0.3) {
					t.Errorf("%s: %.2f dB, but noise gives %.2f dB", place, got, want)
				}
			}
			near("mains", want.Main, got.Main)
			if len(got.Mixes) != len(want.Mixes) {
				t.Errorf("%d mixes, not %d", len(got.Mixes), len(want.Mixes))
			}
			for mix := range want.Mixes {
				near("mix "+string(rune('0'+mix)), want.Mixes[mix], got.Mixes[mix])
			}
		})
	}
}
