package main

import (
	"fmt"
	"strings"

	"deskhand/scenes/agent"
	"deskhand/scenes/recall"
)

// aheadLines are what the next scene would change: first what stands against it, then what
// a hand will have to do, then each position with its levels first.
func (s *screen) aheadLines() []line {
	f := s.view.Next
	if f == nil {
		return nil
	}
	var lines []line
	if f.Refused != nil {
		for _, reason := range f.Refused.Reasons {
			lines = append(lines, line{{"WOULD BE REFUSED  ", alarm}, {onOneLine(reason), usual}})
		}
	}
	if f.Err != nil {
		for _, fault := range strings.Split(f.Err.Error(), "\n") {
			lines = append(lines, line{{"FAULT  ", alarm}, {onOneLine(fault), usual}})
		}
	}
	if f.Plan != nil {
		for _, c := range handwork(f.Plan.Changes()) {
			lines = append(lines, line{{"BY HAND  ", alarm}, {onOneLine(instruction(c)), usual}})
		}
	}
	lines = append(lines, notesAhead(f)...)
	if f.Plan == nil {
		return lines
	}
	for _, part := range f.Plan.Parts {
		if len(part.Changes) > 0 {
			lines = append(lines, s.partLines(f.Plan, part)...)
		}
	}
	if fade := f.Plan.Fade(); fade.Time > 0 {
		lines = append(lines, plainLine(sayFade(fade)))
	}
	return lines
}

// notesAhead are the warnings of the files.
func notesAhead(f *agent.Foreseen) []line {
	var lines []line
	note := func(text string) { lines = append(lines, line{{"note  ", faint}, {onOneLine(text), usual}}) }
	for _, w := range f.Warnings {
		note(w.Error())
	}
	for _, l := range f.Left {
		note(l.Entry.Origin.String() + ": " + l.Entry.Name + " is left out: " + l.Why)
	}
	return lines
}

// partLines are what changes at one position.
func (s *screen) partLines(plan *recall.Plan, part *recall.Part) []line {
	lines := []line{{{onOneLine(headOf(part)), head}}}
	text := s.app.printed(func(a *app) {
		a.saySteps(plan.Venue, part.Steps)
		a.sayRises(plan.Venue, part)
		fmt.Fprint(a.out, table(a.makerFor(plan.Venue, part.Place, part.Before).rows(part.Changes), a.paint))
	})
	for _, row := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
		shown := plainLine(safeText(strings.ReplaceAll(row, "\t", " ")))
		if strings.HasPrefix(row, "  louder: ") {
			shown[0].look = alarm
		}
		lines = append(lines, shown)
	}
	return lines
}

// aheadHead says how much will change, or why nobody knows.
func (s *screen) aheadHead() string {
	f := s.view.Next
	switch {
	case f == nil:
		return "that was the last scene"
	case f.Err != nil:
		return count(max(len(faultsIn(f.Err)), 1), "fault") + " to mend first"
	case f.Refused != nil:
		return "as it is, a limit or a safe forbids it"
	}
	return onOneLine(sayForeseen(s.view))
}
