package main

import (
	"fmt"
	"strings"
)

// footLines are the answer to the last key, or what is being done, and the keys.
func (s *screen) footLines() []line {
	var lines []line
	if s.view.Hold {
		lines = append(lines, line{{"HELD  ", alarm}, {"nothing is sent until h releases it", usual}})
	}
	if s.isBusy() {
		lines = append(lines, s.busyLine())
	}
	if l := s.answerLines(); !s.isBusy() || s.answer.bad || s.leaving {
		lines = append(lines, l...)
	}
	return append(lines, s.keyLines()...)
}

// busyLine is what is being done, and how far it is.
func (s *screen) busyLine() line {
	what := onOneLine(s.view.Doing)
	if what == "" && len(s.asked) > 0 {
		what = onOneLine(s.asked[len(s.asked)-1].String())
	}
	if s.view.Of > 0 {
		what += fmt.Sprintf(", %d of %d", s.view.Done, s.view.Of)
	}
	return line{{"DOING ", head}, {cut(what, s.width-nameWidth), usual}}
}

// answerLines are the answer to the last key, in at most three lines.
func (s *screen) answerLines() []line {
	const most = 3
	look := usual
	if s.answer.bad {
		look = alarm
	}
	lines := s.wrap(line{{"> ", head}, {onOneLine(s.answer.text), look}}, 2)
	if len(lines) > most {
		lines = lines[:most]
		last := &lines[most-1][len(lines[most-1])-1]
		last.text = cut(last.text, s.width-2) + "…"
	}
	return lines
}

// keyLines name the keys that mean something now.
func (s *screen) keyLines() []line {
	words := make([][2]string, 0, len(screenKeys))
	switch {
	case s.mode == running && len(s.view.ByHand) > 0:
		words = append(words, [2]string{"d", "done"}, [2]string{"x", "not done"}, [2]string{"m", "mute all"})
	case s.mode == running:
		for _, k := range screenKeys {
			name := k.name
			if k.key == "h" && s.view.Hold {
				name = "release"
			}
			words = append(words, [2]string{k.key, name})
		}
	case s.mode == finding:
		words = append(words, [2]string{"enter", "swap"}, [2]string{muteAnywhere, "mute all"}, [2]string{"esc", "leave it"})
	case s.mode == choosing:
		words = append(words, [2]string{"enter", "choose"}, [2]string{"m", "mute all"}, [2]string{"esc", "leave it"})
	case s.mode == askingLouder:
		words = append(words, [2]string{"l", "let it get louder"}, [2]string{"m", "mute all"}, [2]string{"esc", "leave it"})
	case s.mode == leavingMode:
		words = append(words, [2]string{"y", "leave"}, [2]string{"m", "mute all"}, [2]string{"esc", "stay"})
	default:
		words = append(words, [2]string{"esc", "back"}, [2]string{"m", "mute all"})
	}
	return s.keysInLines(words)
}

// keysInLines sets keys and their names, as many to a line as fit.
func (s *screen) keysInLines(words [][2]string) []line {
	var lines []line
	var now line
	used := 0
	for _, w := range words {
		need := len(w[0]) + 1 + len(w[1])
		if used > 0 && used+2+need > s.width {
			lines, now, used = append(lines, now), nil, 0
		}
		if used > 0 {
			now, used = append(now, span{"  ", usual}), used+2
		}
		now = append(now, span{w[0], keyCap}, span{" " + w[1], faint})
		used += need
	}
	return append(lines, now)
}

// louderLines are the question whether something may get louder.
func (s *screen) louderLines() []line {
	l := s.louder
	lines := []line{{{"TOO LOUD", alarm}, {"  " + onOneLine(l.what) + " was not sent", usual}}}
	for _, reason := range l.reasons {
		lines = append(lines, s.wrap(plainLine("  "+onOneLine(reason)), 4)...)
	}
	lines = append(lines, nil)
	lines = append(lines, s.wrap(line{{"  l", keyCap}, {fmt.Sprintf("  lets it get up to %.1f dB louder, this once", l.rise), usual}}, 5)...)
	return append(lines, plainLine("  any other key leaves it as it is"))
}

