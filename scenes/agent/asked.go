package agent

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// asking is something that was asked for, by whom, and where its outcome goes.
type asking struct {
	ask     Ask
	by      string
	outcome chan Event
}

// Ask has the agent do what is asked for, and gives the event that tells of it: a [Recalled],
// [Refused], [Wrote], or another with Err for what could not be done. It waits for what was
// asked for before; the mute of all positions cuts that short. It must not be called by what
// the agent calls.
func (a *Agent) Ask(ctx context.Context, ask Ask) Event { return a.askBy(ctx, ask, scenes.ByUs) }

func (a *Agent) askBy(ctx context.Context, ask Ask, by string) Event {
	if _, all := ask.(AskMute); all {
		a.cut.short()
	}
	q := asking{ask, by, make(chan Event, 1)}
	select {
	case a.asks <- q:
		return <-q.outcome // whoever has taken the question answers it
	case <-ctx.Done():
		return Event{Kind: Trouble, Err: &RemoteFailure{CodeEnding, "the agent is ending"}}
	}
}

// Hold has the agent do nothing of its own accord until it's told to go on, and where
// somebody is at the keys, send nothing at all.
func (a *Agent) Hold(on bool) {
	if a.holding.Swap(on) == on {
		return
	}
	if !on {
		select {
		case a.goOn <- struct{}{}:
		default:
		}
	}
	a.changed()
}

// HandDid answers what [View.ByHand] asks for: whether a hand has done it. Without a question
// it does nothing.
func (a *Agent) HandDid(done bool) {
	if len(a.view.Load().ByHand) == 0 {
		return
	}
	select {
	case a.hands <- done:
	default: // somebody else has answered
	}
}

// askHand asks whoever sees the view to do something by hand.
func (a *Agent) askHand(ctx context.Context, changes []scenes.Change) (bool, error) {
	if !a.o.Live {
		return false, nil
	}
	v := *a.view.Load()
	v.ByHand = changes
	a.view.Store(&v)
	a.changed()
	defer func() {
		v := *a.view.Load()
		v.ByHand = nil
		a.view.Store(&v)
		a.changed()
	}()
	select {
	case done := <-a.hands:
		return done, nil
	case <-ctx.Done():
		return false, ctx.Err()
	}
}

// cutter ends what is being done, for what must not wait.
type cutter struct {
	mu  sync.Mutex
	end context.CancelFunc // nil while nothing is being done
}

func (c *cutter) short() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.end != nil {
		c.end()
	}
}

// begin gives a context that can be cut short, until the function that it gives is called.
func (c *cutter) begin(ctx context.Context) (context.Context, func()) {
	ctx, end := context.WithCancel(ctx)
	c.mu.Lock()
	c.end = end
	c.mu.Unlock()
	return ctx, func() {
		c.mu.Lock()
		c.end = nil
		c.mu.Unlock()
		end()
	}
}

// answer does what is asked for and answers it. What comes when all is ending is not done.
func (a *Agent) answer(ctx context.Context, q asking) {
	doing, end := a.cut.begin(ctx)
	a.asking = &q
	e := a.do(doing, q.ask)
	a.asking = nil
	end()
	e.Asked, e.By = q.ask, q.by
	if e.Text == "" {
		e.Text = q.ask.String()
	}
	a.foresee()
	a.publish()
	q.outcome <- e
}

