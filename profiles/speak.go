package profiles

import (
	"fmt"
	"time"

	"deskhand/osc"
)

// Setting is a value for a parameter.
type Setting struct {
	Parameter Parameter
	Value     Value
}

// Tell gives the messages that set the values, one a setting and in their order,
// and the settings as the desk will then hold them, on its grid.
func (p *Profile) Tell(settings []Setting) ([]osc.Message, []Setting, error) {
	messages := make([]osc.Message, len(settings))
	held := make([]Setting, len(settings))
	for i, s := range settings {
		e, ok := p.entries[s.Parameter]
		if !ok {
			return nil, nil, fmt.Errorf("%s: %s has no such parameter", s.Parameter, p.Name)
		}
		argument, value, err := e.control.wire(s.Value)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", s.Parameter, err)
		}
		messages[i] = osc.Message{Address: e.address, Arguments: []any{argument}}
		held[i] = Setting{s.Parameter, value}
	}
	return messages, held, nil
}

// Ask gives the questions about parameters: here, the bare address. Parameters
// that the desk does not have are left out.
func (p *Profile) Ask(parameters []Parameter) []osc.Question[Parameter] {
	questions := make([]osc.Question[Parameter], 0, len(parameters))
	for _, q := range parameters {
		if e, ok := p.entries[q]; ok {
			questions = append(questions, osc.Question[Parameter]{
				Message: osc.Message{Address: e.address}, Keys: []Parameter{q},
			})
		}
	}
	return questions
}

// AskWho gives the question about the desk's model, whose answer is heard as the
// parameter [Who].
func (p *Profile) AskWho() osc.Question[Parameter] {
	return osc.Question[Parameter]{Message: osc.Message{Address: p.identity.ask}, Keys: []Parameter{Who}}
}

// AskToFollow gives the request to be told of changes, and how long it holds. Not
// every desk has one.
func (p *Profile) AskToFollow() (osc.Message, time.Duration, bool) {
	return osc.Message{Address: p.follow.ask}, p.follow.lapses, p.follow.ask != ""
}

// Hear gives what a message from the desk reports. A message that the profile can't
// place, or whose value is none that the desk could hold, reports nothing.
func (p *Profile) Hear(h osc.Heard) []osc.Report[Parameter, Value] {
	if len(h.Arguments) == 0 {
		return nil
	}
	if h.Address == p.identity.answer {
		if says, ok := wireText(h.Arguments[0]); ok {
			return []osc.Report[Parameter, Value]{{Key: Who, Value: Word(says)}}
		}
		return nil
	}
	s, ok := p.read(h, false)
	if !ok {
		return nil
	}
	return []osc.Report[Parameter, Value]{{Key: s.Parameter, Value: s.Value}}
}

// Told gives the settings that a message makes at the desk's end, on the desk's
// grid, numbers beyond the ends clamped as desks do.
func (p *Profile) Told(h osc.Heard) []Setting {
	if s, ok := p.read(h, true); ok {
		return []Setting{s}
	}
	return nil
}

// read gives the setting in a message, if it holds one that the profile can place.
func (p *Profile) read(h osc.Heard, clamp bool) (Setting, bool) {
	q, ok := p.places[h.Address]
	if !ok || len(h.Arguments) == 0 {
		return Setting{}, false
	}
	v, err := p.entries[q].control.read(h.Arguments[0], clamp)
	return Setting{q, v}, err == nil
}

// Asked gives the parameters that a message asks about at the desk's end. One whose
// arguments can't be known, as it came without type tags, counts as a question: to
// answer harms nothing.
func (p *Profile) Asked(h osc.Heard) []Parameter {
	if len(h.Arguments) > 0 {
		return nil
	}
	if h.Address == p.identity.ask {
		return []Parameter{Who}
	}
	if q, ok := p.places[h.Address]; ok {
		return []Parameter{q}
	}
	return nil
}

// AskedToFollow reports whether a message is the request to be told of changes,
// and how long it holds.
func (p *Profile) AskedToFollow(h osc.Heard) (time.Duration, bool) {
	return p.follow.lapses, p.follow.ask != "" && h.Address == p.follow.ask
}

// Answer gives the message with which the desk reports a value that it holds.
func (p *Profile) Answer(s Setting) (osc.Message, error) {
	if s.Parameter == Who {
		return osc.Message{Address: p.identity.answer, Arguments: []any{s.Value.word}}, nil
	}
	messages, _, err := p.Tell([]Setting{s})
	if err != nil {
		return osc.Message{}, err
	}
	return messages[0], nil
}
