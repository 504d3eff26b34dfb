package profiles

import (
	"fmt"
	"slices"
	"time"

	"deskhand/osc"
)

// Setting is a value for a parameter.
type Setting struct {
	Parameter Parameter
	Value     Value
}

// Telling is one message that sets something, and what it sets.
type Telling struct {
	Message osc.Message
	// Settings are the values that it is sent for, as the desk will then hold them.
	Settings []Setting
}

// Tell gives the messages that set the values, in their order. Settings that the desk
// takes together go into one message, in the place of the first of them; what else is
// in that message is as the desk holds it, which the caller says, see Beside.
func (p *Profile) Tell(settings []Setting, holds func(Parameter) (Value, bool)) ([]Telling, error) {
	tellings, err := p.tellings(settings)
	if err != nil {
		return nil, err
	}
	told := make(map[Parameter]Value) // in earlier messages, of what is told together
	for i := range tellings {
		t := &tellings[i]
		u := p.entries[t.Settings[0].Parameter].unit
		now := func(q Parameter) (Value, bool) {
			if i := slices.IndexFunc(t.Settings, func(s Setting) bool { return s.Parameter == q }); i >= 0 {
				return t.Settings[i].Value, true
			}
			if v, ok := told[q]; ok {
				return v, true
			}
			if holds == nil {
				return Value{}, false
			}
			return holds(q)
		}
		if t.Message, err = p.message(u, u.tell, now); err != nil {
			return nil, err
		}
		if len(u.members) > 1 {
			for _, s := range t.Settings {
				told[s.Parameter] = s.Value
			}
		}
	}
	return tellings, nil
}

// Together sorts settings by the message that they go into, and puts their values on
// the desk's grid. The error names one that can't be told.
func (p *Profile) Together(settings []Setting) ([][]Setting, error) {
	tellings, err := p.tellings(settings)
	groups := make([][]Setting, len(tellings))
	for i, t := range tellings {
		groups[i] = t.Settings
	}
	return groups, err
}

// tellings sorts settings by the message that they go into, and puts their values on
// the desk's grid. Setting the same parameter again takes another message.
func (p *Profile) tellings(settings []Setting) ([]Telling, error) {
	tellings := make([]Telling, 0, len(settings))
	last := make(map[*unit]int)
	for _, s := range settings {
		e, ok := p.entries[s.Parameter]
		if !ok || e.unit == nil {
			return nil, fmt.Errorf("%s: %s has no such parameter, or none that OSC reaches", s.Parameter, p.Name)
		}
		held, err := e.control.Nearest(s.Value)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.Parameter, err)
		}
		at, begun := last[e.unit]
		if !begun || tellings[at].sets(s.Parameter) {
			at = len(tellings)
			tellings = append(tellings, Telling{})
			if len(e.unit.members) > 1 {
				last[e.unit] = at
			}
		}
		tellings[at].Settings = append(tellings[at].Settings, Setting{s.Parameter, held})
	}
	return tellings, nil
}

func (t Telling) sets(q Parameter) bool {
	return slices.ContainsFunc(t.Settings, func(s Setting) bool { return s.Parameter == q })
}

// message fills a unit's message with values.
func (p *Profile) message(u *unit, s layout, holds func(Parameter) (Value, bool)) (osc.Message, error) {
	values := make([]any, len(u.members))
	for i, q := range u.members {
		v, ok := holds(q)
		if !ok {
			return osc.Message{}, fmt.Errorf("%s goes with it in one message, and what it holds is not known", q)
		}
		argument, _, err := p.entries[q].control.wire(v)
		if err != nil {
			return osc.Message{}, fmt.Errorf("%s: %w", q, err)
		}
		values[i] = argument
	}
	return s.message(values), nil
}

// Beside lists what else is in the message that sets a parameter: nothing for most.
func (p *Profile) Beside(q Parameter) []Parameter {
	u := p.entries[q].unit
	if u == nil || len(u.members) == 1 {
		return nil
	}
	var others []Parameter
	for _, other := range u.members {
		if other != q {
			others = append(others, other)
		}
	}
	return others
}

// Askable reports whether the desk can be asked what a parameter holds.
func (p *Profile) Askable(q Parameter) bool {
	e := p.entries[q]
	return e.unit != nil && e.control.reach == OverOSC &&
		(e.unit.askable || slices.ContainsFunc(p.blocks, func(b block) bool { return b.covers(q) }))
}

