package desk

import (
	"math"
	"reflect"
	"strings"

	"deskhand/osc"
	"deskhand/profiles"
)

// gauge measures values of one parameter as they stand on the wire, in steps of the
// profile: 2.5 is halfway between the third step and the fourth.
type gauge struct {
	profile *profiles.Profile
	q       profiles.Parameter
	control *profiles.Control
	steps   int // 0 for a text
	// toldAt and answeredAt are the places of the value among a message's arguments.
	toldAt, answeredAt int
	// numeric says that the values are numbers on the wire.
	numeric bool
}

// newGauge gives false for what has one value only, or is not told and asked over OSC.
func newGauge(p *profiles.Profile, q profiles.Parameter) (gauge, bool) {
	control, ok := p.Control(q)
	if !ok || !p.Askable(q) || control.Reach() != profiles.OverOSC {
		return gauge{}, false
	}
	g := gauge{profile: p, q: q, control: control, steps: control.Curve.Steps()}
	if g.steps == 1 {
		return gauge{}, false
	}
	a, b := g.value(0), g.value(1)
	if g.steps == 0 {
		a, b = profiles.Word("a"), profiles.Word("b")
	}
	toldA, errA := g.tell(a, nil)
	toldB, errB := g.tell(b, nil)
	answeredA, errC := g.answer(a)
	answeredB, errD := g.answer(b)
	if errA != nil || errB != nil || errC != nil || errD != nil {
		return gauge{}, false
	}
	g.toldAt, g.answeredAt = differAt(toldA, toldB), differAt(answeredA, answeredB)
	if g.toldAt < 0 || g.answeredAt < 0 {
		return gauge{}, false
	}
	_, numberTold := osc.Number(toldA.Arguments[g.toldAt])
	_, numberAnswered := osc.Number(answeredA.Arguments[g.answeredAt])
	g.numeric = g.steps > 1 && numberTold && numberAnswered
	return g, true
}

// isNumber tells a number from a switch, a choice and a text.
func (g gauge) isNumber() bool {
	kind := g.control.Spec.Kind
	return kind == profiles.Quantity || kind == profiles.Level
}

func (g gauge) value(step int) profiles.Value { return g.control.Curve.At(step) }

// tell is the message that sets a value; what goes with it is as heard, or as after
// switching on.
func (g gauge) tell(v profiles.Value, heard map[profiles.Parameter]profiles.Value) (osc.Message, error) {
	tellings, err := g.profile.Tell([]profiles.Setting{{Parameter: g.q, Value: v}}, g.holding(v, heard))
	if err != nil {
		return osc.Message{}, err
	}
	return tellings[0].Message, nil
}

func (g gauge) answer(v profiles.Value) (osc.Message, error) {
	return g.profile.Answer(g.q, g.holding(v, nil))
}

func (g gauge) holding(v profiles.Value, heard map[profiles.Parameter]profiles.Value) func(profiles.Parameter) (profiles.Value, bool) {
	return func(other profiles.Parameter) (profiles.Value, bool) {
		if other == g.q {
			return v, true
		}
		if held, ok := heard[other]; ok {
			return held, true
		}
		control, ok := g.profile.Control(other)
		if !ok {
			return profiles.Value{}, false
		}
		return control.Start, true
	}
}

// differAt is the one argument in which two messages differ, or -1.
func differAt(a, b osc.Message) int {
	for i := range min(len(a.Arguments), len(b.Arguments)) {
		if !reflect.DeepEqual(a.Arguments[i], b.Arguments[i]) {
			return i
		}
	}
	return -1
}

// raw is the parameter's argument in an answer.
func (g gauge) raw(h osc.Heard) (any, bool) {
	if g.answeredAt >= len(h.Arguments) {
		return nil, false
	}
	return h.Arguments[g.answeredAt], true
}

// wire is the argument for a whole step.
func (g gauge) wire(step int) float64 {
	m, err := g.tell(g.value(step), nil)
	if err != nil {
		return math.NaN()
	}
	n, _ := osc.Number(m.Arguments[g.toldAt])
	return n
}

