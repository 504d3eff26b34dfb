package profiles

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Control is one parameter as one desk has it: what the trade knows of it, the
// desk's own grid, and how a value stands on the wire.
type Control struct {
	Spec  Spec
	Curve Curve
	// Settle is how long the desk needs after a change before the next step of a
	// recall is safe, as after phantom power.
	Settle time.Duration
	// Start is what the desk holds when it is switched on, on its grid.
	Start Value

	form form
	line int
}

// Nearest gives the value on the desk's grid that is nearest to v: what the desk
// will hold after v was sent. The error says why the desk can't take v.
func (c *Control) Nearest(v Value) (Value, error) {
	step, err := c.Curve.Step(v)
	if err != nil {
		return Value{}, err
	}
	if t, ok := c.Curve.(text); ok {
		return Word(t.cut(v.word)), nil
	}
	return c.Curve.At(step), nil
}

// Same reports whether a and b fall on the same step of the desk's grid. A value
// that the desk can't take, and no value, are the same as nothing.
func (c *Control) Same(a, b Value) bool {
	x, errX := c.Nearest(a)
	y, errY := c.Nearest(b)
	return errX == nil && errY == nil && x == y
}

// Within gives v moved into the desk's range, and by how much it was moved in the
// parameter's unit: 0 where it fits already. Only numbers can be moved.
func (c *Control) Within(v Value) (Value, float64) {
	n, isNumber := v.Number()
	s, isScale := c.Curve.(scale)
	if !isNumber || !isScale {
		return v, 0
	}
	low, high := s.ends()
	fits := min(max(n, min(low, high)), max(low, high))
	if fits == n || (s.silence && math.IsInf(n, -1)) {
		return v, 0
	}
	return Number(fits), fits - n
}

// Tidy gives the number with the fewest figures that falls on the same step as v,
// for a file that people read: 2500 rather than 2511.886. Other values stay.
func (c *Control) Tidy(v Value) Value {
	n, ok := v.Number()
	if !ok || math.IsInf(n, 0) {
		return v
	}
	step, err := c.Curve.Step(v)
	if err != nil {
		return v
	}
	for figures := firstFigures(c.Spec.Unit, n); figures < 17; figures++ {
		short, err := strconv.ParseFloat(strconv.FormatFloat(n, 'g', figures, 64), 64)
		if err != nil {
			continue
		}
		if s, err := c.Curve.Step(Number(short)); err == nil && s == step {
			return Number(short)
		}
	}
	return v
}

// firstFigures is how many figures people expect at least: a level to a tenth of
// a dB, everything else to three figures.
func firstFigures(unit Unit, n float64) int {
	if unit != Decibel {
		return 3
	}
	whole := strings.TrimLeft(strconv.FormatFloat(math.Abs(n), 'f', 0, 64), "0")
	return max(len(whole), 0) + 1
}

// wire gives the argument that sets v, and the value the desk will then hold.
func (c *Control) wire(v Value) (any, Value, error) {
	held, err := c.Nearest(v)
	if err != nil {
		return nil, Value{}, err
	}
	if _, ok := c.Curve.(text); ok {
		return held.word, held, nil
	}
	step, err := c.Curve.Step(held)
	if err != nil {
		return nil, Value{}, err
	}
	return c.form.wire(c.positionOf(step)), held, nil
}

// read turns an argument into the value on the grid that it means. With clamp, a
// number beyond the ends means the end; without, it is an error.
func (c *Control) read(argument any, clamp bool) (Value, error) {
	if t, ok := c.Curve.(text); ok {
		word, ok := argument.(string)
		if !ok {
			return Value{}, fmt.Errorf("%v (%T) is not a text", argument, argument)
		}
		return Word(t.cut(strings.ToValidUTF8(word, "\uFFFD"))), nil
	}
	position, err := c.form.position(argument)
	if err != nil {
		return Value{}, err
	}
	last := float64(c.Curve.Steps() - 1)
	step := math.Round(position * last)
	if (step < 0 || step > last) && !clamp {
		return Value{}, fmt.Errorf("%v is beyond the ends of the control", argument)
	}
	return c.Curve.At(int(min(max(step, 0), last))), nil
}

func (c *Control) positionOf(step int) float64 {
	return float64(step) / float64(c.Curve.Steps()-1)
}
