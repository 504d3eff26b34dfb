package agent

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

// asked is the agent as the remote control sees it.
type asked struct{ *Agent }

// Do has the agent's own goroutine do what is asked for.
func (a asked) Do(ctx context.Context, ask Ask, absences uint64) (RemoteDone, error) {
	return outcomeOf(ask, a.askBy(ctx, ask, scenes.ByRemote, absences))
}

// Hold holds, or releases.
func (a asked) Hold(on bool) { a.holdBy(on, scenes.ByRemote) }

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
	case errors.As(e.Err, new(*desk.Away)):
		return RemoteDone{}, &RemoteFailure{CodeLate, firstLine(e.Err)}
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
