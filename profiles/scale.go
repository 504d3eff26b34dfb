package profiles

import (
	"fmt"
	"math"
)

// scale is a shape cut into equal steps of travel.
type scale struct {
	shape
	steps int
	// silence says that the bottom step is no sound at all and that the shape
	// covers the steps above it.
	silence bool
	unit    Unit
	// grid has the values of all steps, where they are not too many: to look one up is
	// much quicker than to work it out.
	grid []float64
}

// maxGrid bounds the steps of which the values are kept.
const maxGrid = 1 << 13

// laidOut is the scale with its grid.
func (s scale) laidOut() scale {
	if s.steps > maxGrid {
		return s
	}
	grid := make([]float64, s.steps)
	for step := range grid {
		grid[step], _ = s.At(step).Number()
	}
	s.grid = grid
	return s
}

func (s scale) Steps() int { return s.steps }

// first is the lowest step of the shape.
func (s scale) first() int {
	if s.silence {
		return 1
	}
	return 0
}

// along is how far along the shape a step stands, 0..1.
func (s scale) along(step int) float64 {
	return float64(step-s.first()) / float64(s.steps-1-s.first())
}

func (s scale) At(step int) Value {
	if s.grid != nil {
		return Number(s.grid[step])
	}
	from, to := s.ends()
	switch {
	case step < s.first():
		return Silence
	case step == s.first():
		return Number(from)
	case step == s.steps-1:
		return Number(to)
	}
	v := s.value(s.along(step))
	return Number(decimal(v, s.value(s.along(step+1))-v))
}

// decimal rounds v, whose neighbour on the grid is a distance away, to a millionth
// of the distance or finer: all the decimals that the grid needs, and none that
// floating point adds (28.5, not 28.499999999999996).
func decimal(v, distance float64) float64 {
	places := 6 - math.Floor(math.Log10(math.Abs(distance)))
	if !(places <= 22) { // the largest power of ten that a float64 holds exactly; also no number at all
		return v
	}
	unit := math.Pow10(int(max(places, 0)))
	return math.Round(v*unit) / unit
}

// Step finds the nearest step in travel, as the desk itself does: halfway between
// two steps of a logarithmic curve is their geometric mean.
func (s scale) Step(v Value) (int, error) {
	n, ok := v.Number()
	if !ok {
		return 0, fmt.Errorf("%s is not a number", v)
	}
	if s.outside(n) {
		return 0, fmt.Errorf("%s is out of the desk's range, %s", sayNumber(n, s.unit, 0), s.sayRange())
	}
	if from, _ := s.ends(); s.silence && n < from {
		// Silence has no place in dB: between it and the lowest sound the nearer one in
		// amplitude counts, which is 6 dB below that.
		return int(math.Round(math.Pow(10, (n-from)/20))), nil
	}
	along := min(max(s.position(n), 0), 1)
	return s.first() + int(math.Round(along*float64(s.steps-1-s.first()))), nil
}

// bounds gives the lowest and the highest value that the desk takes.
func (s scale) bounds() (low, high float64) {
	from, to := s.ends()
	if s.silence {
		from = math.Inf(-1)
	}
	return min(from, to), max(from, to)
}

// outside tells whether n is beyond the range by more than a rounding of floats.
func (s scale) outside(n float64) bool {
	low, high := s.bounds()
	slack := 1e-9 * (high - low)
	if math.IsInf(low, -1) {
		slack = 1e-9
	}
	return n > high+slack || n < low-slack
}

func (s scale) sayRange() string {
	low, high := s.ends()
	text := sayNumber(low, s.unit, 0) + " to " + sayNumber(high, s.unit, 0)
	if s.silence {
		text = "-inf, " + text
	}
	return text
}

// check walks the whole grid. The error names the first step that does not lead back
// to itself, as happens where a range has more steps than numbers can tell apart.
func (s scale) check() error {
	for step := range s.steps {
		if back, err := s.Step(s.At(step)); err != nil || back != step {
			return fmt.Errorf("step %d of %d can't be told from its neighbour: that is too many steps for such a curve", step, s.steps)
		}
	}
	return nil
}
