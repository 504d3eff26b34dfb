package tone_test

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"deskhand/scenes/tone"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// anyBand draws a band, of any kind and far beyond what a voice needs.
func anyBand(t *rapid.T) tone.Band {
	return tone.Band{
		Kind:      rapid.SampledFrom([]tone.Kind{tone.Bell, tone.LowShelf, tone.HighShelf, tone.LowPass, tone.HighPass, tone.Notch}).Draw(t, "kind"),
		Frequency: rapid.Float64Range(20, 20000).Draw(t, "frequency"),
		Gain:      rapid.Float64Range(-18, 18).Draw(t, "gain"),
		Q:         rapid.Float64Range(0.1, 20).Draw(t, "Q"),
	}
}

// anySlot draws a slot, which may have controls of one value, no gain or no Q.
func anySlot(t *rapid.T) tone.Slot {
	grid := func(name string, low, high float64, least int) []float64 {
		values := rapid.SliceOfNDistinct(rapid.Float64Range(low, high), least, 9, rapid.ID[float64]).Draw(t, name)
		slices.Sort(values)
		return values
	}
	all := []tone.Kind{tone.Bell, tone.LowShelf, tone.HighShelf, tone.LowPass, tone.HighPass, tone.Notch}
	return tone.Slot{
		Kinds:       rapid.SliceOfNDistinct(rapid.SampledFrom(all), 1, 3, rapid.ID[tone.Kind]).Draw(t, "kinds"),
		Frequencies: grid("frequencies", 20, 20000, 1),
		Gains:       grid("gains", -18, 18, 0),
		Qs:          grid("Qs", 0.1, 20, 0),
	}
}

func curveOf(d tone.Desk, bands ...tone.Band) []float64 {
	grid := tone.FitGrid(d.Rate)
	curve := make([]float64, len(grid.Hz))
	grid.Curve(curve, d, tone.Shape{Bands: bands})
	return curve
}

func TestAFitOnAnyDeskIsOnItsGridAndNoWorseThanNoBand(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		desk := tone.Desk{Rate: 48000, BellsNarrow: rapid.Bool().Draw(t, "narrow")}
		wanted := rapid.SliceOfN(rapid.Custom(anyBand), 0, 5).Draw(t, "wanted")
		slots := rapid.SliceOfN(rapid.Custom(anySlot), 0, 4).Draw(t, "slots")
		target := curveOf(tone.Desk{Rate: 48000}, wanted...)
		fit := tone.FitEQ(desk, target, slots, wanted)
		mustBeOnGrid(t, fit, slots)
		flat, _, _ := tone.Apart(curveOf(desk), target)
		if fit.Error > flat+1e-3 {
			t.Errorf("off by %.4f dB, and without a band by %.4f dB", fit.Error, flat)
		}
		var used []tone.Band
		for i, b := range fit.Bands {
			if fit.Used[i] {
				used = append(used, b)
			}
		}
		if mean, largest, at := tone.Apart(curveOf(desk, used...), target); mean != fit.Error || largest != fit.Largest || at != fit.At {
			t.Errorf("the fit says %v %v %v of itself, its bands are off by %v %v %v", fit.Error, fit.Largest, fit.At, mean, largest, at)
		}
	})
}

func mustBeOnGrid(t *rapid.T, fit tone.Fit, slots []tone.Slot) {
	if len(fit.Bands) != len(slots) || len(fit.Used) != len(slots) {
		t.Fatalf("%d bands and %d uses for %d slots", len(fit.Bands), len(fit.Used), len(slots))
	}
	for i, b := range fit.Bands {
		s := slots[i]
		isOn := func(grid []float64, v float64) bool { return slices.Contains(grid, v) || len(grid) == 0 && v == 0 }
		if fit.Used[i] && b.Kind.HasGain() && !isOn(s.Gains, b.Gain) || !slices.Contains(s.Kinds, b.Kind) ||
			!isOn(s.Frequencies, b.Frequency) || !isOn(s.Qs, b.Q) {
			t.Errorf("band %d is %v, which is not on the grid of %v", i, b, s)
		}
		if !fit.Used[i] && b.Gain != 0 {
			t.Errorf("band %d is not used and has a gain of %v dB", i, b.Gain)
		}
	}
}

