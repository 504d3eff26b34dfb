package scenes

import (
	"fmt"
	"math"
	"strings"

	"deskhand/profiles/source"
	"deskhand/scenes/tone"
)

// Feedback is what is known of gain before feedback at a position.
type Feedback struct {
	// Room is whole where nothing is missing.
	Room tone.Room
	// Missing are the keys of the venue's file without which it can't be worked out.
	Missing []string
}

// Feedback gathers what gain before feedback depends on, with so many microphones open.
// It is nil where the venue states no distances for the position, or it has no microphone.
func (p *Position) Feedback(open int) *Feedback {
	if p.Distances == (Distances{}) || !p.hasMicrophone() {
		return nil
	}
	f := &Feedback{Missing: p.Distances.missing(), Room: tone.Room{
		Microphone: p.Distance, Open: max(open, 1),
		Listener: p.Distances.Listener, Loudspeaker: p.Distances.Loudspeaker,
		Throw: p.Distances.Throw, Unaided: p.Distances.Unaided,
	}}
	if p.Distance == 0 {
		f.Missing = append([]string{"distance"}, f.Missing...)
	}
	return f
}

// hasMicrophone reports whether somebody speaks at the position, rather than plays from
// a machine.
func (p *Position) hasMicrophone() bool { return p.Microphone != nil || p.Distance > 0 }

// OpenMicrophones counts the positions of a scene that are open, or may be: a scene that
// doesn't say so of one leaves it as it was.
func OpenMicrophones(scene []*Resolved) int {
	n := 0
	for _, r := range scene {
		if r.mayBeOpen() && r.Position.hasMicrophone() {
			n++
		}
	}
	return n
}

func (r *Resolved) mayBeOpen() bool { return r.Open == nil || *r.Open }

// Feedback is that of the position when so many microphones are open; nil also where
// the position is to be muted.
func (r *Resolved) Feedback(open int) *Feedback {
	if !r.mayBeOpen() {
		return nil
	}
	return r.Position.Feedback(open)
}

// warnOfFeedback warns at each position of a scene that can't be loud enough before it
// rings.
func warnOfFeedback(scene []*Resolved) {
	open := OpenMicrophones(scene)
	for _, r := range scene {
		f := r.Feedback(open)
		if f == nil || !f.Short() || r.Scene == nil {
			continue
		}
		at := Origin{SceneLayer, r.Scene.File, r.Scene.Line}
		r.Warnings = append(r.Warnings, at.fault(
			"%s: the gain before feedback falls %.1f dB short of what the farthest listener needs, with %s (a free-field estimate); %s",
			r.Position.Name, -f.Margin(), f.SayOpen(), f.SayHelp()))
	}
}

// missingDistances warns of positions for which some distances are said and not all.
func (c *checker) missingDistances(v *Venue) {
	for i := range v.Positions {
		p := &v.Positions[i]
		if f := p.Feedback(1); f != nil && len(f.Missing) > 0 {
			c.warn(source.Faults{Origin{PositionLayer, v.File, p.Line}.fault(
				"the gain before feedback can't be worked out for %s: %s", p.Name, f.SayMissing())})
		}
	}
}

// SayMissing says which keys aren't there: "distances.throw is not said".
func (f *Feedback) SayMissing() string {
	verb := " is not said"
	if len(f.Missing) > 1 {
		verb = " are not said"
	}
	return strings.Join(f.Missing, ", ") + verb
}

// Margin is what can be had less what is needed, in dB, in the figures that people read:
// both rounded to tenths, so that the three agree on a page.
func (f *Feedback) Margin() float64 {
	return (math.Round(10*f.Room.PotentialGain()) - math.Round(10*f.Room.NeededGain())) / 10
}

// Short reports whether the margin is known and below 0, in the figures that people read.
func (f *Feedback) Short() bool { return len(f.Missing) == 0 && f.Margin() < 0 }

// SayOpen says how many microphones are open: "2 microphones open".
func (f *Feedback) SayOpen() string {
	if f.Room.Open == 1 {
		return "1 microphone open"
	}
	return fmt.Sprintf("%d microphones open", f.Room.Open)
}

// SayHelp says what, each alone, would make up for a margin below 0. Distances are
// rounded to the side that helps.
func (f *Feedback) SayHelp() string {
	const least = 0.01 // metres, between a mouth and a microphone
	help := f.Room.Help()
	var ways []string
	if nearer := math.Floor(help.Microphone*100) / 100; nearer >= least {
		ways = append(ways, fmt.Sprintf("the microphone at %.2f m instead of %.2f m", nearer, f.Room.Microphone))
	}
	ways = append(ways, fmt.Sprintf("the loudspeaker %.1f m from it instead of %.1f m", math.Ceil(help.Loudspeaker*10)/10, f.Room.Loudspeaker))
	if help.Open > 0 {
		ways = append(ways, fmt.Sprintf("%d open instead of %d", help.Open, f.Room.Open))
	}
	text := "what would do alone: " + strings.Join(ways, ", or ")
	if help.Open == 0 && f.Room.Open > 1 {
		alone := *f
		alone.Room.Open = 1
		text += fmt.Sprintf("; with 1 open it is still %.1f dB short", -alone.Margin())
	}
	return text
}
