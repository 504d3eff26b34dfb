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
	groups, err := p.Together(settings)
	if err != nil {
		return nil, err
	}
	tellings := make([]Telling, len(groups))
	told := make(map[Parameter]Value) // in earlier messages, of what is told together
	for i, group := range groups {
		tellings[i].Settings = group.Settings
		var alone bool
		if tellings[i].Message, alone = group.Alone(); alone {
			continue
		}
		tellings[i].Message, err = p.Message(group.Settings, func(q Parameter) (Value, bool) {
			if v, ok := told[q]; ok {
				return v, true
			}
			if holds == nil {
				return Value{}, false
			}
			return holds(q)
		})
		if err != nil {
			return nil, err
		}
		for _, s := range group.Settings {
			told[s.Parameter] = s.Value
		}
	}
	return tellings, nil
}

// Message gives the one message for settings that go into one, see Together, with what
// else is in it as the caller says that the desk holds it.
func (p *Profile) Message(group []Setting, holds func(Parameter) (Value, bool)) (osc.Message, error) {
	u := p.entries[group[0].Parameter].unit
	return u.message(u.tell, func(q Parameter) (Value, bool) {
		if i := slices.IndexFunc(group, func(s Setting) bool { return s.Parameter == q }); i >= 0 {
			return group[i].Value, true
		}
		if holds == nil {
			return Value{}, false
		}
		return holds(q)
	})
}

// Group are the settings of one message, on the desk's grid.
type Group struct {
	Settings []Setting
	unit     *unit
	argument any // that says the only setting, where nothing else can be in the message
}

// Alone gives the message for a group with which nothing else can go.
func (g Group) Alone() (m osc.Message, ok bool) {
	if len(g.unit.members) > 1 {
		return m, false
	}
	return g.unit.tell.message([]any{g.argument}), true
}

// Together sorts settings by the message that they go into, and puts their values on
// the desk's grid. Setting the same parameter again takes another message. The error
// names one that can't be told.
func (p *Profile) Together(settings []Setting) ([]Group, error) {
	groups := make([]Group, 0, len(settings))
	onGrid := make([]Setting, len(settings)) // of which each group begins as a piece
	last := make(map[*unit]int)
	for i, s := range settings {
		e, ok := p.entries[s.Parameter]
		if !ok || e.unit == nil {
			return nil, fmt.Errorf("%s: %s has no such parameter, or none that OSC reaches", s.Parameter, p.Name)
		}
		argument, held, err := e.control.wire(s.Value)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.Parameter, err)
		}
		onGrid[i] = Setting{s.Parameter, held}
		if len(e.unit.members) > 1 {
			if at, begun := last[e.unit]; begun && !sets(groups[at].Settings, s.Parameter) {
				groups[at].Settings = append(groups[at].Settings, onGrid[i])
				continue
			}
			last[e.unit] = len(groups)
		}
		groups = append(groups, Group{onGrid[i : i+1 : i+1], e.unit, argument})
	}
	return groups, nil
}

func sets(group []Setting, q Parameter) bool {
	return slices.ContainsFunc(group, func(s Setting) bool { return s.Parameter == q })
}

// message fills one of the unit's messages with values.
func (u *unit) message(s layout, holds func(Parameter) (Value, bool)) (osc.Message, error) {
	values := make([]any, len(u.members))
	for i, q := range u.members {
		v, ok := holds(q)
		if !ok {
			return osc.Message{}, fmt.Errorf("%s goes with it in one message, and what it holds is not known", q)
		}
		argument, _, err := u.controls[i].wire(v)
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
	return e.unit != nil && p.isAskable(q, &e)
}

func (p *Profile) isAskable(q Parameter, e *entry) bool {
	return e.unit != nil && e.control.reach == OverOSC &&
		(e.unit.askable || slices.ContainsFunc(p.blocks, func(b block) bool { return b.covers(q) }))
}

// Ask gives the questions about parameters. Those that can't be asked about are left
// out.
func (p *Profile) Ask(parameters []Parameter) []osc.Question[Parameter] {
	return p.inParameters(p.AskOrdinals(parameters))
}

// AskOrdinals is Ask with ordinals for the keys.
func (p *Profile) AskOrdinals(parameters []Parameter) []osc.Question[Ordinal] {
	ordinals := make([]Ordinal, 0, len(parameters))
	for _, q := range parameters {
		if e, ok := p.entries[q]; ok && p.isAskable(q, &e) {
			ordinals = append(ordinals, e.ordinal)
		}
	}
	questions, rest := p.blockQuestions(ordinals)
	questions = slices.Grow(questions, len(rest))
	asked := make(map[*unit]int)
	for i, o := range rest {
		u := p.entry(o).unit
		if len(u.members) > 1 {
			if at, begun := asked[u]; begun {
				questions[at].Keys = append(questions[at].Keys, o)
				continue
			}
			asked[u] = len(questions)
		}
		questions = append(questions, osc.Question[Ordinal]{Message: u.ask.message(nil), Keys: rest[i : i+1 : i+1]})
	}
	return questions
}

// AskWho gives the question about the desk's model, whose answer is heard as the
// parameter [Who]. For a desk that can't say, it has no keys and is not to be sent.
func (p *Profile) AskWho() osc.Question[Parameter] {
	return p.inParameters([]osc.Question[Ordinal]{p.AskWhoOrdinal()})[0]
}

// AskWhoOrdinal is AskWho with an ordinal for the key.
func (p *Profile) AskWhoOrdinal() osc.Question[Ordinal] {
	if p.identity.ask == "" {
		return osc.Question[Ordinal]{}
	}
	return osc.Question[Ordinal]{Message: osc.Message{Address: p.identity.ask}, Keys: []Ordinal{WhoOrdinal}}
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
	var reports []osc.Report[Parameter, Value]
	for _, r := range p.HearOrdinals(h) {
		reports = append(reports, osc.Report[Parameter, Value]{Key: p.Parameter(r.Key), Value: r.Value})
	}
	return reports
}

// HearOrdinals is Hear with ordinals for the keys.
func (p *Profile) HearOrdinals(h osc.Heard) []osc.Report[Ordinal, Value] {
	if len(h.Arguments) == 0 {
		return nil
	}
	if h.Address == p.identity.answer && p.identity.answer != "" {
		if says, ok := wireText(h.Arguments[0]); ok {
			return []osc.Report[Ordinal, Value]{{Key: WhoOrdinal, Value: Word(says)}}
		}
		return nil
	}
	u, values := p.answers.find(h)
	if u == nil {
		return nil
	}
	reports := make([]osc.Report[Ordinal, Value], 0, len(u.members))
	for i, o := range u.ordinals {
		if v, err := u.controls[i].read(values[i], false); err == nil {
			reports = append(reports, osc.Report[Ordinal, Value]{Key: o, Value: v})
		}
	}
	return reports
}

// Told gives the settings that a message makes at the desk's end, on the desk's
// grid, numbers beyond the ends clamped as desks do.
func (p *Profile) Told(h osc.Heard) []Setting {
	u, values := p.tells.find(h)
	if u == nil {
		return nil
	}
	settings := make([]Setting, 0, len(u.members))
	for i, q := range u.members {
		if v, err := u.controls[i].read(values[i], true); err == nil {
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
	return e.unit.message(e.unit.answer, holds)
}
