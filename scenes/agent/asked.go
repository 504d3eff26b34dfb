package agent

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// asking is something that was asked for over the network, and where its outcome goes.
type asking struct {
	ask     Ask
	outcome chan remoteOutcome
}

// asked is the agent as the remote control sees it.
type asked struct{ *Agent }

// Do has the agent's own goroutine do what is asked for.
func (a asked) Do(ctx context.Context, ask Ask) (RemoteDone, error) {
	q := asking{ask, make(chan remoteOutcome, 1)}
	select {
	case a.asks <- q:
	case <-ctx.Done():
		return RemoteDone{}, &RemoteFailure{CodeEnding, "the agent is ending"}
	}
	o := <-q.outcome // whoever has taken the question answers it
	return o.done, o.err
}

// Hold has the agent do nothing of its own accord until it's told to go on.
func (a asked) Hold(on bool) {
	if a.holding.Swap(on) && !on {
		select {
		case a.goOn <- struct{}{}:
		default:
		}
	}
}

// State says how things stand.
func (a asked) State() RemoteState {
	state := *a.state.Load()
	state.Hold = a.holding.Load()
	return state
}

// answer does what is asked for and answers it. What comes when all is ending is not done.
func (a *Agent) answer(ctx context.Context, q asking) {
	done, err := a.do(ctx, q.ask)
	q.outcome <- remoteOutcome{done, err}
	a.publish()
}

func (a *Agent) do(ctx context.Context, ask Ask) (RemoteDone, error) {
	if a.line.desk == nil {
		return RemoteDone{}, &RemoteFailure{CodeDesk, "the desk does not answer"}
	}
	a.lookAtMemory(ctx)
	r := &recall.Recaller{Book: a.book, Venue: a.venue, Memory: a.memory, Desk: a.line.desk, Command: "watch: " + ask.String()}
	switch ask := ask.(type) {
	case AskSwap:
		r.AllowRise = ask.Rise
		return a.askedTargets(ctx, r, ask, func() ([]*scenes.Resolved, scenes.Fade, error) {
			strips, err := a.swapped(ask)
			return strips, scenes.Fade{}, err
		})
	case AskScene:
		return a.askedTargets(ctx, r, ask, func() ([]*scenes.Resolved, scenes.Fade, error) { return a.sceneOf(ask.Scene) })
	case AskUndo:
		return a.askedPlan(ctx, r, ask, r.PrepareUndo)
	}
	return RemoteDone{}, &RemoteFailure{CodeBook, "there is no running order: name the scene, with /deskhand/scene"}
}

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

// askedTargets recalls strips that were asked for.
func (a *Agent) askedTargets(ctx context.Context, r *recall.Recaller, ask Ask, strips func() ([]*scenes.Resolved, scenes.Fade, error)) (RemoteDone, error) {
	resolved, fade, err := strips()
	if err != nil {
		return RemoteDone{}, &RemoteFailure{CodeBook, firstLine(err)}
	}
	var targets []recall.Target
	for _, s := range resolved {
		target := recall.ForPosition(s)
		target.Fade = fade
		targets = append(targets, target)
	}
	return a.askedPlan(ctx, r, ask, func(ctx context.Context) (*recall.Plan, error) { return r.Prepare(ctx, targets) })
}

// askedPlan carries out a plan that was asked for, and tells it as an event, too.
func (a *Agent) askedPlan(ctx context.Context, r *recall.Recaller, ask Ask, prepare func(context.Context) (*recall.Plan, error)) (RemoteDone, error) {
	a.hear()
	e := Event{Text: ask.String()}
	if e.Plan, e.Err = prepare(ctx); e.Err == nil {
		a.takeRead(e.Plan.Before())
		e.Result, e.Err = r.CarryOut(ctx, e.Plan)
	}
	a.remembered = a.memory.Written()
	a.endRecall(ctx, e, nil)
	if !a.isSeated() {
		a.reseat()
	}
	a.settleAll(ctx)
	return outcomeOf(ask, e)
}

// outcomeOf says for the network what a recall came to.
func outcomeOf(ask Ask, e Event) (RemoteDone, error) {
	var refused *recall.Refused
	switch {
	case e.Result != nil:
		done := RemoteDone{Text: ask.String() + ": all confirmed", Confirmed: len(e.Result.Confirmed), NotConfirmed: len(e.Result.Unproved)}
		if e.Err == nil && e.Result.Complete() {
			return done, nil
		}
		if e.Err != nil {
			return done, &RemoteFailure{CodeBroken, firstLine(e.Err)}
		}
		done.Text = ask.String() + ": not all confirmed; what was not finished stays muted"
		return done, nil
	case errors.As(e.Err, &refused):
		return RemoteDone{}, &RemoteFailure{CodeRefused, firstLine(e.Err)}
	case errors.Is(e.Err, recall.ErrNoUndo):
		return RemoteDone{}, &RemoteFailure{CodeBook, firstLine(e.Err)}
	case isUnreached(e.Err):
		return RemoteDone{}, &RemoteFailure{CodeDesk, firstLine(e.Err)}
	}
	return RemoteDone{}, &RemoteFailure{CodeTrouble, firstLine(e.Err)}
}

func firstLine(err error) string {
	text, _, _ := strings.Cut(err.Error(), "\n")
	return text
}

// publish notes how things stand, for whoever asks from the network.
func (a *Agent) publish() {
	state := &RemoteState{Venue: a.venue.Name, Desk: DeskThere}
	switch {
	case a.line.desk != nil:
	case a.line.other != "":
		state.Desk = DeskOther
	default:
		state.Desk = DeskSilent
	}
	for _, p := range a.venue.Positions {
		state.On = append(state.On, RemoteOn{p.Name, a.memory.On[p.Name]})
		if s := a.seats[p.Place()]; s != nil && s.scene != "" {
			state.Scene = s.scene
		}
	}
	for _, t := range a.told {
		if t.standing == bothMoved {
			state.Unsettled++
		}
	}
	a.state.Store(state)
}

// remote opens the remote control, if there is to be one, and serves it until the
// function that it gives has returned.
func (a *Agent) remote(ctx context.Context) (end func(), err error) {
	if a.o.Remote == "" {
		return func() {}, nil
	}
	r, err := OpenRemote(a.o.Remote, a.book.Remote, asked{a}, func(err error) { a.troubled(err) })
	if err != nil {
		return nil, fmt.Errorf("remote control: %w", err)
	}
	served := make(chan struct{})
	go func() {
		defer close(served)
		if err := r.Serve(ctx); err != nil {
			a.troubled(err)
		}
	}()
	a.tell(Event{Kind: Remoted, Text: r.Address().String()})
	return func() { <-served }, nil
}
