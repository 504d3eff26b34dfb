package tone_test

import (
	"testing"

	"deskhand/scenes/tone"
)

func benchGrid() *tone.Grid { return tone.NewGrid(48000, logarithmic(20, 20000, 200)) }

// benchShape is a strip with all its bands in use.
func benchShape() tone.Shape {
	return tone.Shape{LowCut: tone.LowCut{Frequency: 100, Slope: 24}, Bands: []tone.Band{
		{Kind: tone.LowShelf, Frequency: 120, Gain: -3, Q: 0.7},
		{Kind: tone.Bell, Frequency: 400, Gain: -4, Q: 1.4},
		{Kind: tone.Bell, Frequency: 3150, Gain: 2.5, Q: 2},
		{Kind: tone.HighShelf, Frequency: 8000, Gain: 3, Q: 0.7},
	}}
}

// BenchmarkCurve is the curve of a whole strip at 200 points. The aim is 10 us.
func BenchmarkCurve(b *testing.B) {
	grid, shape := benchGrid(), benchShape()
	curve := make([]float64, len(grid.Hz))
	b.ReportAllocs()
	for b.Loop() {
		grid.Curve(curve, tone.Desk{Rate: 48000}, shape)
	}
}

// BenchmarkLevels is a strip with a compressor and eight sends. A difference of 48
// channels takes it 96 times, and is to take 5 ms as a whole.
func BenchmarkLevels(b *testing.B) {
	strip := tone.Strip{Gain: 34, Shape: benchShape(), Main: true, Fader: -6, Sends: make(map[int]tone.Send),
		Compressor: tone.Compressor{On: true, Threshold: -24, Ratio: 3, Knee: 6, Makeup: 4}}
	for mix := range 8 {
		strip.Sends[mix+1] = tone.Send{Level: -10, Post: mix%2 == 1}
	}
	b.ReportAllocs()
	for b.Loop() {
		strip.Levels(tone.Desk{Rate: 48000, PanLaw: 3}, strip.ArrivesWellSet())
	}
}
