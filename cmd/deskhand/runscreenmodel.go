package main

import (
	"time"

	"deskhand/scenes"
	"deskhand/scenes/agent"

	tea "charm.land/bubbletea/v2"
)

// screenActs are what the screen can have done. None of them but ask waits.
type screenActs struct {
	ask        func(agent.Ask) agent.Event
	hold       func(bool)
	handDid    func(bool)
	performers func() []string
	now        func() time.Time
}

// screen is what the full screen shows of an event, and what its keys mean just now. It
// knows no terminal and no desk: messages come in, text comes out.
type screen struct {
	app   *app
	acts  screenActs
	look  looks
	view  *agent.View
	ahead []line // what will change, made anew with each foreseen scene
	// scroll is the first line of it that is shown, and room how many were.
	scroll, room  int
	width, height int
	// said are the latest events, the newest last; answer is that to the last key.
	said   []string
	answer answer
	// asked are what this screen has asked for and has no answer to.
	asked []agent.Ask
	// pressed is the last key of those that count once, and moved when it was pressed.
	pressed string
	moved   time.Time
	// handSince is when what is for a hand was first shown.
	handSince time.Time
	mode      mode
	// louder is what was refused for loudness and can be let through, also while another
	// question is open; nil for nothing.
	louder  *louder
	chooser chooser
	finder  finder
	// leaving says that the screen ends once what is being done is done.
	leaving bool
	// half is the error of the last thing done, where that is not all confirmed.
	half error
}

// mode is which keys are meant: each but running is a question that is open.
type mode int

const (
	running mode = iota
	askingLouder
	choosing
	finding
	leavingMode
	helping
)

// answer is what the last key came to.
type answer struct {
	text string
	// bad says that it did not come to what was asked for.
	bad bool
}

// newsMsg is another view, and what has happened.
type newsMsg struct {
	view   *agent.View
	events []agent.Event
}

// doneMsg is the answer to what was asked for.
type doneMsg struct {
	ask   agent.Ask
	event agent.Event
}

// clockMsg has the times on the screen shown anew.
type clockMsg struct{}

const clockBeat = time.Second

func newScreen(a *app, v *agent.View, acts screenActs) *screen {
	s := &screen{app: a, acts: acts, look: looksFor(a.paint.on), width: 80, height: 24}
	s.take(v)
	return s
}

// Init starts the clock.
func (s *screen) Init() tea.Cmd { return beat() }

func beat() tea.Cmd { return tea.Tick(clockBeat, func(time.Time) tea.Msg { return clockMsg{} }) }

// Update takes one message in.
func (s *screen) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		s.width, s.height = msg.Width, msg.Height
	case newsMsg:
		s.take(msg.view)
		for _, e := range msg.events {
			s.hear(e)
		}
	case doneMsg:
		return s, s.answered(msg)
	case clockMsg:
		return s, beat()
	case tea.PasteMsg:
		if s.mode == finding {
			s.finder.add(msg.Content)
		}
	case tea.KeyPressMsg:
		return s, s.key(msg)
	}
	return s, nil
}

// take takes another view.
func (s *screen) take(v *agent.View) {
	before := s.view
	s.view = v
	if before == nil || before.Next != v.Next || before.Desk != v.Desk {
		if before == nil || before.Number != v.Number {
			s.scroll = 0
		}
		s.ahead = s.aheadLines()
	}
	switch {
	case len(v.ByHand) == 0:
		s.handSince = time.Time{}
	case before == nil || len(before.ByHand) == 0:
		s.handSince = s.acts.now()
	}
}

// mostSaid is how many events are remembered.
const mostSaid = 50

// hear notes what has happened without having been asked for here.
func (s *screen) hear(e agent.Event) {
	if e.Asked != nil && e.By == scenes.ByUs {
		return // its answer says so
	}
	text := s.app.printed(func(a *app) { a.sayEvent(s.view.Venue, e) })
	s.note(onOneLine(text))
}

func (s *screen) note(text string) {
	s.said = append(s.said, text)
	if len(s.said) > mostSaid {
		s.said = s.said[len(s.said)-mostSaid:]
	}
}

// isBusy reports whether something is being done, here or at another's asking.
func (s *screen) isBusy() bool { return len(s.asked) > 0 || s.view.Doing != "" }

// View gives the screen.
func (s *screen) View() tea.View {
	v := tea.NewView(s.text())
	v.AltScreen = true
	return v
}
