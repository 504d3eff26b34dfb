package main

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"

	"deskhand/scenes"
	"deskhand/scenes/agent"
	"deskhand/scenes/desk"
)

// plain is an event that is run in lines.
type plain struct {
	app   *app
	agent *agent.Agent
	// begun is closed once the desk was met, or was found silent.
	begun chan struct{}
	once  sync.Once
	// met says that it was told, and that the next view is the first whole one.
	met atomic.Bool
	// there says that the desk was there once.
	there atomic.Bool
	// changed has one in it when there is another view.
	changed chan struct{}
	// hands are what was typed of what a hand has to do.
	hands chan bool
	// half is the error of the last thing done, where that is not all confirmed.
	half error
	// saying is held while an answer is printed.
	saying sync.Mutex
}

// runPlain reads commands line by line, and answers in lines, until the input ends.
func (a *app) runPlain(ctx context.Context, o agent.Options) error {
	ctx, end := context.WithCancel(ctx)
	defer end()
	p := &plain{app: a, begun: make(chan struct{}), changed: make(chan struct{}, 1), hands: make(chan bool, 16)}
	o.Tell, o.Changed = p.tell, p.noteChange
	p.agent = agent.New(o)
	ended := make(chan error, 1)
	go func() { ended <- p.agent.Run(ctx) }()
	select {
	case <-p.begun:
	case err := <-ended:
		return err
	}
	var waits sync.WaitGroup
	waits.Go(func() { p.askHands(ctx) })
	p.sayStatus()
	p.commands(ctx)
	end()
	waits.Wait()
	return errors.Join(<-ended, p.outcome())
}

// outcome is the error with which it ends.
func (p *plain) outcome() error {
	if p.half == nil && !p.there.Load() {
		return unreached{fmt.Errorf("%w at %s: nothing was sent", desk.ErrSilent, p.agent.View().Venue.Desk.Address)}
	}
	return p.half
}

// tell prints what happens without having been asked for.
func (p *plain) tell(e agent.Event) {
	if e.Asked == nil || e.By != scenes.ByUs {
		p.app.sayEvent(p.agent.View().Venue, e)
	}
	if e.Kind == agent.Began {
		p.there.Store(true)
	}
	switch e.Kind {
	case agent.Began, agent.Silent, agent.Other:
		p.met.Store(true)
	}
}

func (p *plain) noteChange() {
	if p.met.Load() {
		p.once.Do(func() { close(p.begun) })
	}
	select {
	case p.changed <- struct{}{}:
	default:
	}
}

// askHands asks for what a hand has to do while positions are muted, and passes the answer on.
func (p *plain) askHands(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-p.changed:
		}
		changes := p.agent.View().ByHand
		if len(changes) == 0 {
			continue
		}
		p.app.sayHandsPlain(changes)
		select {
		case <-ctx.Done():
			return
		case done := <-p.hands:
			p.agent.HandDid(done)
		}
	}
}

// commands does what is typed, one after the other, until the input or the context ends.
func (p *plain) commands(ctx context.Context) {
	lines := make(chan typed)
	go func() { // nothing can wake it from its reading but the input, or the program's end
		defer close(lines)
		readTyped(ctx, p.app.in, lines)
	}()
	todo := make(chan waitingLine, 64)
	var worker sync.WaitGroup
	quit := make(chan struct{})
	worker.Go(func() {
		defer close(quit)
		for line := range todo {
			if !p.command(ctx, line) {
				return
			}
		}
	})
	defer worker.Wait()
	defer close(todo)
	for {
		select {
		case <-ctx.Done():
			return
		case <-quit:
			return
		case t, more := <-lines:
			if !more || !p.take(ctx, t, todo) {
				return
			}
		}
	}
}

// waitingLine is a command that waits for its turn, and how many absences there were before
// it was typed.
type waitingLine struct {
	text   string
	before uint64
}

// take takes one line in: what must not wait is done at once.
func (p *plain) take(ctx context.Context, t typed, todo chan<- waitingLine) bool {
	switch {
	case t.err != nil:
		p.app.complain(t.err)
	case t.line == "":
	case t.line == "done" || t.line == "not done":
		select {
		case p.hands <- t.line == "done":
		default: // nobody asked for so many
		}
	case t.line == "mute now":
		p.sayDone(p.ask(ctx, agent.AskMute{}, p.agent.Absences()))
	default:
		select {
		case todo <- waitingLine{t.line, p.agent.Absences()}:
		case <-ctx.Done():
			return false
		}
	}
	return true
}

// command does one line, and reports whether to go on.
func (p *plain) command(ctx context.Context, line waitingLine) bool {
	ask, word, err := readCommand(line.text)
	switch {
	case err != nil:
		p.sayWrong(err)
	case ask != nil:
		p.sayDone(p.ask(ctx, p.fromHere(ask), line.before))
	case word == "quit":
		return false
	case word == "hold", word == "release":
		p.agent.Hold(word == "hold")
		p.sayStatus()
	case word == "status":
		p.sayStatus()
	case word == "ahead":
		p.sayAhead()
	case word == "help":
		fmt.Fprint(p.app.out, plainHelp)
	}
	return true
}

// ask has something done. Who mutes all wants silence now: that releases a hold.
func (p *plain) ask(ctx context.Context, ask agent.Ask, absences uint64) agent.Event {
	if _, mutes := ask.(agent.AskMute); mutes {
		p.agent.Hold(false)
	}
	return p.agent.AskSince(ctx, ask, absences)
}

// fromHere gives the scene that is on when the line's turn has come to what goes on from it.
func (p *plain) fromHere(ask agent.Ask) agent.Ask {
	if again, is := ask.(agent.AskItem); is && again.Number == 0 {
		again.Number = p.agent.View().Number
		return again
	}
	return ask
}
