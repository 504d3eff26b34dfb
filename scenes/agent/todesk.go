package agent

import (
	"context"
	"errors"
	"net"
	"slices"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

// recall takes what a file changed to the desk, and no more than that.
func (a *Agent) recall(ctx context.Context, place profiles.Place, s *seat, changes []scenes.Change) {
	target := recall.ForPosition(s.strip)
	target.Open = nil
	target.Wanted = slices.DeleteFunc(slices.Clone(target.Wanted), func(w scenes.Wanted) bool {
		return !slices.ContainsFunc(changes, func(c scenes.Change) bool { return c.Parameter == w.Parameter })
	})
	e := Event{Position: s.position, Performer: s.performer, Changes: changes}
	a.carryOut(ctx, e, []recall.Target{target}, func(plan *recall.Plan) bool { return a.isAsJudged(changes, plan) })
}

// sendable leaves out what the agent never sends: what a hand would have to do while the
// position is muted.
func (a *Agent) sendable(wanted []scenes.Wanted) []scenes.Wanted {
	return slices.DeleteFunc(slices.Clone(wanted), func(w scenes.Wanted) bool {
		control, _ := a.venue.Desk.Profile.Control(w.Parameter)
		return control.Reach() == profiles.ByHand
	})
}

// isAsJudged reports whether the desk still holds what the changes were judged by. If a
// hand was faster, all is judged anew once it rests.
func (a *Agent) isAsJudged(changes []scenes.Change, plan *recall.Plan) bool {
	return !slices.ContainsFunc(changes, func(c scenes.Change) bool {
		return !a.venue.Same(c.Parameter, plan.Before()[c.Parameter], c.From)
	})
}

// carryOut is a whole recall. Still is asked right before anything is sent whether it is
// still wanted.
func (a *Agent) carryOut(ctx context.Context, e Event, targets []recall.Target, still func(*recall.Plan) bool) {
	a.hear()
	r := a.recaller("watch")
	e.Plan, e.Err = r.Prepare(ctx, targets)
	if e.Plan != nil {
		a.takeRead(e.Plan.Before())
	}
	if e.Err == nil && !still(e.Plan) {
		a.tryAgain(targets, e.Changes)
		return
	}
	if e.Err == nil {
		e.Result, e.Err = r.CarryOut(ctx, e.Plan)
	}
	a.remembered = a.memory.Written()
	a.endRecall(ctx, e, targets)
	a.awake(ctx)
	if !a.isSeated() { // another command came in between
		a.reseat()
		a.settleAll(ctx)
	}
}

// endRecall tells what a recall came to, and deals with it. It gives the event as it was, or
// would have been, told.
func (a *Agent) endRecall(ctx context.Context, e Event, targets []recall.Target) Event {
	var refused *recall.Refused
	var stale *recall.Stale
	gone := isUnreached(e.Err) && ctx.Err() == nil
	switch {
	case errors.As(e.Err, &stale):
		a.tryAgain(targets, e.Changes)
		e.Kind = Trouble
		return e
	case e.Result != nil:
		e.Kind = Recalled
		a.took(e.Result)
	case errors.As(e.Err, &refused):
		e.Kind = Refused
	case ctx.Err() != nil: // nothing was sent
		e.Kind = Trouble
		return e
	case gone:
		a.forgetTold(e.Changes)
		a.miss(e.Err)
		e.Kind = Trouble
		return e
	default:
		e.Kind = Trouble
		if e.Text == "" {
			e.Text = e.Err.Error()
		}
	}
	e.Changes = nil // the plan has them
	a.tell(e)
	if gone {
		a.miss(e.Err)
	}
	return e
}

// tryAgain has changes judged anew once their places rest: a hand was faster.
func (a *Agent) tryAgain(targets []recall.Target, changes []scenes.Change) {
	a.forgetTold(changes)
	for _, t := range targets {
		a.rest(t.Place)
	}
}

// isUnreached reports whether an error says that the desk, or the link to it, is.
func isUnreached(err error) bool {
	var link *net.OpError
	var other *desk.OtherDesk
	return errors.Is(err, desk.ErrSilent) || errors.Is(err, net.ErrClosed) || errors.As(err, &link) || errors.As(err, &other)
}

// took notes what a recall has proved, and what a hand did meanwhile.
func (a *Agent) took(result *recall.Result) {
	for q, c := range result.Confirmed {
		a.held[q], a.heard[q] = c.Setting().Value, false
		a.forgetRecorded(q, a.held[q])
		if q.Name != "mute" {
			a.agree(q, a.held[q])
		}
	}
	for _, m := range result.Moved {
		a.held[m.Parameter] = m.Found
		a.rest(m.Parameter.Place)
	}
	a.recordedBefore(result.Plan.Moves)
	for _, part := range result.Plan.Parts {
		a.assume(part.Place)
		delete(a.lost, part.Place)
		a.noteMute(part.Place)
		if _, unfinished := a.memory.Unfinished[part.Position]; unfinished {
			a.ours[part.Position] = true
		}
	}
}
