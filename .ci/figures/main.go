// Command figures prints what scenes/tone makes of three hundred strips that are made
// up, as far as it must be the same on every processor: curves and levels to a
// millionth of a dB, for Go may join a multiplication and an addition into one step
// that rounds once, where the processor has it, and the last bits differ.
package main

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"

	"deskhand/scenes/tone"
)

func main() {
	random := dice{rand.New(rand.NewPCG(63, 16000))}
	for n := range 300 {
		desk, strip := random.desk(), random.strip()
		sayCurve(n, desk, strip.Shape)
		sayLevels(n, desk, strip)
	}
}

func sayCurve(n int, d tone.Desk, s tone.Shape) {
	grid := tone.ThirdOctaves(d.Rate)
	curve := make([]float64, len(grid.Hz))
	grid.Curve(curve, d, s)
	for i, hz := range grid.Hz {
		fmt.Printf("%d curve at %v Hz: %s\n", n, hz, rounded(curve[i]))
	}
	fmt.Printf("%d speech: %s, by third-octaves %s\n", n, rounded(s.SpeechChange(d)), rounded(tone.SpeechChange(curve)))
}

func sayLevels(n int, d tone.Desk, s tone.Strip) {
	l := s.Levels(d, s.ArrivesWellSet())
	fmt.Printf("%d mains: %s\n", n, rounded(l.Main))
	for _, mix := range slices.Sorted(maps.Keys(l.Mixes)) {
		fmt.Printf("%d mix %d: %s\n", n, mix, rounded(l.Mixes[mix]))
	}
}

// rounded gives dB to a millionth, of which 0 has no sign.
func rounded(dB float64) string {
	return fmt.Sprintf("%.6f dB", math.Round(dB*1e6)/1e6+0)
}

// dice makes up strips from whole numbers, so that they are the same to the bit everywhere.
type dice struct{ *rand.Rand }

// of gives a tenth from low to high, which are in tenths.
func (d dice) of(low, high int) float64 { return float64(low+d.IntN(high-low+1)) / 10 }

func (d dice) desk() tone.Desk {
	return tone.Desk{Rate: []float64{44100, 48000, 96000}[d.IntN(3)], BellsNarrow: d.IntN(2) == 1, PanLaw: d.of(0, 60)}
}

func (d dice) strip() tone.Strip {
	s := tone.Strip{Gain: d.of(0, 600), Trim: d.of(-60, 60), Main: true, Fader: d.of(-300, 100), Pan: d.of(-1000, 1000), Sends: make(map[int]tone.Send)}
	s.Shape.LowCut = tone.LowCut{Frequency: d.of(200, 4000), Slope: float64(6 * d.IntN(9))}
	for range d.IntN(5) {
		s.Shape.Bands = append(s.Shape.Bands, tone.Band{
			Kind: tone.Kind(d.IntN(int(tone.Notch) + 1)), Frequency: d.of(300, 180000), Gain: d.of(-150, 150), Q: d.of(3, 100),
		})
	}
	s.Compressor = tone.Compressor{On: d.IntN(2) == 1, Threshold: d.of(-500, 0), Ratio: d.of(10, 200), Knee: d.of(0, 120), Makeup: d.of(0, 120)}
	for mix := range d.IntN(4) {
		s.Sends[mix+1] = tone.Send{Level: d.of(-600, 100), Pan: d.of(-1000, 1000), Post: d.IntN(2) == 1}
	}
	return s
}
