package profiles

import (
	"fmt"
	"math"
	"strconv"
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
	// InOctaves says that the desk counts the width of a bell in octaves. Its values are Q
	// all the same: octaves are in the profile, on the desk's own display and on the wire.
	InOctaves bool
	// Hand says what a hand has to do, for a parameter that only a hand can move:
	// "turn the gain knob".
	Hand string
	// Bank is how many channels in a row a hand's switch is for, 1 for a switch each.
	Bank int

	reach Reach
	form  form
}

// Nearest gives the value on the desk's grid that is nearest to v: what the desk
// will hold after v was sent. Nearest is meant in travel of the control, not in the
// unit. The error says why the desk can't take v.
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

// Takes says why the desk can't take v, as [Control.Nearest] does; nil if it can.
func (c *Control) Takes(v Value) error {
	_, err := c.Curve.Step(v)
	return err
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
	s, isNumeric := c.Curve.(numeric)
	if !isNumber || !isNumeric || !s.outside(n) {
		return v, 0
	}
	low, high := s.bounds()
	fits := min(max(n, low), high)
	return Number(fits), fits - n
}

// Tidy gives the number with the fewest figures that falls on the same step as v,
// for a file that people read: 2500 rather than 2483.702, but not 20 rather than 18. A
// level is given to a tenth of a dB at least. Other values stay.
func (c *Control) Tidy(v Value) Value {
	n, ok := v.Number()
	step, err := c.Curve.Step(v)
	if !ok || err != nil || math.IsInf(n, 0) {
		return v
	}
	if c.reach == Fixed {
		return c.Start
	}
	format := byte('g') // counts significant figures
	if c.Spec.Unit == Decibel {
		format = 'f' // counts decimals
	}
	for figures := 1; figures < 17; figures++ {
		// A number that doesn't parse back has overflowed, and falls on no step.
		short, _ := strconv.ParseFloat(strconv.FormatFloat(n, format, figures, 64), 64)
		near := math.Abs(short-n) <= tidyWithin*math.Abs(n) || c.Spec.Unit == Decibel
		if s, err := c.Curve.Step(Number(short)); err == nil && s == step && near {
			return Number(short)
		}
	}
	return v
}

// tidyWithin is how far from the value a tidy number may be, as a part of it: less than
// anybody hears or would read as another setting.
const tidyWithin = 0.01

// wire gives the argument that sets v, and the value that the desk will then hold.
func (c *Control) wire(v Value) (any, Value, error) {
	step, err := c.Curve.Step(v)
	if err != nil {
		return nil, Value{}, err
	}
	if t, ok := c.Curve.(text); ok {
		held := t.cut(v.word)
		return held, Word(held), nil
	}
	return c.form.wire(c.Curve, step), c.Curve.At(step), nil
}

// read turns an argument into the value on the grid that it means. With clamp, a
// number beyond the ends means the end; without, it is an error.
func (c *Control) read(argument any, clamp bool) (Value, error) {
	if t, ok := c.Curve.(text); ok {
		word, ok := wireText(argument)
		if !ok {
			return Value{}, unfit(argument, "not a text")
		}
		return Word(t.cut(word)), nil
	}
	along, err := c.form.step(c.Curve, argument)
	if err != nil {
		return Value{}, err
	}
	last := float64(c.Curve.Steps() - 1)
	step := math.Round(along)
	if (step < 0 || step > last) && !clamp {
		return Value{}, fmt.Errorf("%v is beyond the ends of the control", argument)
	}
	return c.Curve.At(int(min(max(step, 0), last))), nil
}

// Reach says how a parameter can be reached.
type Reach uint8

// A parameter over OSC can be told and asked, TellOnly only told. ByHand is moved by a
// hand at the desk, and Fixed by nobody.
const (
	OverOSC Reach = iota
	TellOnly
	ByHand
	Fixed
)

// Reach says how the parameter can be reached.
func (c *Control) Reach() Reach { return c.reach }
