package recall

import (
	"fmt"

	"deskhand/profiles"
	"deskhand/scenes"
)

const phantomName = "input.phantom"

// harms gives the reasons why a part would harm a microphone with phantom power. It goes
// by what is wanted rather than by what differs: a desk that holds it already may lose it
// in the middle, and would then be told again. Nothing but the venue's file lets it
// through, for what is harmed stays so.
func (r *Recaller) harms(part *Part) []string {
	var reasons []string
	for _, w := range part.Wanted {
		if on, _ := w.Value.On(); w.Parameter.Name != phantomName || !on || !r.maySend(w.Parameter) {
			continue
		}
		for _, harmed := range r.Venue.Harmed(part.Place) {
			reasons = append(reasons, r.sayHarm(part, w.Parameter, harmed))
		}
	}
	return reasons
}

// harmedNow tells of phantom power that is on already where it harms a microphone. A
// recall that is refused leaves it so, and a hand has to switch it off.
func (r *Recaller) harmedNow(part *Part) []string {
	if on, _ := part.Before[part.parameter(phantomName)].On(); !on {
		return nil
	}
	var now []string
	for _, harmed := range r.Venue.Harmed(part.Place) {
		now = append(now, fmt.Sprintf("%s has phantom power on now, which harms the microphone of %s, %s (%s): switch it off by hand",
			part.Say(), harmed.Name, harmed.Microphone.Name, harmed.Microphone.Harmed))
	}
	return now
}

func (r *Recaller) sayHarm(part *Part, q profiles.Parameter, harmed *scenes.Position) string {
	m := harmed.Microphone
	if harmed.Place() == part.Place {
		return fmt.Sprintf("%s would get phantom power, which harms its microphone, %s (%s); only a change of that file lets it through",
			part.Say(), m.Name, m.Harmed)
	}
	control, _ := r.Venue.Desk.Profile.Control(q)
	first, last := profiles.Bank(control.Bank, part.Place.Number)
	return fmt.Sprintf("%s would get phantom power with channels %d to %d, which harms the microphone of %s, %s (%s); only a change of that file lets it through",
		part.Say(), first, last, harmed.Name, m.Name, m.Harmed)
}
