package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"deskhand/scenes/agent"
	"deskhand/scenes/recall"

	tea "charm.land/bubbletea/v2"
)

// louder is what a limit has refused, and what would let it through.
type louder struct {
	ask     agent.Ask
	what    string
	reasons []string
	rise    float64
}

// refuse answers a key with a word, and sends nothing.
func (s *screen) refuse(why string) tea.Cmd {
	s.answer = answer{text: why, bad: true}
	return nil
}

// send has something done, unless something is being done.
func (s *screen) send(ask agent.Ask) tea.Cmd {
	switch {
	case s.leaving:
		return s.refuse("leaving: nothing more is sent")
	case s.isBusy():
		return s.refuse("not taken: something is being done. m mutes all at once")
	case s.view.Hold && !isKeep(ask):
		return s.refuse("held: h releases it; m releases it and mutes all")
	}
	return s.start(ask)
}

func isKeep(ask agent.Ask) bool {
	_, is := ask.(agent.AskKeep)
	return is
}

// muteAll mutes all positions, whatever else goes on. It releases a hold, as whoever presses
// the key wants silence now.
func (s *screen) muteAll() tea.Cmd {
	if s.view.Hold {
		s.toggleHold()
	}
	return s.start(agent.AskMute{})
}

func (s *screen) start(ask agent.Ask) tea.Cmd {
	s.louder = nil // what was asked before is not what is wanted now
	s.asked = append(s.asked, ask)
	s.answer = answer{text: ask.String() + " ..."}
	return func() tea.Msg { return doneMsg{ask, s.acts.ask(ask)} }
}

// answered takes the answer to what was asked for.
func (s *screen) answered(m doneMsg) tea.Cmd {
	if i := slices.Index(s.asked, m.ask); i >= 0 {
		s.asked = slices.Delete(s.asked, i, i+1)
	}
	if m.event.Result != nil {
		s.half = halfOf(m.event)
	}
	s.answer = s.answerTo(m.ask, m.event)
	s.note(s.acts.now().Local().Format("15:04:05") + "  " + s.answer.text)
	if s.leaving && len(s.asked) == 0 {
		return tea.Quit
	}
	if l := louderOf(m.ask, m.event); l != nil {
		s.louder = l
		s.askLouder()
	}
	return nil
}

// askLouder asks what is still to be asked, unless another question is open: a key that was
// meant for that one must not let anything get louder.
func (s *screen) askLouder() {
	if s.louder != nil && s.mode == running {
		s.mode = askingLouder
	}
}

// answerTo says what something came to.
func (s *screen) answerTo(ask agent.Ask, e agent.Event) answer {
	words := []string{ask.String() + ": "}
	switch {
	case e.Result != nil:
		done := recalled{plan: e.Plan, result: e.Result, err: e.Err}
		words = append(words, s.app.printed(func(a *app) { a.sayResult(done) }))
		if e.Plan.Nothing() {
			words = append(words, "nothing differs, the desk holds this already")
		}
	case e.Kind == agent.Wrote:
		words = append(words, s.app.printed(func(a *app) { fmt.Fprint(a.out, a.sayWhat(s.view.Venue, e)+sayApart(e.Apart)) }))
	case e.Kind == agent.Moved:
		words = append(words, sayNothingKept(e))
	}
	if e.Err != nil {
		words = append(words, sayFailure(e.Err))
	}
	bad := e.Err != nil || e.Result != nil && !e.Result.Complete()
	return answer{text: onOneLine(strings.Join(words, "")), bad: bad}
}

// sayFailure is an error without the flags that a command line has.
func sayFailure(err error) string {
	if refused := new(recall.Refused); errors.As(err, &refused) {
		return err.Error()
	}
	return plainError(err)
}

// louderOf is what is to be asked once more, nil where no rise would let it through.
func louderOf(ask agent.Ask, e agent.Event) *louder {
	rise := riseOf(e)
	can, ok := ask.(agent.Louder)
	if !ok || !(rise > 0 && rise <= mostRise) {
		return nil
	}
	l := &louder{ask: can.Allowing(rise), what: ask.String(), rise: rise}
	if refused := new(recall.Refused); errors.As(e.Err, &refused) {
		l.reasons = refused.Reasons
	}
	return l
}

// louderKey answers the question whether something may get louder.
func (s *screen) louderKey(word string) tea.Cmd {
	l := s.louder
	s.louder, s.mode = nil, running
	if word == "l" {
		return s.send(l.ask)
	}
	s.answer = answer{text: l.what + ": not sent, as it was too loud"}
	return nil
}