// leavingLines are the question whether to leave.
func (s *screen) leavingLines() []line {
	lines := []line{s.panelHead("LEAVE?", "the desk stays as it is, and run goes on from here")}
	if s.isBusy() {
		lines = append(lines, plainLine("  what is being done is done first"))
	}
	return append(lines, line{{"  y", keyCap}, {"  leaves", usual}}, plainLine("  any other key stays"))
}

// handLines are what a hand has to do now.
func (s *screen) handLines() []line {
	lines := []line{{{"BY HAND", alarm}, {"  now, while it is muted:", usual}}}
	for _, c := range s.view.ByHand {
		lines = append(lines, s.wrap(plainLine("  "+onOneLine(instruction(c))), 4)...)
	}
	return append(lines, line{{"  d", keyCap}, {"  done", usual}, {"   x", keyCap}, {"  not done: it stays muted", usual}})
}

// helpLines are all keys.
func (s *screen) helpLines(room int) []line {
	lines := []line{s.panelHead("KEYS", "any key goes back")}
	for _, k := range screenKeys {
		lines = append(lines, line{{"  " + fill(k.key, 3), keyCap}, {k.does, usual}})
	}
	for _, text := range wrapped("  "+moreKeys, s.width, 2) {
		lines = append(lines, plainLine(text))
	}
	if len(lines) > room { // two to a line where the window is low
		return s.shortHelp()
	}
	return lines
}

// shortHelp names the keys, for a low window.
func (s *screen) shortHelp() []line {
	var words []string
	for _, k := range screenKeys {
		words = append(words, k.key+" "+k.does)
	}
	lines := []line{s.panelHead("KEYS", "any key goes back")}
	for _, text := range wrapped(strings.Join(append(words, moreKeys), " · "), s.width, 0) {
		lines = append(lines, plainLine(text))
	}
	return lines
}

// chooserLines are the positions to choose from.
func (s *screen) chooserLines(room int) []line {
	c := s.chooser
	what := "SWAP"
	if c.keep {
		what = "KEEP"
	}
	lines := []line{s.panelHead(what, "which position? its number, or arrows and enter")}
	first := firstShown(c.at, len(c.positions), room-1)
	for i, p := range c.positions[first:] {
		text := fmt.Sprintf(" %2d  %s · %s", first+i+1, onOneLine(p.Position), onOneLine(sayWho(p)))
		if len(p.Moves) > 0 {
			text += ": " + onOneLine(sayCompact(s.view.Venue, p.Moves))
		}
		lines = append(lines, marked(text, first+i == c.at))
	}
	return lines
}

// finderLines are what was typed, and the performers that fit.
func (s *screen) finderLines(room int) []line {
	f := s.finder
	found := f.found()
	lines := []line{s.panelHead("SWAP", onOneLine(f.position)+" to: "+safeText(f.typed)+"_")}
	if len(found) == 0 {
		return append(lines, plainLine("  no performer has that in the name"))
	}
	if len(s.view.ByHand) > 0 {
		lines = append(lines, line{{"  something waits for a hand: esc shows it", alarm}})
	}
	at := min(f.at, len(found)-1)
	first := firstShown(at, len(found), room-len(lines))
	for i, name := range found[first:] {
		lines = append(lines, marked("  "+onOneLine(name), first+i == at))
	}
	return lines
}

// firstShown is the first of a list of which so many are shown, for one of them to be seen.
func firstShown(at, of, room int) int {
	room = max(room, 1)
	return max(min(at-room/2, of-room), 0)
}

// marked is a line of a list, with a mark at the chosen one.
func marked(text string, chosen bool) line {
	if chosen {
		return line{{">", head}, {text, head}}
	}
	return plainLine(" " + text)
}
