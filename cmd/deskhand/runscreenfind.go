package main

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"deskhand/scenes/agent"

	tea "charm.land/bubbletea/v2"
)

// chooser is the choice of a position, to swap or to keep.
type chooser struct {
	keep      bool
	positions []agent.PositionView
	at        int
}

// finder is the choice of a performer by typing a part of the name.
type finder struct {
	position string
	names    []string
	typed    string
	at       int
}

// choose opens the choice of a position.
func (s *screen) choose(keep bool) tea.Cmd {
	c := chooser{keep: keep}
	for _, p := range s.view.Positions {
		if !keep || len(p.Moves) > 0 {
			c.positions = append(c.positions, p)
		}
	}
	if len(c.positions) == 0 {
		if keep {
			return s.refuse("no hand has moved anything that could be kept")
		}
		return s.refuse("the venue has no position")
	}
	s.chooser, s.mode = c, choosing
	return nil
}

// chooseKey is a key while a position is chosen: its number, or arrows and enter.
func (s *screen) chooseKey(word string) tea.Cmd {
	c := &s.chooser
	switch {
	case word == "up":
		c.at = max(c.at-1, 0)
	case word == "down":
		c.at = min(c.at+1, len(c.positions)-1)
	case word == "enter":
		return s.chosen(c.positions[c.at].Position)
	case len(word) == 1 && word[0] >= '1' && word[0] <= '9':
		if n := int(word[0] - '1'); n < len(c.positions) {
			return s.chosen(c.positions[n].Position)
		}
	default:
		s.mode = running
		s.answer = answer{text: "nothing chosen"}
	}
	return nil
}

func (s *screen) chosen(position string) tea.Cmd {
	if s.chooser.keep {
		s.mode = running
		return s.send(agent.AskKeep{Position: position})
	}
	s.finder, s.mode = finder{position: position, names: s.acts.performers()}, finding
	return nil
}

// mostTyped bounds what is typed to find a name, in characters.
const mostTyped = 40

func (f *finder) add(text string) {
	for _, r := range text {
		if utf8.RuneCountInString(f.typed) < mostTyped && r >= ' ' {
			f.typed += string(r)
		}
	}
	f.at = 0
}

func (f *finder) drop() {
	_, size := utf8.DecodeLastRuneInString(f.typed)
	f.typed = f.typed[:len(f.typed)-size]
	f.at = 0
}

// found are the names that fit what was typed: those that begin with it come first, then
// those that have it in them.
func (f *finder) found() []string {
	typed := strings.ToLower(strings.TrimSpace(f.typed))
	var begin, within []string
	for _, name := range f.names {
		switch lower := strings.ToLower(name); {
		case strings.HasPrefix(lower, typed):
			begin = append(begin, name)
		case strings.Contains(lower, typed):
			within = append(within, name)
		}
	}
	return slices.Concat(begin, within)
}

// findKey is a key while a performer is found by typing.
func (s *screen) findKey(word, text string) tea.Cmd {
	f := &s.finder
	found := f.found()
	switch word {
	case "esc":
		s.mode = running
		s.answer = answer{text: "nothing chosen"}
	case "up":
		f.at = max(f.at-1, 0)
	case "down":
		f.at = min(f.at+1, max(len(found)-1, 0))
	case "backspace":
		f.drop()
	case "enter":
		if len(found) == 0 {
			return s.refuse(fmt.Sprintf("no performer has %q in the name", f.typed))
		}
		s.mode = running
		return s.send(agent.AskSwap{Position: f.position, Performer: found[f.at]})
	default:
		f.add(text)
	}
	return nil
}
