package agent

import (
	"context"
	"slices"

	"deskhand/profiles"
	"deskhand/scenes"
)

// settle deals with all that doesn't agree at a place.
func (a *Agent) settle(ctx context.Context, place profiles.Place) {
	s := a.seats[place]
	if s == nil || s.strip == nil || s.isNew || a.line.desk == nil || a.isBusy(s.position) || a.holding.Load() && !a.o.Live {
		return
	}
	if a.lost[place] && !a.looksRestarted(place) {
		delete(a.lost, place) // somebody has set it up again
	}
	st := a.stand(place)
	if _, moving := a.resting[place]; !moving {
		if a.isUntold(handMoved, st.hand) || a.isUntold(bothMoved, st.both) || a.isMuteNew(place) {
			if !a.isSure(ctx, place) {
				return
			}
			a.noteMute(place)
			st = a.stand(place)
		}
		a.tellUntold(Event{Kind: Held}, s, bothMoved, st.both)
		a.settleHand(ctx, place, s, st)
	}
	a.tellUntold(Event{Kind: Saved}, s, fileMoved, st.never)
	a.settleFile(ctx, place, s, st.file)
}

// isSure reads the place anew before a hand is said to have moved something: what was told
// may be older than what we have sent since, and the desk may have been switched off and on
// without having been missed. What moved meanwhile is judged later.
func (a *Agent) isSure(ctx context.Context, place profiles.Place) bool {
	if !a.readAll(ctx, a.venue.Desk.Profile.At(place)) {
		return false
	}
	if _, moving := a.resting[place]; moving {
		return false
	}
	switch {
	case !a.looksRestarted(place):
		return true
	case a.lost[place]:
		a.noteAway(place) // a hand at work on a desk that begins anew
		return true
	}
	a.restarted(ctx)
	return false
}

// restarted reads all of a desk that was switched off and on, and deals with it.
func (a *Agent) restarted(ctx context.Context) {
	if a.readAll(ctx, a.seated()) {
		a.arrived(ctx, a.agreed)
	}
}

// muteOf is the parameter that closes a place.
func muteOf(place profiles.Place) profiles.Parameter {
	return profiles.Parameter{Place: place, Name: "mute"}
}

func (a *Agent) isMuteNew(place profiles.Place) bool {
	q := muteOf(place)
	return !a.lost[place] && a.mutes[q] != a.held[q]
}

// noteMute notes whether a place is muted, as it is to be after a restart of the desk.
func (a *Agent) noteMute(place profiles.Place) {
	if q := muteOf(place); !a.lost[place] {
		a.mutes[q] = a.held[q]
	}
}

// settleHand deals with what a hand has moved.
func (a *Agent) settleHand(ctx context.Context, place profiles.Place, s *seat, st stand) {
	switch {
	case len(st.hand) == 0:
	case a.o.ToFiles && a.isUntold(handMoved, st.hand):
		a.write(ctx, place, s)
	default:
		a.tellUntold(Event{Kind: Moved}, s, handMoved, st.hand)
	}
}

// settleFile deals with what a file now says otherwise. What was refused, or could not be
// confirmed, is not tried again until the file changes once more.
func (a *Agent) settleFile(ctx context.Context, place profiles.Place, s *seat, file []scenes.Change) {
	switch {
	case len(file) == 0:
	case !a.o.ToDesk || a.lost[place]:
		a.tellUntold(Event{Kind: Saved}, s, fileMoved, file)
	case a.isUntold(fileMoved, file) && a.isAsRead(s):
		a.noteTold(fileMoved, file)
		a.recall(ctx, place, s, file)
	}
}

// tellUntold tells those changes that were not told like this before, if there are any.
func (a *Agent) tellUntold(e Event, s *seat, as standing, changes []scenes.Change) {
	e.Position, e.Performer, e.Changes = s.position, s.performer, a.untold(as, changes)
	if len(e.Changes) > 0 {
		a.noteTold(as, changes)
		a.tell(e)
	}
}

// untold gives the changes that were not told like this before.
func (a *Agent) untold(as standing, changes []scenes.Change) []scenes.Change {
	return slices.DeleteFunc(slices.Clone(changes), func(c scenes.Change) bool {
		return a.told[c.Parameter] == telling{as, c.From, c.To}
	})
}

func (a *Agent) isUntold(as standing, changes []scenes.Change) bool {
	return len(a.untold(as, changes)) > 0
}

func (a *Agent) noteTold(as standing, changes []scenes.Change) {
	for _, c := range changes {
		a.told[c.Parameter] = telling{as, c.From, c.To}
	}
}

// forgetTold has changes tried, or told, once more.
func (a *Agent) forgetTold(changes []scenes.Change) {
	for _, c := range changes {
		delete(a.told, c.Parameter)
	}
}
