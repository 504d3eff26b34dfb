package agent

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// swapped is the strip of a performer on a position.
func (a *Agent) swapped(ask AskSwap) ([]*scenes.Resolved, error) {
	if !slices.Contains(a.book.Names(scenes.Performers), ask.Performer) {
		return nil, fmt.Errorf("there is no performer %q in the book%s", ask.Performer, source.DidYouMean(ask.Performer, a.book.Names(scenes.Performers)))
	}
	cast, err := a.book.CastFor(a.venue, ask.Position, ask.Performer, nil)
	if err != nil {
		return nil, err
	}
	strip, err := a.venue.Resolve(cast)
	return []*scenes.Resolved{strip}, err
}

// sceneOf are the strips of a scene of this venue, and how it fades.
func (a *Agent) sceneOf(name string) ([]*scenes.Resolved, scenes.Fade, error) {
	if !slices.Contains(a.book.Names(scenes.Scenes), name) {
		return nil, scenes.Fade{}, fmt.Errorf("there is no scene %q in the book%s", name, source.DidYouMean(name, a.book.Names(scenes.Scenes)))
	}
	scene, err := a.book.Scene(name)
	if err != nil {
		return nil, scenes.Fade{}, err
	}
	if scene.Venue != a.venue.Name {
		return nil, scenes.Fade{}, fmt.Errorf("%s: the scene is at %q, not at %q", scene.File, scene.Venue, a.venue.Name)
	}
	_, strips, err := a.book.ResolveScene(scene)
	return strips, scene.Fade, err
}

// allMuted are the targets that close every position of the venue, and leave who is there.
func (a *Agent) allMuted() []recall.Target {
	closed := false
	var targets []recall.Target
	for i := range a.venue.Positions {
		p := &a.venue.Positions[i]
		if _, has := a.venue.Desk.Profile.Control(muteOf(p.Place())); has {
			targets = append(targets, recall.Target{
				Place: p.Place(), Position: p.Name, Performer: a.memory.On[p.Name], Scene: a.memory.Scenes[p.Name], Open: &closed,
			})
		}
	}
	return targets
}

// askedStrips recalls strips that were asked for.
func (a *Agent) askedStrips(ctx context.Context, r *recall.Recaller, ask Ask, strips func() ([]*scenes.Resolved, scenes.Fade, error)) Event {
	resolved, fade, err := strips()
	if err != nil {
		return Event{Kind: Trouble, Text: ask.String(), Err: &RemoteFailure{CodeBook, firstLine(err)}}
	}
	targets := targetsOf(resolved, fade)
	return a.askedPlan(ctx, r, ask, func(ctx context.Context) (*recall.Plan, error) { return r.Prepare(ctx, targets) })
}

// targetsOf are the targets of strips that fade alike.
func targetsOf(strips []*scenes.Resolved, fade scenes.Fade) []recall.Target {
	targets := make([]recall.Target, len(strips))
	for i, s := range strips {
		targets[i] = recall.ForPosition(s)
		targets[i].Fade = fade
	}
	return targets
}

// askedPlan carries out a plan that was asked for, and tells it as an event, too. Where
// another deskhand, or a hand, was faster, the plan is made anew, once: who asked last is on.
func (a *Agent) askedPlan(ctx context.Context, r *recall.Recaller, ask Ask, prepare func(context.Context) (*recall.Plan, error)) Event {
	a.hear()
	e := a.attempt(ctx, r, ask, prepare)
	if stale := new(recall.Stale); errors.As(e.Err, &stale) {
		e = a.attempt(ctx, r, ask, prepare)
	}
	a.remembered = a.memory.Written()
	told := a.endRecall(ctx, e, nil)
	a.awake(ctx)
	if !a.isSeated() {
		a.reseat()
	}
	if told.Err == nil && told.Result != nil && told.Result.Complete() {
		a.welcomeRecalled(told.Result)
	}
	a.settleAll(ctx)
	a.forebode()
	return told
}

func (a *Agent) attempt(ctx context.Context, r *recall.Recaller, ask Ask, prepare func(context.Context) (*recall.Plan, error)) Event {
	e := Event{Text: ask.String()}
	if e.Plan, e.Err = prepare(ctx); e.Err == nil {
		a.takeRead(e.Plan.Before())
		e.Result, e.Err = r.CarryOut(ctx, e.Plan)
	}
	return e
}

// askedUndo takes back the last recall, and the step in the running order with it.
func (a *Agent) askedUndo(ctx context.Context, r *recall.Recaller, ask AskUndo) Event {
	r.AllowRise = ask.Rise
	e := a.askedPlan(ctx, r, ask, r.PrepareUndo)
	a.takeStep()
	return e
}

// askedItem puts a scene of the running order on, by so many from the one that is on.
func (a *Agent) askedItem(ctx context.Context, r *recall.Recaller, ask Ask, from, by int, rise float64) Event {
	failed := func(err error) Event { return Event{Kind: Trouble, Text: ask.String(), Err: err} }
	o := a.order.order
	number := a.order.number + by
	switch {
	case o == nil:
		return failed(&RemoteFailure{CodeBook, "there is no running order: name the scene, with /deskhand/scene, or begin with a running order"})
	case from != WhicheverIsOn && from != a.order.number:
		return failed(&Beside{From: from, On: a.order.number})
	case number < 1:
		return failed(&RemoteFailure{CodeBook, "there is no scene before this one"})
	case number > len(o.Items):
		return failed(&RemoteFailure{CodeBook, fmt.Sprintf("the running order has no more scenes: there are %d", len(o.Items))})
	}
	r.AllowRise = rise
	before := a.latestUndo()
	e := a.askedStrips(ctx, r, ask, func() ([]*scenes.Resolved, scenes.Fade, error) {
		_, strips, err := a.book.ResolveItem(o, number)
		return strips, o.Items[number-1].Scene.Fade, err
	})
	if e.Result != nil && e.Err == nil && e.Result.Complete() {
		undo := a.latestUndo()
		if undo.IsSame(before) { // nothing had to be sent
			undo = nil
		}
		a.moveTo(number, undo)
	}
	return e
}

// latestUndo is what an undo would go back to, nil for nothing.
func (a *Agent) latestUndo() *scenes.Reading {
	r, _, err := a.memory.Undo()
	if err != nil {
		return nil // whoever wants to undo is told why
	}
	return r
}
