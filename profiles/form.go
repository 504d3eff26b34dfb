package profiles

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"deskhand/osc"
)

// form is how the steps of a control stand on the wire.
type form interface {
	// wire gives the argument for a step.
	wire(c Curve, step int) any
	// step gives the step that an argument means, not rounded to a whole one: what
	// is beyond the ends is below 0 or above the last step.
	step(c Curve, argument any) (float64, error)
}

// number is the type of a number on the wire.
type number uint8

const (
	float number = iota
	integer
	double
	long
)

var numberNames = []string{"float", "int", "double", "long"}

func (n number) whole() bool { return n == integer || n == long }

func (n number) argument(v float64) any {
	switch n {
	case integer:
		return int32(math.Round(v))
	case double:
		return v
	case long:
		return int64(math.Round(v))
	}
	return float32(v)
}

// travel is a number between low, at the first step, and high, at the last, which may
// be the other way round.
type travel struct {
	number
	low, high float64
}

func (t travel) wire(c Curve, step int) any {
	return t.argument(t.low + float64(step)/lastOf(c)*(t.high-t.low))
}

// step reads a number back. OSC's true and false are the greater and the lesser of the
// two numbers of a control that has only two positions.
func (t travel) step(c Curve, argument any) (float64, error) {
	if on, ok := argument.(bool); ok && c.Steps() == 2 {
		if on == (t.high > t.low) {
			return 1, nil
		}
		return 0, nil
	}
	v, err := finiteNumber(argument)
	if err != nil {
		return 0, err
	}
	return (v - t.low) / (t.high - t.low) * lastOf(c), nil
}

func lastOf(c Curve) float64 { return float64(max(c.Steps()-1, 1)) }

// figure is what a step is worth in the desk's own figures.
func figure(c Curve, step int) float64 {
	if n, ok := c.(numeric); ok {
		c = n.own()
	}
	v, _ := c.At(step).Number()
	return v
}

// inUnit is a number in the parameter's own unit, or in the desk's, with a number of its
// own for silence.
type inUnit struct {
	number
	silence float64
}

func (u inUnit) wire(c Curve, step int) any {
	v := figure(c, step)
	if math.IsInf(v, -1) {
		v = u.silence
	}
	return u.argument(v)
}

func (u inUnit) step(c Curve, argument any) (float64, error) {
	v, ok := osc.Number(argument)
	if !ok || math.IsNaN(v) {
		return 0, unfit(argument, "not a number")
	}
	return stepOfUnit(c, v, u.silence)
}

// stepOfUnit finds the step of a value in the desk's own figures. A value beyond the ends by less
// than half a step, as rounding on the wire makes it, is the end; one further out is
// beyond by one.
func stepOfUnit(c Curve, v, silence float64) (float64, error) {
	n, ok := c.(numeric)
	if !ok {
		return 0, fmt.Errorf("%v is no value of this control", v)
	}
	s := n.own()
	low, high := s.bounds()
	if v <= silence && math.IsInf(low, -1) {
		v = math.Inf(-1)
	}
	switch {
	case v > high && v-high > s.apart(high)/2:
		return beyond(s, high), nil
	case v < low && low-v > s.apart(low)/2:
		return beyond(s, low), nil
	}
	step, err := s.Step(Number(min(max(v, low), high)))
	return float64(step), err
}

// apart is how far the end of a scale is from its neighbour on the grid.
func (s scale) apart(end float64) float64 {
	first, last := s.At(s.first()), s.At(s.steps-1)
	at := s.steps - 1
	neighbour := at - 1
	if n, _ := first.Number(); n == end {
		at, neighbour = s.first(), s.first()+1
	} else if n, _ := last.Number(); n != end {
		return 0
	}
	x, _ := s.At(at).Number()
	y, _ := s.At(neighbour).Number()
	return math.Abs(x - y)
}

func beyond(s scale, end float64) float64 {
	if n, _ := s.At(s.steps - 1).Number(); n == end {
		return float64(s.steps)
	}
	return -1
}

// boolean is OSC's true and false for a switch, the wrong way round if inverted.
type boolean struct{ inverted bool }

func (b boolean) wire(_ Curve, step int) any { return (step == 1) != b.inverted }

func (b boolean) step(_ Curve, argument any) (float64, error) {
	on, ok := argument.(bool)
	if !ok {
		n, err := finiteNumber(argument)
		if err != nil || (n != 0 && n != 1) {
			return 0, unfit(argument, "neither true nor false")
		}
		on = n == 1
	}
	if on != b.inverted {
		return 1, nil
	}
	return 0, nil
}

// words are texts on the wire, one for each step.
type words []string

func (w words) wire(_ Curve, step int) any { return w[step] }

func (w words) step(_ Curve, argument any) (float64, error) {
	given, ok := wireText(argument)
	for i, word := range w {
		if ok && word == given {
			return float64(i), nil
		}
	}
	return 0, unfit(argument, "none of the desk's words")
}

// written is a number in the desk's own figures as a text, such as "-6.0 dB".
type written struct {
	decimals      int
	before, after string
	silence       string
}

func (w written) wire(c Curve, step int) any {
	v := figure(c, step)
	if math.IsInf(v, -1) {
		return w.silence
	}
	return w.before + strconv.FormatFloat(v, 'f', w.decimals, 64) + w.after
}

func (w written) step(c Curve, argument any) (float64, error) {
	given, ok := wireText(argument)
	if !ok {
		return 0, unfit(argument, "not a text")
	}
	if w.silence != "" && given == w.silence {
		return stepOfUnit(c, math.Inf(-1), math.Inf(-1))
	}
	v, err := strconv.ParseFloat(w.figure(given), 64)
	if err != nil || math.IsNaN(v) {
		return 0, fmt.Errorf("%q is not a number as %q", given, w.before+"0"+w.after)
	}
	return stepOfUnit(c, v, math.Inf(-1))
}

// figure is the number in a text, whatever spaces a desk writes around it.
func (w written) figure(text string) string {
	text = strings.TrimPrefix(strings.TrimSpace(text), strings.TrimSpace(w.before))
	return strings.TrimSpace(strings.TrimSuffix(text, strings.TrimSpace(w.after)))
}

// finiteNumber takes a number that is one.
func finiteNumber(argument any) (float64, error) {
	v, ok := osc.Number(argument)
	if !ok {
		return 0, unfit(argument, "not a number")
	}
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%v is not a number", v)
	}
	return v, nil
}

// unfit is the error of an argument that can't be what is wanted. It says of which kind it is and not what it holds, as
// that may be long.
func unfit(argument any, wanted string) error { return fmt.Errorf("%T is %s", argument, wanted) }

// wireText takes a text of either of OSC's types, as much of it as a desk may hold, with what can't be shown replaced.
func wireText(argument any) (string, bool) {
	text, ok := osc.Text(argument)
	return printable(text[:min(len(text), maxTextLength)]), ok
}
