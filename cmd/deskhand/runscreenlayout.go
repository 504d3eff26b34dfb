package main

import "strings"

// The least window that says anything of use.
const (
	leastWidth  = 40
	leastHeight = 16
)

// The panel of what will change has at least this many lines under its head, and the latest
// events at most so many.
const (
	leastAhead = 3
	mostLatest = 6
)

// text is the whole screen.
func (s *screen) text() string {
	if s.width < leastWidth || s.height < leastHeight {
		return s.tooSmall()
	}
	lines := s.lines()
	drawn := make([]string, 0, s.height)
	for _, l := range lines[:min(len(lines), s.height)] {
		drawn = append(drawn, l.drawn(s.look, s.width))
	}
	return strings.Join(drawn, "\n")
}

// tooSmall says so, in what room there is.
func (s *screen) tooSmall() string {
	lines := []string{"too small:", "40 x 16", "needed"}
	if s.width >= 24 {
		lines = []string{"the window is too small", "40 columns and 16 lines", "are needed; the event", "goes on"}
	}
	var drawn []string
	for _, text := range lines[:min(len(lines), max(s.height, 0))] {
		drawn = append(drawn, cut(text, max(s.width, 0)))
	}
	return strings.Join(drawn, "\n")
}

// lines are the panels from top to bottom. What is on, the positions and the foot have what
// they need within bounds; what will change, or the question that is open, has the rest.
func (s *screen) lines() []line {
	top := s.topLines()
	foot := s.footLines()
	rest := s.height - len(top) - len(foot)
	if s.mode == helping { // which needs the room
		return append(append(top, s.middle(rest)...), foot...)
	}
	places := s.placeLines(max(min(rest/2, rest-leastAhead-3), 1))
	rest -= len(places)
	latest := s.latestLines(min(max(rest-leastAhead-6, 1), mostLatest))
	rest -= len(latest)
	lines := append(top, s.middle(rest)...)
	lines = append(lines, places...)
	lines = append(lines, latest...)
	return append(lines, foot...)
}

// middle is the panel between the scenes and the positions, of exactly so many lines.
func (s *screen) middle(room int) []line {
	var lines []line
	switch {
	case s.mode == askingLouder:
		lines = s.louderLines()
	case s.mode == choosing:
		lines = s.chooserLines(room)
	case s.mode == finding:
		lines = s.finderLines(room)
	case s.mode == leavingMode:
		lines = s.leavingLines()
	case s.mode == helping:
		lines = s.helpLines(room)
	case len(s.view.ByHand) > 0:
		lines = s.handLines()
	default:
		lines = s.aheadPanel(room)
	}
	lines = lines[:min(len(lines), max(room, 0))]
	for len(lines) < room {
		lines = append(lines, nil)
	}
	return lines
}

// wrap breaks a line at the window's width. All that follows the first line is indented.
func (s *screen) wrap(l line, indent int) []line {
	first := 0
	for _, piece := range l[:len(l)-1] {
		first += width(piece.text)
	}
	last := l[len(l)-1]
	var lines []line
	for i, text := range wrapped(strings.Repeat(" ", first)+last.text, s.width, indent) {
		if i == 0 {
			lines = append(lines, append(append(line{}, l[:len(l)-1]...), span{strings.TrimPrefix(text, strings.Repeat(" ", first)), last.look}))
			continue
		}
		lines = append(lines, line{{text, last.look}})
	}
	return lines
}
