package tone

import (
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"
)

// Slot is one band of EQ of a desk, and what it can be set to. A list of one value is a
// control that the desk has fixed.
type Slot struct {
	// Kinds must not be empty.
	Kinds []Kind
	// Frequencies in Hz, Gains in dB and Qs as the desk shows them are the desk's grid,
	// each rising or falling. Without Qs the desk has none, and [PlainQ] counts.
	Frequencies, Gains, Qs []float64
}

// Fit is the nearest that a desk's bands come to a curve.
type Fit struct {
	// Bands are by slot, on the desk's grid. Used says which do something. One that is not
	// used has a gain of 0 dB, be that on the grid or not, and is to be switched off where
	// it is not.
	Bands []Band
	Used  []bool
	// Error is the mean difference in dB: the root of the mean square over the octaves,
	// weighted as the fit is.
	Error float64
	// Largest is the largest difference in dB between 63 Hz and 16 kHz, above 0 where the
	// fit is too loud, and At where that is, in Hz.
	Largest, At float64
}

// FitEQ finds the settings of a desk's bands whose summed curve is nearest to a target in
// dB over [FitGrid]. Hints are bands that may be near, such as those that the target was
// made of, with the Q that they really have. The same input gives the same settings on
// every machine.
//
// Guesses grow from bands that take most off what is left of the target; then all bands
// of a guess move together over values between the grid's; then bands are taken away and
// planted elsewhere, as long as that helps, and then by chance; and from the nearest steps
// of the grid the search goes on by single steps, in whole numbers, until none is better.
func FitEQ(d Desk, target []float64, slots []Slot, hints []Band) Fit {
	f := newFitter(d, target, slots)
	best := f.none()
	try := func(bands []Band) (done bool) {
		if s := f.descend(f.snap(bands)); s.isBetter(best) {
			best = s
		}
		return best.error <= exact
	}
	hinted := f.fromHints(hints)
	if try(hinted) {
		return f.report(best)
	}
	var found []guess
	for _, g := range f.promising(hinted) {
		g = f.refine(f.reseed(g), finely)
		if try(g.bands) {
			return f.report(best)
		}
		found = append(found, g)
	}
	for _, g := range atOnce(least(found, kicked), f.kickOn) {
		try(g.bands)
	}
	return f.report(best)
}

// atOnce does the same with each guess, all at once, and gives what comes out in the same
// order.
func atOnce(guesses []guess, do func(guess) guess) []guess {
	done := make([]guess, len(guesses))
	var all sync.WaitGroup
	for i, g := range guesses {
		all.Go(func() { done[i] = do(g) })
	}
	all.Wait()
	return done
}

// exact is the error of a fit that differs by 0.0003 dB everywhere, as far as the rounding
// of a few curves may bring it: none will be better.
var exact = func() (sum int64) {
	for _, weight := range fitWeights {
		sum += weight * 3 * 3
	}
	return sum
}()

// fitter holds what the steps of one fit share.
type fitter struct {
	desk   Desk
	grid   *Grid
	slots  []Slot
	ranges []ranges
	// alike gives the first slot that can be set to the same as each.
	alike []int
	atoms []atom
	// products are those of the atoms' curves with each other, weighted.
	products *mat.SymDense
	target   []float64
	// micro is the target in whole ten-thousandths of a dB.
	micro []int64
}

func newFitter(d Desk, target []float64, slots []Slot) *fitter {
	f := &fitter{desk: d, grid: FitGrid(d.Rate), slots: slots, target: bounded(target), micro: make([]int64, len(target))}
	for i, t := range f.target {
		f.micro[i] = whole(t)
	}
	for _, s := range slots {
		f.ranges = append(f.ranges, ranges{spanOf(s.Frequencies), spanOf(s.Gains), spanOf(s.Qs)})
		f.alike = append(f.alike, slices.IndexFunc(slots, s.isLike))
	}
	f.atoms = f.allAtoms()
	f.products = f.allProducts()
	return f
}

func (s Slot) isLike(o Slot) bool {
	return slices.Equal(s.Kinds, o.Kinds) && slices.Equal(s.Frequencies, o.Frequencies) &&
		slices.Equal(s.Gains, o.Gains) && slices.Equal(s.Qs, o.Qs)
}

// ranges are the ends of a slot's controls.
type ranges struct{ frequency, gain, q span }

// span is the lowest and the highest value of a grid, both 0 where there is none.
type span struct{ low, high float64 }

func spanOf(grid []float64) span {
	if len(grid) == 0 {
		return span{}
	}
	return span{slices.Min(grid), slices.Max(grid)}
}

func (s span) has(v float64) bool { return v >= s.low && v <= s.high }

// into moves a value into the range.
func (s span) into(v float64) float64 { return min(max(v, s.low), s.high) }

func (f *fitter) report(s solution) Fit {
	fit := Fit{Bands: make([]Band, len(f.slots)), Used: make([]bool, len(f.slots))}
	curve := make([]float64, len(f.target))
	var shape Shape
	for slot, at := range s.at {
		fit.Bands[slot] = f.bandAt(slot, at)
		fit.Used[slot] = !at.off && !(fit.Bands[slot].Kind.HasGain() && fit.Bands[slot].Gain == 0)
		if fit.Used[slot] {
			shape.Bands = append(shape.Bands, fit.Bands[slot])
		} else {
			fit.Bands[slot].Gain = 0
		}
	}
	f.grid.Curve(curve, f.desk, shape)
	fit.Error, fit.Largest, fit.At = Apart(curve, f.target)
	return fit
}
