package tone_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"syscall"
	"testing"
	"time"

	"deskhand/scenes/tone"
)

// onGrid sets the desk's bands as near to the wanted ones as they go, without a gain of 0.
func (d fitDesk) onGrid(wanted []tone.Band) []tone.Band {
	bands := slices.Clone(wanted)
	for i, b := range bands {
		s := d.slots[i]
		bands[i].Frequency = s.Frequencies[nearestStep(s.Frequencies, b.Frequency)]
		bands[i].Q = s.Qs[nearestStep(s.Qs, b.Q)]
		gain := nearestStep(s.Gains, b.Gain)
		if s.Gains[gain] == 0 {
			gain++
		}
		bands[i].Gain = s.Gains[gain]
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

func TestExactWork(t *testing.T) {
	quay := shippedDesk(t, "quay-24")
	narrow := quay
	narrow.name, narrow.BellsNarrow = "narrow", true
	coarse := coarseDesk()
	for _, desk := range []fitDesk{quay, coarse} {
		for _, apart := range []float64{1.0 / 3, 1} {
			for _, hinted := range []bool{false} {
				random := rand.New(rand.NewPCG(4, 1994))
				bad, far := 0, 0
				start := cpu()
				for n := range 400 {
					bands := desk.onGrid(voice(random, apart))
					grid := tone.FitGrid(desk.Rate)
					target := make([]float64, len(grid.Hz))
					grid.Curve(target, desk.Desk, tone.Shape{Bands: bands})
					var hints []tone.Band
					if hinted {
						hints = slices.Clone(bands)
						for i := range hints {
							if hints[i].Kind == tone.Bell {
								hints[i].Q = desk.BellQ(hints[i].Gain, hints[i].Q)
							}
						}
					}
					fit := tone.FitEQ(desk.Desk, target, desk.slots, hints)
					got := slices.Clone(fit.Bands)
					slices.SortFunc(got, func(a, b tone.Band) int { return int(math.Copysign(1, a.Frequency-b.Frequency)) })
					wrong := ""
					for i, b := range bands {
						s := desk.slots[i]
						g := got[i]
						if g.Kind != b.Kind || step(s.Frequencies, g.Frequency, b.Frequency) > 1 || step(s.Gains, g.Gain, b.Gain) > 1 || step(s.Qs, g.Q, b.Q) > 1 {
							wrong = "x"
						}
					}
					if fit.Error < 0.0005 {
						wrong = ""
					}
					if wrong != "" {
						bad++
						if fit.Error > 0.001 {
							far++
						}
						t.Logf("%s %v %v %d: error %.5f\n want %v\n got  %v", desk.name, apart, hinted, n, fit.Error, bands, got)
					}
				}
				t.Logf("== %s apart %.2f hints %v: %d not same, %d of them not exact; %v each", desk.name, apart, hinted, bad, far, (cpu()-start)/400)
			}
		}
	}
}

func TestInexactWork(t *testing.T) {
	quay := shippedDesk(t, "quay-24")
	random := rand.New(rand.NewPCG(4, 1994))
	start := cpu()
	sum := 0.0
	for range 60 {
		target := quay.targetOf(append(voice(random, 0.3), voice(random, 0.3)...))
		sum += tone.FitEQ(quay.Desk, target, quay.slots, nil).Error
	}
	t.Logf("== mean error %.4f; %v each", sum/60, (cpu()-start)/60)
}

func step(grid []float64, a, b float64) int {
	d := nearestStep(grid, a) - nearestStep(grid, b)
	return max(d, -d)
}

func BenchmarkFitEQ(b *testing.B) {
	quay := shippedDesk(b, "quay-24")
	random := rand.New(rand.NewPCG(4, 1994))
	var targets [][]float64
	for range 20 {
		targets = append(targets, quay.targetOf(voice(random, 0.5)))
	}
	b.Run("no hints", func(b *testing.B) {
		n := 0
		for b.Loop() {
			tone.FitEQ(quay.Desk, targets[n%20], quay.slots, nil)
			n++
		}
	})
}

func cpu() time.Duration {
	var u syscall.Rusage
	syscall.Getrusage(0, &u)
	return time.Duration(u.Utime.Nano())
}
