package agent

import (
	"context"
	"errors"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

// stand is how the values at one place stand, apart from those that agree.
type stand struct {
	// file leads from what the desk holds to what the file says, and so does both; hand
	// leads from what was agreed to what the desk holds.
	file, hand, both []scenes.Change
}

// settle deals with all that doesn't agree at a place.
func (a *Agent) settle(ctx context.Context, place profiles.Place) {
	s := a.seats[place]
	if s == nil || s.strip == nil || a.line.desk == nil {
		return
	}
	st := a.stand(place, s)
	if _, moving := a.resting[place]; !moving {
		a.tellUntold(Held, bothMoved, s, st.both)
		a.settleHand(place, s, st.hand)
	}
	a.settleFile(ctx, place, s, st.file)
}

// settleHand deals with what a hand has moved.
func (a *Agent) settleHand(place profiles.Place, s *seat, hand []scenes.Change) {
	switch {
	case len(hand) == 0:
	case a.o.ToFiles:
		a.write(place, s, hand)
	default:
		a.tellUntold(Moved, handMoved, s, hand)
	}
}

// settleFile deals with what a file now says otherwise. What was refused, or could not be
// confirmed, is not tried again until the file changes once more.
func (a *Agent) settleFile(ctx context.Context, place profiles.Place, s *seat, file []scenes.Change) {
	switch {
	case len(file) == 0:
	case !a.o.ToDesk || a.isAway(place):
		a.tellUntold(Saved, fileMoved, s, file)
	case len(a.untold(fileMoved, file)) > 0:
		a.recall(ctx, place, s, file)
	}
}

// tellUntold tells changes that were not told like this before, if there are any.
func (a *Agent) tellUntold(kind Kind, as standing, s *seat, changes []scenes.Change) {
	if fresh := a.untold(as, changes); len(fresh) > 0 {
		a.tell(Event{Kind: kind, Position: s.position, Performer: s.performer, Changes: fresh})
	}
}

// stand judges each value at a place. Whether it is open is for the scene and the hand.
func (a *Agent) stand(place profiles.Place, s *seat) stand {
	wanted := make(map[profiles.Parameter]scenes.Wanted, len(s.strip.Wanted))
	for _, w := range s.strip.Wanted {
		wanted[w.Parameter] = w
	}
	var st stand
	for _, q := range a.venue.Desk.Profile.At(place) {
		if q.Name == "mute" || !a.venue.Desk.Profile.Askable(q) {
			continue
		}
		control, _ := a.venue.Desk.Profile.Control(q)
		w, held := wanted[q], a.held[q]
		switch judge(control, w.Value, held, a.agreed[q]) {
		case agrees:
			a.agree(q, held)
		case unknown:
			if !held.IsZero() {
				a.agree(q, held)
			}
		case fileMoved:
			st.file = append(st.file, a.change(q, held, w.Value, w))
		case handMoved:
			if found, away := a.away[q]; away && a.venue.Same(q, found, held) {
				st.both = append(st.both, a.change(q, held, a.agreed[q], w))
				continue
			}
			st.hand = append(st.hand, a.change(q, a.agreed[q], held, w))
		case bothMoved:
			st.both = append(st.both, a.change(q, held, w.Value, w))
		}
	}
	return st
}

// untold gives the changes that were not told like this before, and notes that they are.
func (a *Agent) untold(as standing, changes []scenes.Change) []scenes.Change {
	var fresh []scenes.Change
	for _, c := range changes {
		now := telling{as, c.To, c.From}
		if a.told[c.Parameter] != now {
			a.told[c.Parameter] = now
			fresh = append(fresh, c)
		}
	}
	return fresh
}

// isAway reports whether something at a place changed while nobody looked. Then nothing
// is sent there unasked: the desk may have been restarted.
func (a *Agent) isAway(place profiles.Place) bool {
	for q, found := range a.away {
		if q.Place == place && a.venue.Same(q, found, a.held[q]) {
			return true
		}
	}
	return false
}

// write puts what a hand did into the performer's file.
func (a *Agent) write(place profiles.Place, s *seat, hand []scenes.Change) {
	names := make([]string, len(hand))
	byHand := make(map[profiles.Parameter]bool)
	for i, c := range hand {
		names[i], byHand[c.Parameter] = c.Parameter.Name, true
	}
	holds := make(scenes.Values)
	for _, q := range a.venue.Desk.Profile.At(place) {
		holds[q] = a.held[q]
		if holds[q].IsZero() {
			holds[q] = a.agreed[q]
		}
	}
	kept, apart := a.venue.Keep(s.strip, holds, func(q profiles.Parameter) bool { return byHand[q] }, names)
	kept = slices.DeleteFunc(kept, func(k scenes.Kept) bool { return !byHand[k.Parameter] && a.isHeldBack(k.Parameter) })
	if len(kept) > 0 && !a.writeKept(s, kept) {
		a.resting[place] = time.Now() // the file was saved just now: once more after that
		return
	}
	for _, k := range kept {
		a.agree(k.Parameter, a.held[k.Parameter])
	}
	if fresh := a.untoldApart(hand, apart); len(fresh) > 0 {
		a.tell(Event{Kind: Moved, Position: s.position, Performer: s.performer, Changes: fresh, Apart: apart})
	}
	a.resolve(place)
}

// isHeldBack reports whether a value waits for a person to settle it.
func (a *Agent) isHeldBack(q profiles.Parameter) bool { return a.told[q].standing == bothMoved }

// untoldApart are the hand moves that are not for the file, and were not told yet.
func (a *Agent) untoldApart(hand []scenes.Change, apart []scenes.Apart) []scenes.Change {
	return a.untold(handMoved, slices.DeleteFunc(slices.Clone(hand), func(c scenes.Change) bool {
		return !slices.ContainsFunc(apart, func(o scenes.Apart) bool { return o.Parameter == c.Parameter })
	}))
}

// writeKept writes values into the performer's file and notes that they were kept. It
// reports whether that was done.
func (a *Agent) writeKept(s *seat, kept []scenes.Kept) bool {
	old, text, err := a.book.KeepText(s.performer, kept)
	if err == nil {
		err = a.book.Write(scenes.File(scenes.Performers, s.performer), old, text)
	}
	if err != nil {
		a.trouble(s.position, err)
		return false
	}
	values := make(scenes.Values)
	for _, k := range kept {
		values[k.Parameter] = a.held[k.Parameter]
	}
	a.memory.Hold(values)
	a.remember()
	a.tell(Event{Kind: Wrote, Position: s.position, Performer: s.performer, File: scenes.File(scenes.Performers, s.performer), Kept: kept, Old: old, New: text})
	return true
}

func (a *Agent) remember() {
	if err := a.memory.Save(time.Now()); err != nil {
		a.trouble("", err)
	}
	a.remembered = a.memory.Written()
}

// recall takes what a file changed to the desk, and no more than that.
func (a *Agent) recall(ctx context.Context, place profiles.Place, s *seat, changes []scenes.Change) {
	target := recall.ForPosition(s.strip)
	target.Open = nil
	target.Wanted = slices.DeleteFunc(slices.Clone(target.Wanted), func(w scenes.Wanted) bool {
		return !slices.ContainsFunc(changes, func(c scenes.Change) bool { return c.Parameter == w.Parameter })
	})
	a.carryOut(ctx, s, []recall.Target{target}, func(plan *recall.Plan) bool { return a.isAsJudged(place, changes, plan) })
}

// isAsJudged reports whether the desk still holds what the changes were judged by. If a
// hand was faster, all is judged anew once it rests.
func (a *Agent) isAsJudged(place profiles.Place, changes []scenes.Change, plan *recall.Plan) bool {
	for _, c := range changes {
		if now := plan.Before()[c.Parameter]; !a.venue.Same(c.Parameter, now, c.From) {
			a.resting[place] = time.Now()
			return false
		}
	}
	return true
}

// carryOut is a whole recall. Still is asked right before anything is sent whether it is
// still wanted.
func (a *Agent) carryOut(ctx context.Context, s *seat, targets []recall.Target, still func(*recall.Plan) bool) {
	r := &recall.Recaller{Book: a.book, Venue: a.venue, Memory: a.memory, Desk: a.line.desk}
	e := Event{Kind: Recalled}
	if s != nil {
		e.Position, e.Performer = s.position, s.performer
	}
	e.Plan, e.Err = r.Prepare(ctx, targets)
	if e.Err == nil {
		a.take(e.Plan.Before())
		if !still(e.Plan) {
			return
		}
		e.Result, e.Err = r.CarryOut(ctx, e.Plan)
	}
	a.remembered = a.memory.Written()
	var refused *recall.Refused
	var stale *recall.Stale
	switch {
	case errors.As(e.Err, &refused):
		e.Kind = Refused
	case errors.As(e.Err, &stale):
		for _, t := range targets {
			a.resting[t.Place] = time.Now()
		}
		return
	case e.Result == nil && e.Err != nil && ctx.Err() == nil:
		a.lost(e.Err)
		return
	}
	if e.Result != nil {
		a.took(e.Result)
	}
	a.tell(e)
	if errors.Is(e.Err, desk.ErrSilent) && ctx.Err() == nil {
		a.lost(e.Err)
	}
}

// took notes what a recall has proved, and what a hand did meanwhile.
func (a *Agent) took(result *recall.Result) {
	for q, c := range result.Confirmed {
		a.held[q] = c.Setting().Value
		a.agree(q, a.held[q])
	}
	for _, m := range result.Moved {
		a.held[m.Parameter] = m.Found
	}
}
