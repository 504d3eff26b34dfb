package agent

import (
	"context"
	"fmt"
	"slices"

	"deskhand/scenes/recall"
)

// askedKeep puts what hands have moved at a position into the performer's file. Where the
// file says otherwise by now, too, what the desk holds wins: that is what was asked for.
func (a *Agent) askedKeep(ctx context.Context, r *recall.Recaller, ask AskKeep) Event {
	e := Event{Kind: Trouble, Text: ask.String(), Position: ask.Position}
	p, err := a.venue.Position(ask.Position)
	if err != nil {
		e.Err = &RemoteFailure{CodeBook, firstLine(err)}
		return e
	}
	s := a.seats[p.Place()]
	if s == nil || s.strip == nil {
		e.Err = &RemoteFailure{CodeBook, fmt.Sprintf("nobody is on %s whose file could be written", ask.Position)}
		return e
	}
	e.Performer = s.performer
	if !a.readAll(ctx, a.venue.Desk.Profile.At(p.Place())) {
		e.Err = &RemoteFailure{CodeDesk, "the desk does not answer: nothing was written"}
		return e
	}
	lock, err := a.book.Lock(ctx, a.venue, r.Command, nil)
	if err != nil {
		e.Err = fmt.Errorf("nothing was written: %w", err)
		return e
	}
	defer lock.Release()
	if a.vigil.Look(); a.asking != nil && a.isLate(*a.asking) { // what was read is of before
		e.Err = errLate
		return e
	}
	if !a.memory.Written().Equal(a.remembered) || !a.isAsRead(s) {
		e.Err = fmt.Errorf("another deskhand, or a save of the file, came in between, so nothing was written: keep once more")
		return e
	}
	return a.keepMoved(s, e)
}

// keepMoved writes what hands have moved, and settles what the file has changed, too.
func (a *Agent) keepMoved(s *seat, e Event) Event {
	place := s.strip.Position.Place()
	st := a.stand(place)
	moved := stand{file: st.file, never: st.never, hand: slices.Concat(st.hand, st.both)}
	kept, apart := a.keep(place, s, moved)
	if len(kept) == 0 {
		e.Kind, e.Apart = Moved, apart
		e.Changes = moved.hand
		return e
	}
	wrote, ok := a.writeKept(s, kept)
	if !ok {
		e.Err = fmt.Errorf("nothing was written: the file has a fault, or was saved just now")
		return e
	}
	wrote.Apart = apart
	return wrote
}
