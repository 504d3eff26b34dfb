package main

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"deskhand/scenes"
	"deskhand/scenes/agent"
	"deskhand/scenes/desk"

	tea "charm.land/bubbletea/v2"
)

// runScreen shows an event on the whole screen until the person leaves it or the context
// ends. The terminal is as it was before whenever it returns.
func (a *app) runScreen(ctx context.Context, o agent.Options) error {
	ctx, end := context.WithCancel(ctx)
	defer end()
	f := &feed{wake: make(chan struct{}, 1)}
	o.Tell, o.Changed = f.tell, f.poke
	ag := agent.New(o)
	ended := make(chan error, 1)
	go func() {
		defer end() // the screen ends with the agent
		ended <- runWhole(ctx, ag)
	}()
	select {
	case err := <-ended: // it could not begin
		return err
	case <-f.wake:
		f.poke()
	}
	s := newScreen(a, ag.View(), screenActs{
		ask:        func(ask agent.Ask) agent.Event { return ag.Ask(ctx, ask) },
		hold:       ag.Hold,
		handDid:    ag.HandDid,
		performers: func() []string { return performersOf(o.Dir) },
		now:        time.Now,
	})
	// The signals are the program's own, which end the context.
	program := tea.NewProgram(s, tea.WithInput(a.given.in), tea.WithOutput(a.given.out), tea.WithoutSignalHandler())
	var waits sync.WaitGroup
	waits.Go(func() { f.pass(ctx, program, ag) })
	last, err := program.Run()
	end()
	waits.Wait()
	if shown, is := last.(*screen); is && shown.half != nil {
		err = errors.Join(err, shown.half)
	}
	return errors.Join(<-ended, err, f.outcome(ag, err))
}

// runWhole runs the agent, and gives a fault of our own as an error, so that the terminal is
// restored before it's told.
func runWhole(ctx context.Context, ag *agent.Agent) (err error) {
	defer func() {
		if broken := recover(); broken != nil {
			err = unfinished{fmt.Errorf("a fault of deskhand's own (%v): look at the desk, and start run again; it goes on where it was", broken)}
		}
	}()
	return ag.Run(ctx)
}

// performersOf are the performers of a book, as its folder has them now.
func performersOf(dir string) []string {
	b, err := scenes.Open(dir)
	if err != nil {
		return nil
	}
	return b.Names(scenes.Performers)
}

// feed takes what the agent tells to the screen, and never keeps the agent waiting.
type feed struct {
	mu     sync.Mutex
	events []agent.Event
	// there says that the desk was there once.
	there bool
	// wake has one in it when there is something to take.
	wake chan struct{}
}

func (f *feed) tell(e agent.Event) {
	f.mu.Lock()
	f.events = append(f.events, e)
	f.there = f.there || e.Kind == agent.Began
	f.mu.Unlock()
	f.poke()
}

func (f *feed) poke() {
	select {
	case f.wake <- struct{}{}:
	default:
	}
}

// pass passes on what there is until the context ends, and then has the screen end, too.
func (f *feed) pass(ctx context.Context, program *tea.Program, ag *agent.Agent) {
	for {
		select {
		case <-ctx.Done():
			program.Quit()
			return
		case <-f.wake:
		}
		f.mu.Lock()
		events := f.events
		f.events = nil
		f.mu.Unlock()
		program.Send(newsMsg{view: ag.View(), events: events})
	}
}

// outcome is the error of a desk that was never there, unless something else went wrong.
func (f *feed) outcome(ag *agent.Agent, err error) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err != nil || f.there {
		return nil
	}
	return unreached{fmt.Errorf("%w at %s: nothing was sent", desk.ErrSilent, ag.View().Venue.Desk.Address)}
}