func TestAFitIsNoWorseThanItsHintsOnTheGrid(t *testing.T) {
	quay := coarseDesk()
	rapid.Check(t, func(t *rapid.T) {
		var hints, snapped []tone.Band
		for range 4 {
			b := anyBand(t)
			b.Kind = tone.Kind(int(b.Kind) % 3)
			hints = append(hints, b)
			s := quay.slots[0]
			b.Frequency = s.Frequencies[nearestLog(s.Frequencies, b.Frequency)]
			b.Gain = s.Gains[nearestStep(s.Gains, b.Gain)]
			b.Q = s.Qs[nearestLog(s.Qs, b.Q)]
			snapped = append(snapped, b)
		}
		target := curveOf(quay.Desk, hints...)
		fit := tone.FitEQ(quay.Desk, target, quay.slots, hints)
		if plain, _, _ := tone.Apart(curveOf(quay.Desk, snapped...), target); fit.Error > plain+1e-3 {
			t.Errorf("off by %.4f dB, and with the hints put on the grid by %.4f dB", fit.Error, plain)
		}
	})
}

func nearestLog(grid []float64, v float64) int {
	best := 0
	for i := range grid {
		if math.Abs(math.Log(grid[i]/v)) < math.Abs(math.Log(grid[best]/v)) {
			best = i
		}
	}
	return best
}

func TestMoreBandsAreNoWorse(t *testing.T) {
	quay := shippedDesk(t, "quay-24")
	random := rand.New(rand.NewPCG(5, 1))
	for n := range 20 {
		target, before := quay.targetOf(append(voice(random, 0), voice(random, 0)...)), math.Inf(1)
		for bands := range 5 {
			fit := tone.FitEQ(quay.Desk, target, quay.slots[:bands], nil)
			if fit.Error > before+0.01 {
				t.Errorf("target %d: %d bands are off by %.4f dB, one less by %.4f dB", n, bands, fit.Error, before)
			}
			before = fit.Error
		}
	}
}

func TestAMirroredTargetIsMissedByAsMuch(t *testing.T) {
	quay := shippedDesk(t, "quay-24")
	random := rand.New(rand.NewPCG(6, 1))
	for n := range 20 {
		target := quay.targetOf(append(voice(random, 0), voice(random, 0)...))
		fit := tone.FitEQ(quay.Desk, target, quay.slots, nil)
		for i := range target {
			target[i] = -target[i]
		}
		if mirrored := tone.FitEQ(quay.Desk, target, quay.slots, nil); math.Abs(mirrored.Error-fit.Error) > 0.05 {
			t.Errorf("target %d: off by %.4f dB, mirrored by %.4f dB", n, fit.Error, mirrored.Error)
		}
	}
}

func TestTheSameInputFitsTheSame(t *testing.T) {
	quay, raft := shippedDesk(t, "quay-24"), shippedDesk(t, "raft-8")
	fits := func() (all []tone.Fit) {
		random := rand.New(rand.NewPCG(7, 1))
		for range 10 {
			for _, desk := range []fitDesk{quay, raft} {
				all = append(all, tone.FitEQ(desk.Desk, desk.targetOf(append(voice(random, 0), voice(random, 0)...)), desk.slots, nil))
			}
		}
		return all
	}
	want := fits()
	for _, processors := range []int{1, 2} {
		was := runtime.GOMAXPROCS(processors)
		got := fits()
		runtime.GOMAXPROCS(was)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("on %d processors, another fit:\n%s", processors, diff)
		}
	}
}

func TestFitsOfOddTargets(t *testing.T) {
	quay := shippedDesk(t, "quay-24")
	flat := func(level float64) []float64 {
		target := make([]float64, len(tone.FitGrid(48000).Hz))
		for i := range target {
			target[i] = level
		}
		return target
	}
	hole := flat(0)
	hole[24] = -300 // the centre of a notch at 1 kHz
	for name, target := range map[string][]float64{
		"silence": flat(math.Inf(-1)), "no numbers": flat(math.NaN()), "far above": flat(1e300), "a notch": hole,
	} {
		fit := tone.FitEQ(quay.Desk, target, quay.slots, nil)
		if math.IsNaN(fit.Error) || fit.Error > 60 {
			t.Errorf("%s: off by %v dB, more than no band at all", name, fit.Error)
		}
	}
	if fit := tone.FitEQ(quay.Desk, flat(math.NaN()), quay.slots, nil); slices.Contains(fit.Used, true) {
		t.Errorf("a band is used where nothing is wanted: %v", fit.Bands)
	}
}
