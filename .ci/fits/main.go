// Command fits prints what bands sixty made-up voices are fitted to, on a desk of four
// free bands, on one of three of which two are fixed, and on one of two bells: settings
// must be the same on every processor, though the last bits of sums are not.
package main

import (
	"fmt"
	"math/rand/v2"

	"deskhand/scenes/tone"
)

func main() {
	random := rand.New(rand.NewPCG(60, 3))
	kinds := []tone.Kind{tone.Bell, tone.LowShelf, tone.HighShelf}
	free := tone.Slot{Kinds: kinds, Frequencies: sweep(), Gains: steps(-150, 150, 5, 10), Qs: steps(5, 100, 5, 10)}
	bell := tone.Slot{Kinds: kinds[:1], Frequencies: steps(100, 8000, 100, 1), Gains: steps(-12, 12, 1, 1), Qs: []float64{1}}
	low := tone.Slot{Kinds: kinds[1:2], Frequencies: []float64{100}, Gains: bell.Gains}
	high := tone.Slot{Kinds: kinds[2:], Frequencies: []float64{10000}, Gains: bell.Gains}
	desks := [][]tone.Slot{{free, free, free, free}, {low, bell, high}, {bell, bell}}
	for n := range 60 {
		desk := tone.Desk{Rate: 48000, BellsNarrow: n%2 == 1}
		sayFit(n, desk, voice(random), desks[n/2%len(desks)], n%5 == 0)
	}
}

// steps gives a grid from low to high in whole steps, of which so many are one.
func steps(low, high, step, one int) (grid []float64) {
	for v := low; v <= high; v += step {
		grid = append(grid, float64(v)/float64(one))
	}
	return grid
}

// sweep gives frequencies in Hz from 20 Hz to 20 kHz, some sixteen an octave.
func sweep() (grid []float64) {
	for hz := 20; hz <= 20000; hz += 1 + hz/24 {
		grid = append(grid, float64(hz))
	}
	return grid
}

// voice makes up six bands from whole numbers, so that they are the same to the bit
// everywhere.
func voice(random *rand.Rand) (bands []tone.Band) {
	for range 6 {
		bands = append(bands, tone.Band{
			Kind: tone.Kind(random.IntN(3)), Frequency: float64(80 + random.IntN(9920)),
			Gain: float64(random.IntN(121)-60) / 10, Q: float64(5+random.IntN(36)) / 10,
		})
	}
	return bands
}

func sayFit(n int, d tone.Desk, wanted []tone.Band, slots []tone.Slot, hinted bool) {
	grid := tone.FitGrid(d.Rate)
	target := make([]float64, len(grid.Hz))
	grid.Curve(target, tone.Desk{Rate: d.Rate}, tone.Shape{Bands: wanted})
	var hints []tone.Band
	if hinted {
		hints = wanted
	}
	fit := tone.FitEQ(d, target, slots, hints)
	for i, b := range fit.Bands {
		fmt.Printf("fit %d, band %d, used %v: %v %v Hz %v dB Q %v\n", n, i+1, fit.Used[i], b.Kind, b.Frequency, b.Gain, b.Q)
	}
	fmt.Printf("fit %d is off by %.6f dB, %+.6f dB at %.1f Hz\n", n, fit.Error, fit.Largest, fit.At)
}
