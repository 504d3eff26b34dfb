package profiles

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"deskhand/profiles/source"
)

// Curve is the grid of one parameter on one desk: which values it can take, in
// order. Two values are equal when they fall on the same step.
type Curve interface {
	// Steps is the number of steps. Text has no grid: 0.
	Steps() int
	// At gives the value of a step in 0..Steps-1.
	At(step int) Value
	// Step gives the step nearest to v. The error says what is wrong with v:
	// another kind of value, or one beyond the desk's range.
	Step(v Value) (int, error)
}

// shape is the line of a numeric curve: position 0..1 along the control's travel
// to a value in trade units, and back. Both are strictly monotone.
type shape interface {
	value(position float64) float64
	position(value float64) float64
	// ends gives the values at position 0 and 1.
	ends() (low, high float64)
}

// scale is a shape cut into equal steps of travel.
type scale struct {
	shape
	steps int
	// silence says that the bottom step is no sound at all and that the shape
	// covers the steps above it.
	silence bool
	unit    Unit
}

func (s scale) Steps() int { return s.steps }

func (s scale) bottom() int {
	if s.silence {
		return 1
	}
	return 0
}

func (s scale) At(step int) Value {
	if s.silence && step <= 0 {
		return Silence
	}
	last := s.steps - 1 - s.bottom()
	return Number(s.value(float64(step-s.bottom()) / float64(last)))
}

func (s scale) Step(v Value) (int, error) {
	n, ok := v.Number()
	if !ok {
		return 0, fmt.Errorf("%s is not a number", v)
	}
	low, high := s.ends()
	if math.IsInf(n, -1) && s.silence {
		return 0, nil
	}
	if outside(n, min(low, high), max(low, high), s.silence) {
		return 0, fmt.Errorf("%s is out of the desk's range, %s", sayNumber(n, s.unit, 0), s.sayRange())
	}
	last := float64(s.steps - 1 - s.bottom())
	position := min(max(s.position(n), 0), 1)
	return s.bottom() + int(math.Round(position*last)), nil
}

// outside tells whether n is beyond the range by more than a rounding of floats.
func outside(n, low, high float64, silence bool) bool {
	slack := 1e-9 * max(math.Abs(low), math.Abs(high), 1)
	if math.IsInf(low, -1) {
		slack = 1e-9 * max(math.Abs(high), 1)
	}
	return math.IsNaN(n) || n > high+slack || (!silence && n < low-slack)
}

func (s scale) sayRange() string {
	low, high := s.ends()
	text := sayNumber(low, s.unit, 0) + " to " + sayNumber(high, s.unit, 0)
	if s.silence {
		text = "-inf, " + text
	}
	return text
}

// linear has equal steps in the parameter's unit.
type linear struct{ from, to float64 }

func (l linear) value(p float64) float64    { return l.from + p*(l.to-l.from) }
func (l linear) position(v float64) float64 { return (v - l.from) / (l.to - l.from) }
func (l linear) ends() (float64, float64)   { return l.from, l.to }

// logarithmic has equal steps in the logarithm of the value, as pitch is heard.
// Both ends are above zero.
type logarithmic struct{ from, to float64 }

func (l logarithmic) value(p float64) float64 { return l.from * math.Pow(l.to/l.from, p) }
func (l logarithmic) position(v float64) float64 {
	return math.Log(v/l.from) / math.Log(l.to/l.from)
}
func (l logarithmic) ends() (float64, float64) { return l.from, l.to }

// power is a linear curve of the position raised to an exponent above zero:
// above 1, the steps are finer at the start.
type power struct{ from, to, exponent float64 }

func (c power) value(p float64) float64 { return c.from + (c.to-c.from)*math.Pow(p, c.exponent) }
func (c power) position(v float64) float64 {
	return math.Pow(max((v-c.from)/(c.to-c.from), 0), 1/c.exponent)
}
func (c power) ends() (float64, float64) { return c.from, c.to }

// point is one point of a table: a position of travel and the value there.
type point struct{ position, value float64 }

// table runs straight between points, the first at position 0 and the last at 1.
// Where its first value is -inf, the first stretch is straight in amplitude, since
// no line in dB starts at silence.
type table []point

func (t table) value(p float64) float64 {
	i := t.stretch(func(q point) bool { return q.position >= p })
	a, b := t[i], t[i+1]
	along := (p - a.position) / (b.position - a.position)
	if math.IsInf(a.value, -1) {
		if along <= 0 {
			return a.value
		}
		return b.value + 20*math.Log10(along)
	}
	return a.value + along*(b.value-a.value)
}

func (t table) position(v float64) float64 {
	rising := t[len(t)-1].value > t[0].value
	i := t.stretch(func(q point) bool { return q.value == v || (q.value > v) == rising })
	a, b := t[i], t[i+1]
	along := 0.0
	if math.IsInf(a.value, -1) {
		along = math.Pow(10, (v-b.value)/20)
	} else {
		along = (v - a.value) / (b.value - a.value)
	}
	return a.position + along*(b.position-a.position)
}

// stretch finds the stretch between two points that ends at the first point for
// which reached is true.
func (t table) stretch(reached func(point) bool) int {
	i := slices.IndexFunc(t, reached)
	if i < 0 {
		i = len(t) - 1
	}
	return min(max(i, 1), len(t)-1) - 1
}

func (t table) ends() (float64, float64) { return t[0].value, t[len(t)-1].value }

// toggle has two steps, off and on.
type toggle struct{}

func (toggle) Steps() int        { return 2 }
func (toggle) At(step int) Value { return Switch(step == 1) }

func (toggle) Step(v Value) (int, error) {
	on, ok := v.On()
	switch {
	case !ok:
		return 0, fmt.Errorf("%s is not a switch: write true or false", v)
	case on:
		return 1, nil
	}
	return 0, nil
}

// choice has a step for each word, in the desk's order.
type choice []string

func (c choice) Steps() int        { return len(c) }
func (c choice) At(step int) Value { return Word(c[step]) }

func (c choice) Step(v Value) (int, error) {
	word, ok := v.Word()
	if !ok {
		return 0, fmt.Errorf("%s is not one of the desk's choices%s", v, source.DidYouMean("", c))
	}
	step := slices.Index(c, word)
	if step < 0 {
		return 0, fmt.Errorf("%q is not one of the desk's choices%s", word, source.DidYouMean(word, c))
	}
	return step, nil
}

// text is free text of at most so many bytes.
type text int

func (text) Steps() int   { return 0 }
func (text) At(int) Value { return Word("") }

func (text) Step(v Value) (int, error) {
	word, ok := v.Word()
	if !ok {
		return 0, fmt.Errorf("%s is not a text: write it in quotes", v)
	}
	if i := strings.IndexFunc(word, func(r rune) bool { return r < ' ' || r == 0x7f }); i >= 0 {
		return 0, fmt.Errorf("%q has a control character in it", word)
	}
	return 0, nil
}

// cut gives as much of the text as the desk holds, whole characters only.
func (t text) cut(word string) string {
	if len(word) <= int(t) {
		return word
	}
	end := 0
	for i := range word {
		if i > int(t) {
			break
		}
		end = i
	}
	return strings.TrimRight(word[:end], " ")
}
