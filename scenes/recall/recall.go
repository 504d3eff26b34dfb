// Package recall is the whole act of taking a desk to wanted settings: who is it,
// what does it hold, what has a hand moved, what differs, does it stay within the
// limits; then mute, noisy switches, everything else, read back, fader, open. And
// the way back.
//
// Wanted settings come in, a plan comes out as data; a plan is carried out, and a
// result says of each setting whether the desk itself reported it. The package
// prints nothing and knows no OSC.
package recall

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/tone"
)

// The parameters that open and close a position.
const (
	muteName  = "mute"
	faderName = "fader"
)

// Target is what is wanted at one place of the desk.
type Target struct {
	Place profiles.Place
	// Position is the place's name in the venue, "" where it has none there.
	Position string
	// Performer is who will be on the position, "" for nobody or not known.
	Performer string
	// Wanted is in the desk's order and does not hold the mute: see Open.
	Wanted []scenes.Wanted
	// Open says whether the place is to be open, nil to leave that as it was.
	Open *bool
	// OpenOrigin is where that is said.
	OpenOrigin scenes.Origin
}

// ForPosition makes a target of a position's strip.
func ForPosition(r *scenes.Resolved) Target {
	t := Target{
		Place: r.Position.Place(), Position: r.Position.Name,
		Performer: r.PerformerName(), Wanted: r.Wanted, Open: r.Open,
	}
	if r.Open != nil && r.Scene != nil {
		t.OpenOrigin = scenes.Origin{Layer: scenes.SceneLayer, File: r.Scene.File, Line: r.Scene.OpenLine}
	}
	return t
}

// ForReading makes targets of everything in a reading, place by place.
func ForReading(v *scenes.Venue, r *scenes.Reading) []Target {
	var targets []Target
	for _, w := range r.Wanted(v.Desk.Profile) {
		if len(targets) == 0 || targets[len(targets)-1].Place != w.Parameter.Place {
			targets = append(targets, Target{Place: w.Parameter.Place})
			if p := v.PositionOn(w.Parameter.Place); p != nil {
				targets[len(targets)-1].Position = p.Name
				targets[len(targets)-1].Performer = r.On[p.Name]
			}
		}
		t := &targets[len(targets)-1]
		if muted, ok := w.Value.On(); ok && w.Parameter.Name == muteName {
			open := !muted
			t.Open, t.OpenOrigin = &open, w.Origin
			continue
		}
		t.Wanted = append(t.Wanted, w)
	}
	return targets
}

// Plan is what a recall would do, before anything is sent.
type Plan struct {
	Venue *scenes.Venue
	Parts []*Part
	// Moves are the hand moves since the last recall, and MovesFile the reading in
	// which they were kept.
	Moves     []scenes.Change
	MovesFile string
}

// Part is the plan for one place.
type Part struct {
	Target
	// Before is everything that the place held.
	Before scenes.Values
	// Was is who was on the position before, as far as that is known.
	Was string
	// WasOpen says whether the place was open; after a recall that did not end,
	// whether it was open before that one.
	WasOpen bool
	// Changes will be sent, in the desk's order; a change of the mute is among them
	// only where the place will end otherwise than it is. Safe are left alone.
	Changes []scenes.Change
	Safe    []scenes.Change
	// Rises are where the place gets louder, loudest first.
	Rises []tone.Rise
}

// Nothing reports whether the desk holds all that is wanted already, but for what
// is safe.
func (p *Plan) Nothing() bool {
	return !slices.ContainsFunc(p.Parts, func(part *Part) bool { return len(part.Changes) > 0 })
}

// Changes lists the changes of all parts.
func (p *Plan) Changes() []scenes.Change {
	var all []scenes.Change
	for _, part := range p.Parts {
		all = append(all, part.Changes...)
	}
	return all
}

// Safe lists what differs and is left alone.
func (p *Plan) Safe() []scenes.Change {
	var all []scenes.Change
	for _, part := range p.Parts {
		all = append(all, part.Safe...)
	}
	return all
}

// willBeOpen says how the part is to end.
func (part *Part) willBeOpen() bool {
	if part.Open != nil {
		return *part.Open
	}
	return part.WasOpen
}

// isMuted says what was read of the place.
func (part *Part) isMuted() bool {
	muted, _ := part.Before[part.parameter(muteName)].On()
	return muted
}

func (part *Part) parameter(name string) profiles.Parameter {
	return profiles.Parameter{Place: part.Place, Name: name}
}

// Say names the part for a message: "lectern", or "channel 3" where it has no name.
func (part *Part) Say() string {
	if part.Position != "" {
		return part.Position
	}
	return part.Place.Say()
}

// mustMute reports whether the changes are to be made while the place is muted.
// Names move no sound, and a mix or the main mix is not muted: that would silence
// everybody.
func (part *Part) mustMute() bool {
	return part.Place.Part == profiles.Channel && slices.ContainsFunc(part.Changes, func(c scenes.Change) bool {
		return c.Parameter.Name != muteName && c.Spec.Class != profiles.NameOnly
	})
}

// Refused says that a limit or a safe of the venue forbids the recall. Nothing was
// sent.
type Refused struct {
	Reasons []string
}

func (e *Refused) Error() string { return "refused: " + strings.Join(e.Reasons, "; ") }

// Unproved is a setting that was wanted and that the desk did not report holding.
type Unproved struct {
	Parameter profiles.Parameter
	Wanted    profiles.Value
	// Found is what the desk holds instead, no value where it did not answer.
	Found profiles.Value
}

// Result is what a recall has done.
type Result struct {
	Plan *Plan
	// Sent are the settings that were sent, in order, each time that they were;
	// mutes and openings are among them.
	Sent []profiles.Setting
	// Confirmed are the settings that the desk reported holding: those that were
	// changed, and those that were right already.
	Confirmed map[profiles.Parameter]desk.Confirmed
	// Unproved are the others.
	Unproved []Unproved
	// StillMuted are the places that were to be open and stay muted.
	StillMuted []*Part
	// Restarted says that the desk lost settings meanwhile, as it does when it is
	// switched off and on. They were set again.
	Restarted bool
	// Moved are settings that a hand moved while the recall was ending: they were
	// confirmed, and then the hand won.
	Moved []Unproved
	Took  time.Duration
}

// Complete reports whether everything that was wanted is confirmed.
func (r *Result) Complete() bool { return len(r.Unproved) == 0 && len(r.StillMuted) == 0 }

// unanswered is the error for settings that the desk says nothing about.
func unanswered(missing []profiles.Parameter) error {
	names := make([]string, 0, 3)
	for _, q := range missing[:min(len(missing), 3)] {
		names = append(names, q.String())
	}
	more := ""
	if len(missing) > 3 {
		more = fmt.Sprintf(" and %d more", len(missing)-3)
	}
	return fmt.Errorf("%w for %s%s: nothing was sent; try again, and if it stays so, hold the profile against the desk", desk.ErrSilent, strings.Join(names, ", "), more)
}
