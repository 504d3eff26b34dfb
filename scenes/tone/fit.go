package tone

import (
	"cmp"
	"math"
	"slices"
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
	// Bands are by slot, on the desk's grid. One that is not used has a gain of 0 dB, if
	// it is of a kind that has gain, and Used says so.
	Bands []Band
	Used  []bool
	// Error is the mean difference in dB: the root of the mean square over the octaves,
	// weighted as the fit is.
	Error float64
	// Largest is the largest difference in dB between 63 Hz and 16 kHz, above 0 where the
	// fit is too loud, and At where that is, in Hz.
	Largest, At float64
}

// fitPoints are the frequencies at which a fit is judged: six an octave, so that each
// third-octave, which is what an ear tells apart, counts alike.
var fitPoints = func() []float64 {
	hz := make([]float64, 49)
	for i := range hz {
		hz[i] = 62.5 * math.Pow(2, float64(i)/6)
	}
	return hz
}()

// FitGrid gives the frequencies at which a fit is judged, from 63 Hz to 16 kHz, for a
// sample rate in Hz.
func FitGrid(rate float64) *Grid { return NewGrid(rate, fitPoints) }

// fitWeights say how much a difference counts at each point: as the sound pressure of
// speech there, so that the consonants, of little energy, count for something. They are
// whole numbers, the largest about 1000.
var fitWeights = func() []int64 {
	loudest := slices.Max(speech[:])
	weights := make([]int64, len(fitPoints))
	for i, hz := range fitPoints {
		weights[i] = int64(math.Round(1000 * math.Pow(10, (speechAt(hz)-loudest)/20)))
	}
	return weights
}()

// speechAt is the spectrum of speech between its third-octaves, in dB.
func speechAt(hz float64) float64 {
	i, _ := slices.BinarySearch(thirdOctaves[:], hz)
	i = min(max(i, 1), len(thirdOctaves)-1)
	low, high := thirdOctaves[i-1], thirdOctaves[i]
	along := min(max(math.Log(hz/low)/math.Log(high/low), 0), 1)
	return speech[i-1] + along*(speech[i]-speech[i-1])
}

// FitEQ finds the settings of a desk's bands whose summed curve is nearest to a target in
// dB over [FitGrid]. Hints are bands that may be near, such as those that the target was
// made of. The same input gives the same settings on every machine.
//
// Candidates grow band by band, each where it takes most off what is left; then all bands
// move together over values between the grid's; and from the nearest steps of the
// grid the search goes on by single steps, in whole numbers, until none is better.
func FitEQ(d Desk, target []float64, slots []Slot, hints []Band) Fit {
	f := newFitter(d, target, slots)
	var found []guess
	for _, start := range least(f.starts(hints), Refined) {
		found = append(found, f.refine(start))
	}
	best := f.none()
	for _, g := range least(found, Reseeded) {
		if best.error <= exact {
			break
		}
		if s := f.descend(f.snap(f.reseed(g))); s.error < best.error {
			best = s
		}
	}
	return f.report(best)
}

// refined is how many of the starts are worth being refined, and reseeded how many of
// those are worth the whole search.
var (
	Refined  = 8
	Reseeded = 4
	Tried    = 24
)

// starts gives the guesses to begin with: the hints as they are, as far as there are
// slots, and guesses that grow band by band from different first ones.
func (f *fitter) starts(hints []Band) []guess {
	starts := []guess{f.grow(f.fromHints(hints))}
	none := make([]Band, len(f.slots))
	for _, o := range f.offers(none, f.target, Tried) {
		bands := slices.Clone(none)
		bands[o.slot] = o.band
		starts = append(starts, f.grow(bands))
	}
	return starts
}

// exact is the error of a fit that differs by 0.001 dB everywhere: none will be better.
var exact = func() (sum int64) {
	for _, weight := range fitWeights {
		sum += weight * 10 * 10
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
	alike  []int
	atoms  []atom
	target []float64
	// micro is the target in whole ten-thousandths of a dB.
	micro []int64
}

func newFitter(d Desk, target []float64, slots []Slot) *fitter {
	f := &fitter{desk: d, grid: FitGrid(d.Rate), slots: slots, target: target, micro: make([]int64, len(target))}
	for i, t := range target {
		f.micro[i] = whole(t)
	}
	for _, s := range slots {
		f.ranges = append(f.ranges, ranges{spanOf(s.Frequencies), spanOf(s.Gains), spanOf(s.Qs)})
	}
	for _, s := range slots {
		f.alike = append(f.alike, slices.IndexFunc(slots, s.isLike))
	}
	f.atoms = f.atomsOfAll()
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

// whole gives a level in whole ten-thousandths of a dB, in a range of which sums of
// squares fit into 64 bits.
func whole(db float64) int64 {
	const most = 60
	return int64(math.Round(min(max(db, -most), most) * 1e4))
}

// weigh gives the weighted sum of the squares of differences.
func weigh(differences []int64) int64 {
	var sum int64
	for i, difference := range differences {
		sum += fitWeights[i] * difference * difference
	}
	return sum
}

func (f *fitter) report(s solution) Fit {
	fit := Fit{Bands: make([]Band, len(f.slots)), Used: make([]bool, len(f.slots))}
	curve := make([]float64, len(f.target))
	var shape Shape
	for slot, at := range s.at {
		fit.Bands[slot] = f.bandAt(slot, at)
		fit.Used[slot] = !at.off && !(fit.Bands[slot].Kind.HasGain() && fit.Bands[slot].Gain == 0)
		if fit.Used[slot] {
			shape.Bands = append(shape.Bands, fit.Bands[slot])
		}
	}
	f.grid.Curve(curve, f.desk, shape)
	fit.Error, fit.Largest, fit.At = Apart(curve, f.target)
	return fit
}

// Apart says how far a curve over [FitGrid] is from a target: the weighted mean and the
// largest difference in dB, and where in Hz that is.
func Apart(curve, target []float64) (mean, largest, at float64) {
	var sum, weights float64
	for i, hz := range fitPoints {
		difference := curve[i] - target[i]
		weight := float64(fitWeights[i])
		sum, weights = sum+weight*difference*difference, weights+weight
		if math.Abs(difference) > math.Abs(largest) {
			largest, at = difference, hz
		}
	}
	return math.Sqrt(sum / weights), largest, at
}

// least gives the guesses that leave the least of the target, best first.
func least(guesses []guess, n int) []guess {
	slices.SortStableFunc(guesses, func(a, b guess) int { return cmp.Compare(a.left, b.left) })
	return guesses[:min(n, len(guesses))]
}
