package agent

import (
	"context"
	"fmt"

	"deskhand/scenes"
)

// asked is the agent as the remote control sees it.
type asked struct{ *Agent }

// Do has the agent's own goroutine do what is asked for.
func (a asked) Do(ctx context.Context, ask Ask) (RemoteDone, error) {
	return outcomeOf(ask, a.askBy(ctx, ask, scenes.ByRemote))
}

// State says how things stand.
func (a asked) State() RemoteState {
	state := *a.state.Load()
	state.Hold = a.holding.Load()
	return state
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
