package agent

import (
	"context"
	"maps"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// A desk that nobody has looked at for a while may have been switched off and on, and
// holds then what no hand has set. So whatever changed meanwhile is told, and waits for a
// person wherever the files say otherwise.

// arrived deals with a desk that is there, all that is on being read: it says what has
// changed since before, or since files and desk last agreed.
func (a *Agent) arrived(ctx context.Context, before scenes.Values) {
	e := Event{Kind: Began, Text: a.venue.Desk.Address}
	if a.line.met {
		e.Kind = Back
	}
	a.line.met, a.line.silent, a.line.other = true, false, ""
	clear(a.resting)
	base := maps.Clone(a.agreed)
	maps.Copy(base, before)
	for _, q := range a.seated() {
		was, now := base[q], a.held[q]
		if a.seats[q.Place] == nil {
			continue
		}
		if !was.IsZero() && !now.IsZero() && !a.venue.Same(q, was, now) {
			e.Changes = append(e.Changes, a.change(q, was, now))
		}
	}
	restorable := a.leftAlone()
	a.tell(e)
	if a.o.ToDesk && a.o.Restore && len(restorable) > 0 {
		a.restore(ctx, restorable)
	}
	a.forebode()
	for _, place := range a.places() {
		a.settle(ctx, place)
	}
}

// leftAlone notes what is otherwise than agreed after a time in which nobody looked, and
// gives the places where the files say otherwise. What they don't say is nobody's
// difference any more once it is told.
func (a *Agent) leftAlone() []profiles.Place {
	var places []profiles.Place
	for _, place := range a.places() {
		s := a.seats[place]
		s.isNew = false
		if s.strip == nil {
			continue
		}
		if a.looksRestarted(place) {
			a.lost[place] = true
			maps.DeleteFunc(a.told, func(q profiles.Parameter, _ telling) bool { return q.Place == place })
		}
		a.noteMute(place)
		if a.noteAway(place) {
			places = append(places, place)
		}
	}
	return places
}

// noteAway notes what was changed at a place, and reports whether the files say
// otherwise.
func (a *Agent) noteAway(place profiles.Place) bool {
	differs := false
	for _, q := range a.venue.Desk.Profile.At(place) {
		held, agreed := a.held[q], a.agreed[q]
		if q.Name == "mute" || held.IsZero() || agreed.IsZero() || a.venue.Same(q, held, agreed) {
			continue
		}
		if _, isWanted := a.wanted(q); !isWanted {
			a.agree(q, held)
			continue
		}
		a.away[q] = held
		differs = true
	}
	return differs
}

// looksRestarted reports whether a place looks as on a desk that was switched off and on
// without our having missed it: of the values that would tell, half or more are as a desk
// begins with them, or otherwise without its having told so.
func (a *Agent) looksRestarted(place profiles.Place) bool {
	tell, changed, begun := 0, 0, 0
	for _, q := range a.venue.Desk.Profile.At(place) {
		control, _ := a.venue.Desk.Profile.Control(q)
		agreed, held := a.agreed[q], a.held[q]
		if q.Name == "mute" || agreed.IsZero() || held.IsZero() || !a.venue.Desk.Profile.Askable(q) || control.Same(agreed, control.Start) {
			continue
		}
		tell++
		switch {
		case control.Same(agreed, held):
		case control.Same(held, control.Start):
			changed++
			begun++
		case !a.heard[q]:
			changed++
		}
	}
	return changed > 1 && 2*changed >= tell || tell == 1 && begun == 1
}

// restore takes places to the desk again, open or closed as they were before.
func (a *Agent) restore(ctx context.Context, places []profiles.Place) {
	var targets []recall.Target
	for _, place := range places {
		s := a.seats[place]
		t := recall.ForPosition(s.strip)
		t.Wanted = a.sendable(t.Wanted)
		t.Open = nil
		mute := a.mutes[muteOf(place)]
		if mute.IsZero() {
			mute = a.memory.Held.Values[muteOf(place)]
		}
		if muted, known := mute.On(); known {
			open := !muted
			t.Open = &open
		}
		targets = append(targets, t)
	}
	a.carryOut(ctx, Event{}, targets, func(*recall.Plan) bool { return true })
}
