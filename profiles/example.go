package profiles

import "deskhand/osc"

// Example is a parameter with a value of its desk, and the messages about that, to be
// held against the desk's own document. A message without an address is one that the
// desk has not.
type Example struct {
	Value Value
	// Tell sets the value, Ask asks for it, and Answer is how the desk would report it.
	Tell, Ask, Answer osc.Message
}

// exampleText is short enough for any desk's label.
const exampleText = "Poet"

// Example gives an example of a parameter: a value three quarters up its travel, a
// switch that is on, the second of its words. What else is in its messages is as after
// switching on. It gives false for what OSC does not reach.
func (p *Profile) Example(q Parameter) (Example, bool) {
	e, ok := p.entries[q]
	if !ok || e.unit == nil {
		return Example{}, false
	}
	x := Example{Value: e.control.example()}
	holds := func(other Parameter) (Value, bool) {
		if other == q {
			return x.Value, true
		}
		return p.entries[other].control.Start, true
	}
	tellings, err := p.Tell([]Setting{{q, x.Value}}, holds)
	if err != nil || len(tellings) != 1 {
		return Example{}, false
	}
	x.Tell = tellings[0].Message
	if questions := p.Ask([]Parameter{q}); len(questions) == 1 {
		x.Ask = questions[0].Message
		if x.Answer, err = p.Answer(q, holds); err != nil {
			return Example{}, false
		}
	}
	return x, true
}

// example is a value that shows how the control stands on the wire: no end of it.
func (c *Control) example() Value {
	steps := c.Curve.Steps()
	switch c.Spec.Kind {
	case Text:
		v, _ := c.Nearest(Word(exampleText))
		return v
	case Choice, Toggle:
		return c.Curve.At(min(1, steps-1))
	}
	return c.Curve.At((steps - 1) * 3 / 4)
}
