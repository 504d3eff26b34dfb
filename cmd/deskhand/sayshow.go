package main

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"deskhand/profiles"
	"deskhand/scenes"
)

// sayVenue prints what a venue is, but for its positions' strips.
func (a *app) sayVenue(v *scenes.Venue) {
	title := v.Name
	if v.Title != "" {
		title += " · " + v.Title
	}
	fmt.Fprintln(a.out, a.paint.head(title))
	fmt.Fprintf(a.out, "  desk         %s at %s\n", v.Desk.Profile.Name, v.Desk.Address)
	for _, m := range v.Mixes {
		fmt.Fprintf(a.out, "  mix %-7d  %s\n", m.Number, m.Name)
	}
	for _, m := range v.Microphones {
		phantom := "no phantom power"
		switch {
		case m.Phantom:
			phantom = "phantom power"
		case m.Harmed != nil:
			phantom = "harmed by phantom power"
		}
		fmt.Fprintf(a.out, "  microphone   %s, %.1f dB re 1 V/Pa, %s\n", m.Name, m.Sensitivity, phantom)
	}
	for _, p := range v.Positions {
		words := []string{p.Name, p.Place().Say()}
		if p.Microphone != nil {
			words = append(words, p.Microphone.Name)
		}
		if p.Distance > 0 {
			words = append(words, fmt.Sprintf("%.2f m", p.Distance))
		}
		fmt.Fprintf(a.out, "  position     %s\n", strings.Join(words, ", "))
	}
	a.sayLimits(v)
	fmt.Fprintln(a.out)
}

func (a *app) sayLimits(v *scenes.Venue) {
	for _, limit := range []struct {
		value *float64
		words string
	}{
		{v.Limits.Rise, "a recall makes nothing louder by more than %.1f dB"},
		{v.Limits.Gain, "no input gain above %.1f dB"},
		{v.Limits.Usual, "what comes up from silence is held against a usual %.1f dB"},
	} {
		if limit.value != nil {
			fmt.Fprintf(a.out, "  limit        "+limit.words+"\n", *limit.value)
		}
	}
	for _, s := range v.Safes {
		fmt.Fprintf(a.out, "  safe         %s\n", s.Text)
	}
}

// sayResolved prints positions with where each value comes from, and how far they are
// from feedback with so many microphones open, unless open is 0.
func (a *app) sayResolved(s exhibit) {
	if a.json {
		a.printJSON(shownJSON(s))
		return
	}
	if s.fade.Time > 0 {
		fmt.Fprintln(a.out, sayFade(s.fade))
	}
	for i, r := range s.strips {
		if i > 0 {
			fmt.Fprintln(a.out)
		}
		a.sayPosition(s.venue, r)
		a.saySound(s.venue, r, s.open)
		if r.EQ != nil {
			a.sayFitted(r.Position.Name, r.EQ)
		}
		a.sayLeft(r.Left)
		a.sayWarnings(r.Warnings)
	}
}

func (a *app) sayPosition(v *scenes.Venue, r *scenes.Resolved) {
	words := []string{r.Position.Name, r.Position.Place().Say()}
	if r.Performer != nil {
		words = append(words, r.PerformerName())
	}
	if r.Open != nil {
		words = append(words, map[bool]string{true: "open", false: "muted"}[*r.Open])
	}
	fmt.Fprintln(a.out, a.paint.head(strings.Join(words, " · ")))
	var lines []shownLine
	for _, w := range r.Wanted {
		control, _ := v.Desk.Profile.Control(w.Parameter)
		lines = append(lines, shownLine{control.Spec.SayLabel(w.Parameter.Name, v.MixName), control.Spec.Say(w.Value), w.Origin.String(), noteOf(control, w)})
	}
	a.sayLines(lines)
	a.sayCurve(v, r)
}

// noteOf says how a value came about, and that it lies between two steps of the desk.
func noteOf(control *profiles.Control, w scenes.Wanted) string {
	var notes []string
	if w.Note != "" {
		notes = append(notes, w.Note)
	}
	if asked := control.Spec.Say(w.Asked); asked != control.Spec.Say(w.Value) {
		notes = append(notes, asked+" is asked for")
	}
	return strings.Join(notes, "; ")
}

type shownLine struct{ label, value, origin, note string }

func (a *app) sayLines(lines []shownLine) {
	var label, value, origin int
	for _, l := range lines {
		label = max(label, utf8.RuneCountInString(l.label))
		value = max(value, utf8.RuneCountInString(l.value))
		origin = max(origin, utf8.RuneCountInString(l.origin))
	}
	for _, l := range lines {
		line := "  " + pad(l.label, label) + "  " + pad(l.value, value) + "  " + a.paint.dim(pad(l.origin, origin)+"  "+l.note)
		fmt.Fprintln(a.out, strings.TrimRight(line, " "))
	}
}
