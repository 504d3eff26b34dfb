package agent

import (
	"context"
	"fmt"
	"sync"
	"time"

	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// asking is something that was asked for, by whom, and where its outcome goes.
type asking struct {
	ask     Ask
	by      string
	outcome chan Event
	// before is how many absences there were when it was asked for.
	before uint64
}

// Ask has the agent do what is asked for, and gives the event that tells of it: a [Recalled],
// [Refused], [Wrote], or another with Err for what could not be done. It waits for what was
// asked for before; the mute of all positions cuts that short. It must not be called by what
// the agent calls.
func (a *Agent) Ask(ctx context.Context, ask Ask) Event {
	return a.askBy(ctx, ask, scenes.ByUs, a.Absences())
}

func (a *Agent) askBy(ctx context.Context, ask Ask, by string, before uint64) Event {
	if _, all := ask.(AskMute); all {
		a.cut.short()
	}
	q := asking{ask, by, make(chan Event, 1), before}
	select {
	case a.asks <- q:
		return <-q.outcome // whoever has taken the question answers it
	case <-ctx.Done():
		return Event{Kind: Trouble, Err: &RemoteFailure{CodeEnding, "the agent is ending"}}
	}
}

// Hold has the agent do nothing of its own accord until it's told to go on, and where
// somebody is at the keys, send nothing at all.
func (a *Agent) Hold(on bool) { a.holdBy(on, scenes.ByUs) }

func (a *Agent) holdBy(on bool, by string) {
	if a.holding.Swap(on) == on {
		return
	}
	a.noteHold(holdPressed{on, by, time.Now()})
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
	answers := a.hands.Load()
	if answers == nil {
		return
	}
	select {
	case *answers <- done:
	default: // somebody else has answered
	}
}

// askHand asks whoever sees the view to do something by hand.
func (a *Agent) askHand(ctx context.Context, changes []scenes.Change) (bool, error) {
	if !a.o.Live {
		return false, nil
	}
	answers := make(chan bool, 1) // an answer may come before anybody waits for it
	a.hands.Store(&answers)
	defer a.hands.Store(nil)
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
	case done := <-answers:
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
	e := a.do(doing, q)
	a.asking = nil
	end()
	a.vigil.Look() // what waits behind it must be known to be late
	e.Asked, e.By = q.ask, q.by
	if e.Text == "" {
		e.Text = q.ask.String()
	}
	a.foresee()
	a.publish()
	q.outcome <- e
}

// do does one thing that is asked for.
func (a *Agent) do(ctx context.Context, q asking) Event {
	ask := q.ask
	failed := func(err error) Event { return Event{Kind: Trouble, Text: ask.String(), Err: err} }
	switch {
	case a.line.desk == nil:
		return a.recordUndone(failed(&RemoteFailure{CodeDesk, "the desk does not answer"}))
	case a.o.Live && a.holding.Load() && sends(ask):
		return a.recordUndone(failed(ErrHeld))
	case a.isLate(q):
		return a.recordUndone(failed(errLate))
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

// sends reports whether what is asked for sends anything to the desk.
func sends(ask Ask) bool {
	_, keeps := ask.(AskKeep)
	return !keeps
}

// commandOf is what others are told of what is being done.
func (a *Agent) commandOf(ask Ask) string {
	if a.o.Live {
		return "run: " + ask.String()
	}
	return "watch: " + ask.String()
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
