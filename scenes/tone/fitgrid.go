package tone

import (
	"cmp"
	"math"
	"slices"
)

// steps is where one band stands on its slot's grid.
type steps struct {
	kind               int
	frequency, gain, q int
	off                bool
}

// snap puts bands on the grid.
func (f *fitter) snap(bands []Band) []steps {
	all := make([]steps, len(f.slots))
	for slot, b := range bands {
		s := f.slots[slot]
		all[slot] = steps{
			kind:      max(slices.Index(s.Kinds, b.Kind), 0),
			frequency: nearest(s.Frequencies, b.Frequency, logDistance),
			gain:      nearest(s.Gains, b.Gain, distance),
			q:         nearest(s.Qs, b.Q, logDistance),
			off:       b.Frequency == 0,
		}
	}
	return all
}

func nearest(grid []float64, v float64, apart func(a, b float64) float64) int {
	best := 0
	for i := range grid {
		if cmp.Less(apart(grid[i], v), apart(grid[best], v)) {
			best = i
		}
	}
	return best
}

func distance(a, b float64) float64    { return math.Abs(a - b) }
func logDistance(a, b float64) float64 { return math.Abs(math.Log(a / b)) }

// solution is a setting of all slots on the grid, and its error in whole numbers.
type solution struct {
	at    []steps
	error int64
}

// isBetter reports whether a solution is nearer. Of two alike, the first stays.
func (s solution) isBetter(o solution) bool { return s.error < o.error }

// none uses no band.
func (f *fitter) none() solution {
	at := make([]steps, len(f.slots))
	for slot := range at {
		at[slot].off = true
	}
	return solution{at, weigh(f.micro)}
}

func (f *fitter) bandAt(slot int, at steps) Band {
	s := f.slots[slot]
	b := Band{Kind: s.Kinds[at.kind], Frequency: s.Frequencies[at.frequency]}
	if b.Kind.HasGain() && len(s.Gains) > 0 {
		b.Gain = s.Gains[at.gain]
	}
	if len(s.Qs) > 0 {
		b.Q = s.Qs[at.q]
	}
	return b
}

// descent is a search by steps of the grid. All sums are of whole numbers, so that it
// goes the same way on every machine.
type descent struct {
	*fitter
	at     []steps
	curves [][]int64 // of each slot alone
	left   []int64   // the target less all curves
	error  int64

	level []float64
	curve []int64 // of the step that is tried
	rest  []int64
}

// descend moves one band at a time by small steps, as long as that makes the error less.
func (f *fitter) descend(at []steps) solution {
	n := len(f.target)
	d := &descent{fitter: f, at: at, curves: make([][]int64, len(at)), left: slices.Clone(f.micro),
		level: make([]float64, n), curve: make([]int64, n), rest: make([]int64, n)}
	for slot := range at {
		d.curves[slot] = make([]int64, n)
		d.curveOf(d.curves[slot], slot, at[slot])
		for i, c := range d.curves[slot] {
			d.left[i] -= c
		}
	}
	d.error = weigh(d.left)
	for better := true; better; {
		better = false
		for slot := range d.slots {
			for d.stepOf(slot) {
				better = true
			}
		}
	}
	return solution{d.at, d.error}
}

func (d *descent) curveOf(curve []int64, slot int, at steps) {
	if at.off {
		clear(curve)
		return
	}
	d.one(d.level, d.bandAt(slot, at))
	for i, level := range d.level {
		curve[i] = whole(level)
	}
}

// strides are how far a control is moved at once, in steps of its grid.
var strides = []int{-8, -4, -2, -1, 0, 1, 2, 4, 8}

// stepOf moves one band to the best of the settings around it, and reports whether one
// was better.
func (d *descent) stepOf(slot int) bool {
	s, from := d.slots[slot], d.at[slot]
	if from.off {
		return false
	}
	best, bestError := from, d.error
	for _, frequency := range strides {
		for _, q := range strides {
			for _, gain := range strides {
				if abs(frequency)+abs(q)+abs(gain) > 8 || frequency != 0 && q != 0 && gain != 0 && abs(frequency)+abs(q)+abs(gain) > 3 {
					continue
				}
				to := from
				to.frequency, to.q, to.gain = from.frequency+frequency, from.q+q, from.gain+gain
				if !isStep(s.Frequencies, to.frequency) || len(s.Qs) > 0 && !isStep(s.Qs, to.q) || len(s.Gains) > 0 && !isStep(s.Gains, to.gain) {
					continue
				}
				if error := d.try(slot, to); error < bestError {
					best, bestError = to, error
				}
			}
		}
	}
	if bestError == d.error {
		return false
	}
	d.take(slot, best, bestError)
	return true
}

func isStep(grid []float64, step int) bool { return step >= 0 && step < len(grid) }

func abs(n int) int { return int(math.Abs(float64(n))) }

// try gives the error with one slot set otherwise.
func (d *descent) try(slot int, at steps) int64 {
	d.curveOf(d.curve, slot, at)
	for i, c := range d.curve {
		d.rest[i] = d.left[i] + d.curves[slot][i] - c
	}
	return weigh(d.rest)
}

func (d *descent) take(slot int, at steps, error int64) {
	d.try(slot, at)
	copy(d.curves[slot], d.curve)
	copy(d.left, d.rest)
	d.at[slot], d.error = at, error
}
