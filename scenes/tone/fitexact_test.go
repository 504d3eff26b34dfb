package tone_test

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"deskhand/scenes/tone"
)

// onGrid gives a voice as the desk can have it, with the Q that the desk shows.
func (d fitDesk) onGrid(wanted []tone.Band) []tone.Band {
	bands := slices.Clone(wanted)
	for i, b := range bands {
		s := d.slots[i]
		bands[i].Frequency = s.Frequencies[nearestStep(s.Frequencies, b.Frequency)]
		bands[i].Gain = s.Gains[nearestStep(s.Gains, b.Gain)]
		bands[i].Q = s.Qs[nearestStep(s.Qs, b.Q)]
	}
	return bands
}

func nearestStep(grid []float64, v float64) int {
	best := 0
	for i := range grid {
		if math.Abs(grid[i]-v) < math.Abs(grid[best]-v) {
			best = i
		}
	}
	return best
}

func TestWhatADeskCanDoExactlyIsFound(t *testing.T) {
	narrowing := shippedDesk(t, "quay-24")
	narrowing.name, narrowing.BellsNarrow = "quay-24 whose bells narrow", true
	for _, desk := range []fitDesk{shippedDesk(t, "quay-24"), coarseDesk(), narrowing} {
		t.Run(desk.name, func(t *testing.T) {
			t.Parallel()
			random := rand.New(rand.NewPCG(4, 1994))
			for n := range 100 {
				bands := desk.onGrid(voice(random, 1))
				target := make([]float64, len(tone.FitGrid(desk.Rate).Hz))
				tone.FitGrid(desk.Rate).Curve(target, desk.Desk, tone.Shape{Bands: bands})
				desk.mustFind(t, n, target, bands, nil)
				desk.mustFind(t, n, target, bands, desk.real(bands))
			}
		})
	}
}

// real gives bands with the Q that they really have.
func (d fitDesk) real(bands []tone.Band) []tone.Band {
	real := slices.Clone(bands)
	for i, b := range bands {
		if b.Kind == tone.Bell {
			real[i].Q = d.BellQ(b.Gain, b.Q)
		}
	}
	return real
}

func (d fitDesk) mustFind(t *testing.T, n int, target []float64, bands, hints []tone.Band) {
	t.Helper()
	fit := tone.FitEQ(d.Desk, target, d.slots, hints)
	got := slices.Clone(fit.Bands)
	slices.SortFunc(got, func(a, b tone.Band) int { return cmp.Compare(a.Frequency, b.Frequency) })
	for i, b := range bands {
		if !d.isWithinAStep(i, got[i], b) {
			t.Errorf("target %d, %d hints: found %v, off by %.4f dB, for %v", n, len(hints), got, fit.Error, bands)
			return
		}
	}
}

func (d fitDesk) isWithinAStep(slot int, a, b tone.Band) bool {
	s := d.slots[slot]
	near := func(grid []float64, x, y float64) bool {
		apart := nearestStep(grid, x) - nearestStep(grid, y)
		return apart >= -1 && apart <= 1
	}
	return a.Kind == b.Kind && near(s.Frequencies, a.Frequency, b.Frequency) && near(s.Gains, a.Gain, b.Gain) && near(s.Qs, a.Q, b.Q)
}

func BenchmarkFitEQ(b *testing.B) {
	quay := shippedDesk(b, "quay-24")
	random := rand.New(rand.NewPCG(4, 1994))
	var can, between, cannot [][]float64
	for range 20 {
		can = append(can, quay.targetOf(quay.onGrid(voice(random, 1))))
		between = append(between, quay.targetOf(voice(random, 1)))
		cannot = append(cannot, quay.targetOf(append(voice(random, 0), voice(random, 0)...)))
	}
	for name, targets := range map[string][][]float64{"what the desk can do": can, "between its steps": between, "twice its bands": cannot} {
		b.Run(name, func(b *testing.B) {
			for n := 0; b.Loop(); n++ {
				tone.FitEQ(quay.Desk, targets[n%len(targets)], quay.slots, nil)
			}
		})
	}
}