// Ask gives the questions about parameters. Those that can't be asked about are left
// out.
func (p *Profile) Ask(parameters []Parameter) []osc.Question[Parameter] {
	questions, rest := p.blockQuestions(parameters)
	asked := make(map[*unit]int)
	for _, q := range rest {
		if !p.Askable(q) {
			continue
		}
		u := p.entries[q].unit
		if at, begun := asked[u]; begun {
			questions[at].Keys = append(questions[at].Keys, q)
			continue
		}
		asked[u] = len(questions)
		questions = append(questions, osc.Question[Parameter]{Message: u.ask.message(nil), Keys: []Parameter{q}})
	}
	return questions
}

// AskWho gives the question about the desk's model, whose answer is heard as the
// parameter [Who]. For a desk that can't say, it has no keys and is not to be sent.
func (p *Profile) AskWho() osc.Question[Parameter] {
	if p.identity.ask == "" {
		return osc.Question[Parameter]{}
	}
	return osc.Question[Parameter]{Message: osc.Message{Address: p.identity.ask}, Keys: []Parameter{Who}}
}

// AskToFollow gives the requests to be told of changes, one for the whole desk or one
// for each part of it, and how long they hold. Not every desk has any.
func (p *Profile) AskToFollow() ([]osc.Message, time.Duration) {
	var requests []osc.Message
	for _, address := range p.follow.requests {
		requests = append(requests, osc.Message{Address: address})
	}
	return requests, p.follow.lapses
}

// Hear gives what a message from the desk reports. A message that the profile can't
// place, or whose value is none that the desk could hold, reports nothing.
func (p *Profile) Hear(h osc.Heard) []osc.Report[Parameter, Value] {
	if len(h.Arguments) == 0 {
		return nil
	}
	if h.Address == p.identity.answer && p.identity.answer != "" {
		if says, ok := wireText(h.Arguments[0]); ok {
			return []osc.Report[Parameter, Value]{{Key: Who, Value: Word(says)}}
		}
		return nil
	}
	var reports []osc.Report[Parameter, Value]
	for _, s := range p.read(p.answers, h, false) {
		reports = append(reports, osc.Report[Parameter, Value]{Key: s.Parameter, Value: s.Value})
	}
	return reports
}

// Told gives the settings that a message makes at the desk's end, on the desk's
// grid, numbers beyond the ends clamped as desks do.
func (p *Profile) Told(h osc.Heard) []Setting { return p.read(p.tells, h, true) }

// read gives the settings in a message, as far as the profile can place them.
func (p *Profile) read(d doors, h osc.Heard, clamp bool) []Setting {
	u, values := d.find(h)
	if u == nil {
		return nil
	}
	var settings []Setting
	for i, q := range u.members {
		if v, err := p.entries[q].control.read(values[i], clamp); err == nil {
			settings = append(settings, Setting{q, v})
		}
	}
	return settings
}

// Asked gives what a message asks about at the desk's end: a parameter for each answer
// that the desk owes, see Answer. A message without type tags, whose arguments can't be
// known, counts as a question: to answer harms nothing.
func (p *Profile) Asked(h osc.Heard) []Parameter {
	if h.Address == p.identity.ask && h.Address != "" && len(h.Arguments) == 0 {
		return []Parameter{Who}
	}
	if u, _ := p.asks.find(h); u != nil {
		return []Parameter{u.first()}
	}
	return p.blockAsked(h)
}

// Greeted reports whether a message is the greeting that the desk waits for.
func (p *Profile) Greeted(h osc.Heard) bool {
	return p.Link.Greeting.Address != "" && h.Address == p.Link.Greeting.Address
}

// KeptAlive reports whether a message only keeps the link alive.
func (p *Profile) KeptAlive(h osc.Heard) bool {
	return p.Link.Alive.Address != "" && h.Address == p.Link.Alive.Address
}

// AskedToFollow reports whether a message is a request to be told of changes, of which
// place (the zero Place is the whole desk), and how long it holds.
func (p *Profile) AskedToFollow(h osc.Heard) (Place, time.Duration, bool) {
	place, ok := p.follow.asks[h.Address]
	return place, p.follow.lapses, ok
}

// Answer gives the message with which the desk reports what a parameter holds, and
// what it reports together with it.
func (p *Profile) Answer(q Parameter, holds func(Parameter) (Value, bool)) (osc.Message, error) {
	if q == Who {
		says, _ := holds(Who)
		return osc.Message{Address: p.identity.answer, Arguments: []any{says.word}}, nil
	}
	e, ok := p.entries[q]
	if !ok || e.unit == nil {
		return osc.Message{}, fmt.Errorf("%s: %s has no such parameter, or none that OSC reaches", q, p.Name)
	}
	return p.message(e.unit, e.unit.answer, holds)
}
