package main

import (
	"strings"
	"time"

	"deskhand/scenes/agent"

	tea "charm.land/bubbletea/v2"
)

// twice is within what time a second press of a key is the same press.
const twice = 500 * time.Millisecond

// screenKeys are the keys in the order of the help: a name that is short enough for the
// foot of the screen, and what it does.
var screenKeys = []struct{ key, name, does string }{
	{"n", "next", "the next scene (the space bar, too)"},
	{"b", "back", "the scene before"},
	{"a", "again", "the scene that is on, once more"},
	{"s", "swap", "another performer on a position: choose it, then type to find"},
	{"u", "undo", "the desk as it was before the last step"},
	{"k", "keep", "what a hand has moved, into the performer's file"},
	{"h", "hold", "send nothing from now on; again: send again"},
	{"m", "mute all", "all muted at once, also when held (while typing: !)"},
	{"?", "help", "this"},
	{"q", "quit", "leave; the desk stays as it is"},
}

// muteAnywhere mutes all also while a name is typed, where m is a letter.
const muteAnywhere = "!"

const moreKeys = "arrows, page up, page down, home, end: through what will change; ctrl-l: the screen drawn anew"

// key does what a key means just now.
func (s *screen) key(k tea.KeyPressMsg) tea.Cmd {
	word := k.String()
	switch {
	case word == "ctrl+l":
		return tea.ClearScreen
	case word == "ctrl+c":
		return s.leaveKey()
	}
	if s.mode != finding {
		word = strings.ToLower(word)
	}
	if word == muteAnywhere || word == "m" && s.mode != finding {
		s.mode = running
		return s.muteAll()
	}
	if s.mode != finding && isOnce(word) && s.isSamePress(word) {
		return nil
	}
	cmd := s.keyInMode(word, k.Text)
	s.askLouder()
	return cmd
}

// keyInMode is a key by which question is open.
func (s *screen) keyInMode(word, text string) tea.Cmd {
	switch s.mode {
	case finding:
		return s.findKey(word, text)
	case askingLouder:
		return s.louderKey(word)
	case choosing:
		return s.chooseKey(word)
	case leavingMode:
		if word == "y" {
			return s.leave()
		}
		s.mode = running
		s.answer = answer{text: "going on"}
		return nil
	case helping:
		s.mode = running
		return nil
	}
	if len(s.view.ByHand) > 0 && s.handKey(word) {
		return nil
	}
	return s.runningKey(word)
}

// isOnce reports whether a key that is pressed twice by accident would do harm: go on twice,
// or take back what the first press did.
func isOnce(word string) bool {
	switch word {
	case "n", "space", "b", "a", "u", "h":
		return true
	}
	return false
}

// isSamePress reports whether a key comes so soon after itself that it's the same press, and
// has a key that is held down count as one press. Keys that move the event count as one: who
// hits two of them meant one.
func (s *screen) isSamePress(word string) bool {
	if word != "h" {
		word = "moving"
	}
	now := s.acts.now()
	same := s.pressed == word && now.Sub(s.moved) < twice
	s.pressed, s.moved = word, now
	return same
}

// runningKey is a key while no question is open.
func (s *screen) runningKey(word string) tea.Cmd {
	switch word {
	case "n", "space":
		return s.send(agent.AskNext{From: s.view.Number})
	case "b":
		return s.send(agent.AskBack{From: s.view.Number})
	case "a":
		if s.view.Number == 0 {
			return s.refuse("no scene is on yet: n puts the first one on")
		}
		return s.send(agent.AskItem{Number: s.view.Number})
	case "u":
		return s.send(agent.AskUndo{})
	case "s", "k":
		return s.choose(word == "k")
	case "h":
		s.toggleHold()
	case "?":
		s.mode = helping
	case "q":
		s.mode = leavingMode
	default:
		if !s.scrollKey(word) {
			s.refuse(onOneLine(word) + " means nothing here: ? shows the keys")
		}
	}
	return nil
}

func (s *screen) toggleHold() {
	on := !s.view.Hold
	s.acts.hold(on)
	shown := *s.view
	shown.Hold = on // the next view says so, too
	s.view = &shown
	s.answer = answer{text: "released: what is asked for is sent again"}
	if on {
		s.answer.text = "held: nothing is sent until h releases it"
	}
}

// scrollKey moves through what will change.
func (s *screen) scrollKey(word string) bool {
	page := max(s.room-1, 1)
	switch word {
	case "up":
		s.scroll--
	case "down":
		s.scroll++
	case "pgup":
		s.scroll -= page
	case "pgdown":
		s.scroll += page
	case "home":
		s.scroll = 0
	case "end":
		s.scroll = len(s.ahead) * s.height // clamped to the last page when it's drawn
	default:
		return false
	}
	s.scroll = max(s.scroll, 0)
	return true
}

// handKey is a key while something is for a hand. A key that was meant for what the screen
// showed a moment ago does not count.
func (s *screen) handKey(word string) bool {
	if word != "d" && word != "x" {
		return false
	}
	if s.acts.now().Sub(s.handSince) < twice {
		return true
	}
	s.acts.handDid(word == "d")
	s.answer = answer{text: "answered: done by hand"}
	if word == "x" {
		s.answer.text = "answered: not done by hand"
	}
	return true
}

// leaveKey is ctrl-c: it asks, and while it has asked, it leaves at once.
func (s *screen) leaveKey() tea.Cmd {
	if s.mode == leavingMode || s.leaving {
		return tea.Quit
	}
	s.mode = leavingMode
	return nil
}

// leave ends the screen, once what is being done is done.
func (s *screen) leave() tea.Cmd {
	s.mode = running
	if len(s.asked) == 0 {
		return tea.Quit
	}
	s.leaving = true
	s.answer = answer{text: "leaving as soon as it is done; ctrl-c leaves at once"}
	return nil
}
