package main

import (
	"fmt"

	"deskhand/scenes"
	"deskhand/scenes/tone"
)

// saySound prints what is known of a position beyond its settings: how the voice fits
// into the converter, and how far the room is from feedback with so many microphones
// open, where that is asked for, with 0 for not.
func (a *app) saySound(v *scenes.Venue, r *scenes.Resolved, open int) {
	if g := r.Structure(tone.DeskOf(v.Desk.Profile)); g != nil {
		fmt.Fprintln(a.out, "  at the converter: "+sayStructure(r, g))
	}
	if f := feedbackOf(r, open); f != nil {
		fmt.Fprintln(a.out, "  before feedback: "+sayFeedback(v, r, f))
	}
}

// feedbackOf is the position's, or nil where nothing is known of it or it isn't asked
// for.
func feedbackOf(r *scenes.Resolved, open int) *scenes.Feedback {
	if open == 0 {
		return nil
	}
	return r.Feedback(open)
}

func sayStructure(r *scenes.Resolved, g *tone.GainStructure) string {
	voice := r.Performer.Voice
	text := fmt.Sprintf("speech at %.1f dB re full scale, its highest levels at %s", g.Level, scenes.SayHeadroom(g))
	if g.Drive() != tone.DriveFits {
		text += ", " + g.Drive().String()
	}
	text += fmt.Sprintf(" (%.1f dB SPL at %.2f m, carried over to %.2f m", voice.Level, voice.Distance, r.Position.Distance)
	if r.RoughVoice() {
		text += ": a rough guide"
	}
	return text + ")"
}

func sayFeedback(v *scenes.Venue, r *scenes.Resolved, f *scenes.Feedback) string {
	if len(f.Missing) > 0 {
		return fmt.Sprintf("not known, as %s (%s:%d)", f.SayMissing(), v.File, r.Position.Line)
	}
	text := fmt.Sprintf("%.1f dB can be had, %.1f dB needed, margin %+.1f dB, with %s (a free-field estimate)",
		f.Room.PotentialGain(), f.Room.NeededGain(), f.Margin(), f.SayOpen())
	if f.Short() && r.Scene == nil { // of a scene a note says it
		text += "; " + f.SayHelp()
	}
	return text
}

// What --json prints of it.

type jsonFeedback struct {
	// The figures are null where something is missing.
	Potential *float64  `json:"potential"`
	Needed    *float64  `json:"needed"`
	Margin    *float64  `json:"margin"`
	Open      int       `json:"open"`
	Missing   []string  `json:"missing"`
	Help      *jsonHelp `json:"help"` // null: none needed
}

type jsonHelp struct {
	Microphone  float64 `json:"microphone"`
	Loudspeaker float64 `json:"loudspeaker"`
	Open        int     `json:"open"`
}

func feedbackJSON(f *scenes.Feedback) *jsonFeedback {
	if f == nil {
		return nil
	}
	out := &jsonFeedback{Open: f.Room.Open, Missing: append([]string{}, f.Missing...)}
	if len(f.Missing) > 0 {
		return out
	}
	figure := func(v float64) *float64 { v = round(v, 3); return &v }
	out.Potential, out.Needed, out.Margin = figure(f.Room.PotentialGain()), figure(f.Room.NeededGain()), figure(f.Room.Margin())
	if f.Short() {
		help := f.Room.Help()
		out.Help = &jsonHelp{round(help.Microphone, 3), round(help.Loudspeaker, 3), help.Open}
	}
	return out
}

type jsonConverter struct {
	Level    float64 `json:"level"`
	Headroom float64 `json:"headroom"`
	Fit      string  `json:"fit"`
}

func converterJSON(v *scenes.Venue, r *scenes.Resolved) *jsonConverter {
	g := r.Structure(tone.DeskOf(v.Desk.Profile))
	if g == nil {
		return nil
	}
	return &jsonConverter{round(g.Level, 3), round(g.Headroom(), 3), g.Drive().String()}
}
