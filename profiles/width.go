package profiles

import (
	"fmt"
	"math"
)

// QOfOctaves gives the Q of a bell that is so many octaves wide, above 0:
// 2^(N/2) / (2^N - 1), as an analogue filter has it (R. Bristow-Johnson, Audio EQ
// Cookbook). It is worked out as 1 / (2 sinh(N ln 2 / 2)), which is the same and exact
// for narrow bells, too.
func QOfOctaves(octaves float64) float64 { return 1 / (2 * math.Sinh(octaves*math.Ln2/2)) }

// OctavesOfQ gives the width in octaves of a bell of the Q, above 0. It is the inverse
// of [QOfOctaves].
func OctavesOfQ(q float64) float64 { return 2 / math.Ln2 * math.Asinh(1/(2*q)) }

// numeric is a curve of numbers.
type numeric interface {
	Curve
	// own is the grid in the desk's own figures, as the desk shows them, the profile
	// writes them, and the wire carries them where it carries the unit.
	own() scale
	// bounds gives the lowest and the highest value that the desk takes.
	bounds() (low, high float64)
	// outside tells whether a number is beyond the range by more than a rounding.
	outside(n float64) bool
}

func (s scale) own() scale { return s }

// width is the curve of a width that the desk counts in octaves, whose values are Q: a
// Q falls as the octaves rise. Nearest is meant in the travel of the desk's control, as
// everywhere.
type width struct {
	octaves scale
	// low and high are the values of the ends, as they are rounded.
	low, high float64
}

func newWidth(octaves scale) width {
	w := width{octaves: octaves}
	first, _ := w.At(0).Number()
	last, _ := w.At(octaves.steps - 1).Number()
	w.low, w.high = min(first, last), max(first, last)
	return w
}

func (w width) own() scale { return w.octaves }
func (w width) Steps() int { return w.octaves.steps }

// At rounds a Q to a millionth of the distance to its neighbour or finer, so that it is
// the same on every processor.
func (w width) At(step int) Value {
	neighbour := step + 1
	if neighbour == w.octaves.steps {
		neighbour = step - 1
	}
	q := w.q(step)
	return Number(decimal(q, w.q(neighbour)-q))
}

func (w width) q(step int) float64 {
	n, _ := w.octaves.At(step).Number()
	return QOfOctaves(n)
}

func (w width) Step(v Value) (int, error) {
	q, ok := v.Number()
	if !ok {
		return 0, fmt.Errorf("%s is not a number", v)
	}
	if w.outside(q) {
		return 0, fmt.Errorf("%s is out of the desk's range, %s to %s", sayNumber(q, Quality, 0), sayNumber(w.low, Quality, 0), sayNumber(w.high, Quality, 0))
	}
	narrowest, widest := w.octaves.bounds()
	return w.octaves.Step(Number(min(max(OctavesOfQ(q), narrowest), widest)))
}

func (w width) bounds() (low, high float64) { return w.low, w.high }

func (w width) outside(n float64) bool {
	slack := 1e-9 * (w.high - w.low)
	return n > w.high+slack || n < w.low-slack
}
