package recall

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/tone"
)

// Plan is what a recall would do, before anything is sent.
type Plan struct {
	Venue *scenes.Venue
	Parts []*Part
	// Moves are the hand moves since the last recall, and MovesFile the reading in
	// which they were kept.
	Moves     []scenes.Change
	MovesFile string
	// Undoes is what the desk held before the recall that the plan takes back; nil for
	// one that takes nothing back. No limit on the rise forbids to go back, and it is no
	// more to be undone.
	Undoes *scenes.Reading

	read     time.Time // when the desk was
	clock    desk.Clock
	at       desk.Moment // the same, by the recaller's clock
	turn     scenes.Turn
	dropUndo func() error
}

// Part is the plan for one place.
type Part struct {
	Target
	// Before is everything that the place held.
	Before scenes.Values
	// Was is who was on the position before, as far as that is known.
	Was string
	// WasBy is by which scene they were, "" for none.
	WasBy string
	// WasOpen says whether the place was open; after a recall that did not end,
	// whether it was open before that one.
	WasOpen bool
	// Changes will be sent, in the desk's order; a change of the mute is among them
	// only where the place will end otherwise than it is. Safe are left alone.
	Changes []scenes.Change
	Safe    []scenes.Change
	// Rises are where the place gets louder than it was last heard, loudest first.
	Rises []tone.Rise
	// Steps are where speech gets louder or softer by the place's own changes.
	Steps []tone.Step

	// fades are what a fade does with the place's levels.
	fades []fading
	// sounds are what makes the rises.
	sounds scenes.Sounds
	// undoes says that the plan goes back to what the room had.
	undoes bool
}

// Nothing reports whether the desk holds all that is wanted already, but for what
// is safe.
func (p *Plan) Nothing() bool {
	return !slices.ContainsFunc(p.Parts, func(part *Part) bool { return len(part.Changes) > 0 })
}

// Changes lists the changes of all parts.
func (p *Plan) Changes() []scenes.Change {
	var all []scenes.Change
	for _, part := range p.Parts {
		all = append(all, part.Changes...)
	}
	return all
}

// Differing lists the changes but for those that are only sent again.
func (p *Plan) Differing() []scenes.Change {
	return slices.DeleteFunc(p.Changes(), func(c scenes.Change) bool { return c.Again })
}

// Again lists what is only sent again, since the desk can't be asked whether it holds it
// still.
func (p *Plan) Again() []scenes.Change {
	return slices.DeleteFunc(p.Changes(), func(c scenes.Change) bool { return !c.Again })
}

// Safe lists what differs and is left alone.
func (p *Plan) Safe() []scenes.Change {
	var all []scenes.Change
	for _, part := range p.Parts {
		all = append(all, part.Safe...)
	}
	return all
}

// Before is what the places of the plan held.
func (p *Plan) Before() scenes.Values {
	all := make(scenes.Values)
	for _, part := range p.Parts {
		maps.Copy(all, part.Before)
	}
	return all
}

// say names the plan in a note: "lectern: poet and 1 more", of the places that it changes.
func (p *Plan) say() string {
	changed := slices.DeleteFunc(slices.Clone(p.Parts), func(part *Part) bool { return len(part.Changes) == 0 })
	if len(changed) == 0 {
		changed = p.Parts
	}
	first := changed[0]
	what := first.Say()
	if first.Performer != "" {
		what += ": " + first.Performer
	}
	if len(changed) > 1 {
		what += fmt.Sprintf(" and %d more", len(changed)-1)
	}
	return what
}

// WillBeOpen says how the part is to end.
func (part *Part) WillBeOpen() bool {
	if part.Open != nil {
		return *part.Open
	}
	return part.WasOpen
}

// isMuted says what was read of the place.
func (part *Part) isMuted() bool { return isMuted(part.Place, part.Before) }

func isMuted(place profiles.Place, holds scenes.Values) bool {
	muted, _ := holds[profiles.Parameter{Place: place, Name: muteName}].On()
	return muted
}

// mustMute reports whether the changes are to be made while the place is muted.
// Names move no sound, levels that fade may be heard, and a mix or the main mix is not
// muted: that would silence everybody.
func (part *Part) mustMute() bool {
	return part.Place.Part == profiles.Channel && !part.onlyLevels() && slices.ContainsFunc(part.Changes, func(c scenes.Change) bool {
		return c.Parameter.Name != muteName && c.Spec.Class != profiles.NameOnly
	})
}

// mayChange lists what sending the part's changes may leave otherwise than it was.
func (part *Part) mayChange() []profiles.Parameter {
	var all []profiles.Parameter
	for _, c := range part.Changes {
		all = append(all, c.Parameter)
	}
	if part.mustMute() {
		all = append(all, part.parameter(muteName))
	}
	for _, f := range part.fades {
		all = append(all, f.parameter)
	}
	return all
}
