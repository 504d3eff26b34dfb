package main

import (
	"fmt"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

func (a *app) showCommand() *cobra.Command {
	var position string
	c := &cobra.Command{
		Use:   "show FILE",
		Short: "a performer, scene or venue, resolved; where each value comes from",
		Long: `show builds up what a file means on the desk of the venue, and says for each value the
file and line that it comes from. A performer is shown as they would be on each
position of the venue, or on one with --position.`,
		Example:           "  deskhand show performers/botanist.toml --position lectern\n  deskhand show scenes/opening.toml\n  deskhand show net-loft",
		Args:              arguments(1, 1),
		ValidArgsFunction: a.completeFiles(scenes.Performers, scenes.Scenes, scenes.Venues),
	}
	c.Flags().StringVar(&position, "position", "", "show the performer on this position `NAME` only")
	_ = c.RegisterFlagCompletionFunc("position", a.completePosition)
	c.RunE = func(_ *cobra.Command, words []string) error { return a.show(words[0], position) }
	return c
}

func (a *app) show(file, position string) error {
	b, err := a.book()
	if err != nil {
		return err
	}
	n, err := b.Locate(a.dir, file)
	if err != nil {
		return err
	}
	switch n.Kind {
	case scenes.Performers:
		return a.showPerformer(b, n.Name, position)
	case scenes.Scenes:
		return a.showScene(b, n.Name)
	case scenes.Venues:
		return a.showVenue(b, n.Name)
	}
	return fmt.Errorf("%s can't be shown: give a performer, a scene or a venue", n.File())
}

func (a *app) showPerformer(b *scenes.Book, name, position string) error {
	v, err := a.openVenue(b, "")
	if err != nil {
		return err
	}
	positions := v.PositionNames()
	if position != "" {
		positions = []string{position}
	}
	var resolved []*scenes.Resolved
	for _, at := range positions {
		cast, err := b.CastFor(v, at, name, nil)
		if err != nil {
			return err
		}
		r, err := v.Resolve(cast)
		if err != nil {
			return err
		}
		resolved = append(resolved, r)
	}
	a.sayResolved(v, resolved)
	return nil
}

func (a *app) showScene(b *scenes.Book, name string) error {
	s, err := b.Scene(name)
	if err != nil {
		return err
	}
	v, resolved, err := b.ResolveScene(s)
	if err != nil {
		return err
	}
	a.sayResolved(v, resolved)
	return nil
}

func (a *app) showVenue(b *scenes.Book, name string) error {
	v, err := b.Venue(name)
	if err != nil {
		return err
	}
	var resolved []*scenes.Resolved
	for i := range v.Positions {
		r, err := v.Resolve(scenes.Cast{Position: &v.Positions[i]})
		if err != nil {
			return err
		}
		resolved = append(resolved, r)
	}
	if !a.json {
		a.sayVenue(v)
	}
	a.sayResolved(v, resolved)
	return nil
}

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
		if m.Phantom {
			phantom = "phantom power"
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

type jsonResolved struct {
	Position  string        `json:"position"`
	Channel   int           `json:"channel"`
	Performer string        `json:"performer,omitempty"`
	Open      *bool         `json:"open"`
	Settings  []jsonSetting `json:"settings"`
	LeftOut   []string      `json:"left_out"`
	Notes     []jsonFault   `json:"notes"`
}

type jsonShown struct {
	Venue     string         `json:"venue"`
	Desk      string         `json:"desk"`
	Positions []jsonResolved `json:"positions"`
}

// sayResolved prints positions with where each value comes from.
func (a *app) sayResolved(v *scenes.Venue, resolved []*scenes.Resolved) {
	if a.json {
		out := jsonShown{Venue: v.Name, Desk: v.Desk.Profile.Name, Positions: []jsonResolved{}}
		for _, r := range resolved {
			out.Positions = append(out.Positions, resolvedJSON(v, r))
		}
		a.printJSON(out)
		return
	}
	for i, r := range resolved {
		if i > 0 {
			fmt.Fprintln(a.out)
		}
		a.sayPosition(v, r)
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
	for _, note := range leftOut(r) {
		fmt.Fprintln(a.out, "  "+a.paint.dim(note))
	}
	a.sayWarnings(r.Warnings)
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
		label, value, origin = max(label, len([]rune(l.label))), max(value, len([]rune(l.value))), max(origin, len([]rune(l.origin)))
	}
	for _, l := range lines {
		line := "  " + pad(l.label, label) + "  " + pad(l.value, value) + "  " + a.paint.dim(pad(l.origin, origin)+"  "+l.note)
		fmt.Fprintln(a.out, strings.TrimRight(line, " "))
	}
}

func resolvedJSON(v *scenes.Venue, r *scenes.Resolved) jsonResolved {
	out := jsonResolved{
		Position: r.Position.Name, Channel: r.Position.Channel, Performer: r.PerformerName(), Open: r.Open,
		Settings: []jsonSetting{}, LeftOut: leftOut(r), Notes: jsonFaults(r.Warnings),
	}
	if out.LeftOut == nil {
		out.LeftOut = []string{}
	}
	for _, w := range r.Wanted {
		control, _ := v.Desk.Profile.Control(w.Parameter)
		out.Settings = append(out.Settings, jsonSetting{
			Parameter: w.Parameter.String(), Value: jsonValue(control.Tidy(w.Value)), Unit: string(control.Spec.Unit),
			File: w.Origin.File, Line: w.Origin.Line, Layer: w.Origin.Layer.String(), Note: noteOf(control, w),
		})
	}
	return out
}