// do does one thing that is asked for.
func (a *Agent) do(ctx context.Context, ask Ask) Event {
	failed := func(err error) Event { return Event{Kind: Trouble, Text: ask.String(), Err: err} }
	switch {
	case a.line.desk == nil:
		return failed(&RemoteFailure{CodeDesk, "the desk does not answer"})
	case a.o.Live && a.holding.Load():
		return failed(ErrHeld)
	}
	a.lookAtMemory(ctx)
	r := a.recaller(a.commandOf(ask))
	r.Hand = a.askHand
	r.Progress = func(what string, done, of int) { a.showDoing(ask.String()+": "+what, done, of) }
	switch ask := ask.(type) {
	case AskSwap:
		r.AllowRise = ask.Rise
		return a.askedStrips(ctx, r, ask, func() ([]*scenes.Resolved, scenes.Fade, error) {
			strips, err := a.swapped(ask)
			return strips, scenes.Fade{Time: ask.Fade}, err
		})
	case AskScene:
		return a.askedStrips(ctx, r, ask, func() ([]*scenes.Resolved, scenes.Fade, error) { return a.sceneOf(ask.Scene) })
	case AskNext:
		return a.askedItem(ctx, r, ask, ask.From, +1, ask.Rise)
	case AskBack:
		return a.askedItem(ctx, r, ask, ask.From, -1, ask.Rise)
	case AskItem:
		return a.askedItem(ctx, r, ask, WhicheverIsOn, ask.Number-a.order.number, ask.Rise)
	case AskUndo:
		return a.askedUndo(ctx, r, ask)
	case AskKeep:
		return a.askedKeep(ctx, r, ask)
	case AskMute:
		return a.askedPlan(ctx, r, ask, func(ctx context.Context) (*recall.Plan, error) { return r.Prepare(ctx, a.allMuted()) })
	}
	return failed(fmt.Errorf("%s: nobody knows what that is", ask))
}

// commandOf is what others are told of what is being done.
func (a *Agent) commandOf(ask Ask) string {
	if a.o.Live {
		return "run: " + ask.String()
	}
	return "watch: " + ask.String()
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
	if !a.isSeated() {
		a.reseat()
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

// outcomeOf says for the network what was done.
func outcomeOf(ask Ask, e Event) (RemoteDone, error) {
	var refused *recall.Refused
	var failure *RemoteFailure
	var beside *Beside
	switch {
	case e.Result != nil:
		return resultOf(ask, e)
	case errors.As(e.Err, &failure):
		return RemoteDone{}, failure
	case errors.As(e.Err, &refused), errors.Is(e.Err, ErrHeld), errors.As(e.Err, &beside):
		return RemoteDone{}, &RemoteFailure{CodeRefused, firstLine(e.Err)}
	case errors.Is(e.Err, recall.ErrNoUndo):
		return RemoteDone{}, &RemoteFailure{CodeBook, firstLine(e.Err)}
	case isUnreached(e.Err):
		return RemoteDone{}, &RemoteFailure{CodeDesk, firstLine(e.Err)}
	case e.Err != nil:
		return RemoteDone{}, &RemoteFailure{CodeTrouble, firstLine(e.Err)}
	}
	return RemoteDone{Text: ask.String() + ": done"}, nil
}

// resultOf says for the network what a recall came to.
func resultOf(ask Ask, e Event) (RemoteDone, error) {
	done := RemoteDone{Text: ask.String() + ": all confirmed", Confirmed: len(e.Result.Confirmed), NotConfirmed: len(e.Result.Unproved)}
	if e.Err == nil && e.Result.Complete() {
		return done, nil
	}
	if e.Err != nil {
		return done, &RemoteFailure{CodeBroken, firstLine(e.Err)}
	}
	done.Text = ask.String() + ": not all confirmed; what was not finished stays muted"
	return done, nil
}

func firstLine(err error) string {
	text, _, _ := strings.Cut(err.Error(), "\n")
	return text
}

// publish notes how things stand, for whoever asks.
func (a *Agent) publish() {
	state := &RemoteState{Venue: a.venue.Name, Desk: a.deskState()}
	for _, p := range a.venue.Positions {
		state.On = append(state.On, RemoteOn{p.Name, a.memory.On[p.Name]})
		if s := a.seats[p.Place()]; s != nil && s.scene != "" {
			state.Scene = s.scene
		}
	}
	if o := a.order.order; o != nil {
		state.Scene, state.Next = "", ""
		if n := a.order.number; n > 0 {
			state.Scene = o.Items[n-1].Title
		}
		if n := a.order.number; n < len(o.Items) {
			state.Next = o.Items[n].Title
		}
	}
	for _, t := range a.told {
		if t.standing == bothMoved {
			state.Unsettled++
		}
	}
	a.state.Store(state)
	a.show()
}
