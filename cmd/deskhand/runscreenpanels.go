package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"deskhand/scenes"
	"deskhand/scenes/agent"
)

// nameWidth is how wide the names of the panels are, at the left.
const nameWidth = 6

// topLines say where the event is: its name and the desk, what is on and what is next.
func (s *screen) topLines() []line {
	v := s.view
	title := orderTitle(v.Order)
	link := span{"desk " + onOneLine(sayDesk(v)), faint}
	if v.Desk != agent.DeskThere {
		link = span{"DESK " + onOneLine(sayDesk(v)), alarm}
	}
	room := max(s.width-width(link.text)-2, s.width/3)
	lines := []line{apart(span{cut(onOneLine(title), room), faint}, span{cut(link.text, s.width-room-2), link.look}, s.width)}
	lines = append(lines, s.sceneLines("ON", v.Number, v.Item(), s.sayOnSince())...)
	if v.NextItem() == nil {
		return append(lines, line{{fill("NEXT", nameWidth), faint}, {"nothing: that is the last scene", usual}})
	}
	return append(lines, s.sceneLines("NEXT", v.Number+1, v.NextItem(), "")...)
}

// sceneLines are a scene's number and title, its times, and its notes.
func (s *screen) sceneLines(name string, number int, it *scenes.Item, since string) []line {
	if it == nil {
		return []line{{{fill(name, nameWidth), head}, {"nothing yet", head}}}
	}
	titled := onOneLine(sayItem(s.view, number))
	times := slices.DeleteFunc([]string{since, onOneLine(sayPlanned(it))}, func(text string) bool { return text == "" })
	at := strings.Join(times, " · ")
	label := fill(name, nameWidth)
	lines := []line{}
	if nameWidth+width(titled)+2+width(at) <= s.width {
		lines = append(lines, apart(span{label + titled, head}, span{at, usual}, s.width))
	} else {
		lines = append(lines, line{{label + titled, head}}, line{{strings.Repeat(" ", nameWidth) + at, usual}})
	}
	if it.Notes == "" {
		return lines
	}
	notes := wrapped(strings.Repeat(" ", nameWidth)+strings.ReplaceAll(onOneLine(it.Notes), "; ", " / "), s.width, nameWidth)
	const most = 2
	for i, text := range notes[:min(len(notes), most)] {
		if i == most-1 && len(notes) > most {
			text = cut(text, s.width-1) + "…"
		}
		lines = append(lines, plainLine(text))
	}
	return lines
}

// sayOnSince says since when the scene is on, and how long that is.
func (s *screen) sayOnSince() string {
	since := s.view.Since
	if since.IsZero() || s.view.Number == 0 {
		return ""
	}
	text := "since " + since.Local().Format("15:04")
	minutes := int(max(s.acts.now().Sub(since), 0) / time.Minute)
	if minutes > 0 {
		text += fmt.Sprintf(" (%d min)", minutes)
	}
	return text
}

// placeLines say how each position stands, those that need a look first where there is no
// room for all.
func (s *screen) placeLines(room int) []line {
	places := slices.Clone(s.view.Positions)
	hidden := 0
	if len(places) > room-1 {
		slices.SortStableFunc(places, func(x, y agent.PositionView) int { return urgency(y) - urgency(x) })
		hidden = len(places) - max(room-2, 0)
		places = places[:len(places)-hidden]
	}
	name, who := 8, 9
	for _, p := range s.view.Positions {
		name = min(max(name, width(onOneLine(p.Position))), max(s.width/5, 10))
		who = min(max(who, width(onOneLine(sayWho(p)))), max(s.width/5, 10))
	}
	lines := []line{s.panelHead("POSITIONS", "")}
	for _, p := range places {
		lines = append(lines, s.placeLine(p, name, who))
	}
	if hidden > 0 && room > 1 {
		lines = append(lines, line{{fmt.Sprintf("  and %d more, of which %d need a look", hidden, s.urgent()-urgentIn(places)), faint}})
	}
	return lines
}

func (s *screen) placeLine(p agent.PositionView, name, who int) line {
	state := span{fill(strings.ToUpper(sayOpen(p.Open)), 9), head}
	if p.Open == nil || !*p.Open {
		state = span{fill(sayOpen(p.Open), 9), usual}
	}
	l := line{{"  " + fill(onOneLine(p.Position), name) + " ", usual}, state, {fill(onOneLine(sayWho(p)), who) + " ", usual}}
	if p.Proof != agent.Nobody {
		l = append(l, span{string(p.Proof), proofLook(p.Proof)})
	}
	if len(p.Moves) > 0 {
		l = append(l, span{" · " + count(len(p.Moves), "hand move") + ": " + onOneLine(sayCompact(s.view.Venue, p.Moves)), alarm})
	}
	if len(p.Saved) > 0 {
		l = append(l, span{" · " + fmt.Sprintf("%d saved since", len(p.Saved)) + ": " + onOneLine(sayCompact(s.view.Venue, p.Saved)), usual})
	}
	return l
}

func sayWho(p agent.PositionView) string {
	if p.Performer == "" {
		return "nobody"
	}
	return p.Performer
}

func proofLook(p agent.Proof) shade {
	switch p {
	case agent.Unproved, agent.Unread:
		return alarm
	}
	return faint
}

// urgency orders positions by how much they need a look.
func urgency(p agent.PositionView) int {
	switch {
	case p.Proof == agent.Unproved:
		return 4
	case p.Proof == agent.Unread:
		return 3
	case len(p.Moves) > 0:
		return 2
	case len(p.Saved) > 0:
		return 1
	}
	return 0
}

func urgentIn(places []agent.PositionView) int {
	n := 0
	for _, p := range places {
		if urgency(p) > 0 {
			n++
		}
	}
	return n
}

func (s *screen) urgent() int { return urgentIn(s.view.Positions) }

// panelHead is the line above a panel.
func (s *screen) panelHead(name, more string) line {
	l := line{{name, head}}
	if more != "" {
		l = append(l, span{"  " + more, usual})
	}
	return l
}

// latestLines are the latest events, the newest last.
func (s *screen) latestLines(room int) []line {
	var lines []line
	said := s.said
	if n := len(said); n > 0 && s.answer.text != "" && strings.HasSuffix(said[n-1], s.answer.text) && !s.isBusy() {
		said = said[:n-1] // the answer to the last key is shown already
	}
	for _, text := range said[max(len(said)-room, 0):] {
		lines = append(lines, line{{cut(text, s.width), faint}})
	}
	return lines
}

// aheadPanel is what will change, as much of it as there is room for.
func (s *screen) aheadPanel(room int) []line {
	var all []line
	for _, l := range s.ahead {
		all = append(all, s.wrap(l, 8)...)
	}
	s.room = max(room-1, 0)
	s.scroll = max(min(s.scroll, len(all)-s.room), 0)
	last := min(s.scroll+s.room, len(all))
	title := line{{"WILL CHANGE", head}, {"  " + s.aheadHead(), usual}}
	if len(all) > s.room && s.room > 0 {
		where := fmt.Sprintf("%d-%d of %d, arrows move", s.scroll+1, last, len(all))
		title = apart(span{"WILL CHANGE  " + s.aheadHead(), head}, span{where, faint}, s.width)
	}
	return append([]line{title}, all[s.scroll:last]...)
}