// position measures an argument. What is no number gives NaN, but for OSC's true and
// false, the greater and the lesser of two.
func (g gauge) position(argument any) float64 {
	n, ok := osc.Number(argument)
	if on, isBool := argument.(bool); isBool && g.steps == 2 {
		return g.switched(on)
	}
	if !ok || !g.numeric || math.IsNaN(n) || math.IsInf(n, 0) {
		return math.NaN()
	}
	rising := g.wire(g.steps-1) > g.wire(0)
	low, high := 0, g.steps-1
	for high-low > 1 {
		middle := (low + high) / 2
		if (g.wire(middle) <= n) == rising {
			low = middle
		} else {
			high = middle
		}
	}
	from, to := g.wire(low), g.wire(high)
	return float64(low) + (n-from)/(to-from)
}

// switched is the step that OSC's true and false mean.
func (g gauge) switched(on bool) float64 {
	m, err := g.tell(g.value(1), nil)
	if err != nil {
		return math.NaN()
	}
	upper, isBool := m.Arguments[g.toldAt].(bool)
	if !isBool {
		upper = g.wire(1) > g.wire(0)
	}
	if on == upper {
		return 1
	}
	return 0
}

// argument is what to send for a place between two steps; where the wire has nothing
// between them, it is one of them. It gives the place that it is.
func (g gauge) argument(at float64) (any, float64) {
	low := min(max(int(math.Floor(at)), 0), g.steps-1)
	m, err := g.tell(g.value(low), nil)
	if err != nil {
		return nil, math.NaN()
	}
	template := m.Arguments[g.toldAt]
	if !g.numeric || at == math.Floor(at) || low == g.steps-1 {
		return template, float64(low)
	}
	from, to := g.wire(low), g.wire(low+1)
	argument := like(template, from+(at-float64(low))*(to-from))
	return argument, g.position(argument)
}

// like gives a raw value in the type of an argument that the desk takes, or that
// argument where it can't.
func like(template, raw any) any {
	n, isNumber := osc.Number(raw)
	fits := func(most float64) bool { return isNumber && math.Abs(n) <= most } // not so with NaN
	switch template.(type) {
	case float32:
		if isNumber {
			return float32(n)
		}
	case float64:
		if isNumber {
			return n
		}
	case int32:
		if fits(math.MaxInt32) {
			return int32(math.Round(n))
		}
	case int64:
		if fits(1 << 53) {
			return int64(math.Round(n))
		}
	case bool:
		if on, ok := raw.(bool); ok {
			return on
		}
	case string:
		if text, ok := raw.(string); ok && !strings.ContainsRune(text, 0) {
			return text
		}
		if text, ok := raw.(osc.Symbol); ok && !strings.ContainsRune(string(text), 0) {
			return string(text)
		}
	}
	return template
}

// offGrid is how far an argument is from the nearest step of the profile, 0 to 0.5; 0
// where that can't be told.
func (g gauge) offGrid(argument any) float64 {
	at := g.position(argument)
	if math.IsNaN(at) {
		return 0
	}
	return math.Abs(at - math.Round(at))
}

// same reports whether two raw values are the same one.
func same(g gauge, a, b any) bool {
	if x, y := g.position(a), g.position(b); !math.IsNaN(x) && !math.IsNaN(y) {
		return math.Abs(x-y) < sameStep
	}
	x, isText := osc.Text(a)
	y, areTexts := osc.Text(b)
	if isText && areTexts {
		return x == y
	}
	return a != nil && reflect.DeepEqual(a, b)
}

// sameStep is how close two raw numbers are, in steps of the profile, that are the same
// value in two types of number.
const sameStep = 0.01

// differs reports whether two raw values are so far apart that any desk would show it.
func differs(g gauge, a, b any) bool {
	x, y := g.position(a), g.position(b)
	if math.IsNaN(x) || math.IsNaN(y) {
		return !same(g, a, b)
	}
	return math.Abs(x-y) > 0.6
}
