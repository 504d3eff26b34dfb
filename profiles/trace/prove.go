package trace

import (
	"fmt"

	"deskhand/osc"
	"deskhand/profiles"
)

// Prove holds a profile against the recording that it was learned from: everything that
// was heard of a control must be read as that control at that place, and what the desk
// showed must be what the profile makes of the message before it. It gives what does not
// agree, at most one thing for each control, and how many messages did.
func Prove(r *Recording, p *profiles.Profile) (agree int, against []Trouble, err error) {
	s, err := r.sorted()
	if err != nil {
		return 0, nil, err
	}
	for _, moves := range s.controls() {
		seen, err := s.pick(moves[0], moves[1:])
		if err != nil || !has(p, moves[0].parameter) {
			continue // nothing was learned of it
		}
		for _, one := range seen {
			n, err := one.agrees(p)
			agree += n
			if err != nil {
				against = append(against, Trouble{one.parameter, err})
				break
			}
		}
	}
	return agree, against, nil
}

func has(p *profiles.Profile, q profiles.Parameter) bool {
	_, ok := p.Control(q)
	return ok
}

// agrees counts the messages of one control that are read as they should be.
func (s sighting) agrees(p *profiles.Profile) (int, error) {
	next := 0
	n := 0
	var held profiles.Value
	for i, it := range s.items {
		if next < len(s.at) && s.at[next] == i {
			next++
			v, ok := hear(p, it.message, s.parameter)
			if !ok {
				return n, fmt.Errorf("%s is not read as it", it.message.String())
			}
			held = v
			n++
		}
		if it.shows == "" || held.IsZero() {
			continue
		}
		if err := meetsShown(p, s.parameter, held, it.shows); err != nil {
			return n, err
		}
	}
	return n, nil
}

func hear(p *profiles.Profile, m osc.Heard, q profiles.Parameter) (profiles.Value, bool) {
	for _, r := range p.Hear(m) {
		if r.Key == q {
			return r.Value, true
		}
	}
	return profiles.Value{}, false
}

func meetsShown(p *profiles.Profile, q profiles.Parameter, held profiles.Value, text string) error {
	control, _ := p.Control(q)
	v, isNumber := held.Number()
	if !isNumber {
		return nil
	}
	reads := control.Spec.Say(held)
	if _, says := cutOctaves(text); control.Spec.Unit == profiles.Quality && (says || control.InOctaves && !isQ(text)) {
		v, reads = profiles.OctavesOfQ(v), control.SayOnDesk(held)
	}
	want, err := parseShown(text, control.Spec.Unit)
	if err == nil && !want.meets(v) {
		return fmt.Errorf("the desk showed %s where the profile reads %s", text, reads)
	}
	return nil
}
