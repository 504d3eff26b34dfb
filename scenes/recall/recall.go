// Package recall is the whole act of taking a desk to wanted settings: who is it,
// what does it hold, what has a hand moved, what differs, does it stay within the
// limits; then mute, noisy switches, everything else, read back, fader, open. And
// the way back.
//
// Wanted settings come in, a plan comes out as data; a plan is carried out, and a
// result says of each setting whether the desk itself reported it. The package
// prints nothing and knows no OSC.
//
// Until a place is open again, a recall wins over a hand where it meets one: nobody can
// hear what the hand does. After that the hand wins. Both are told.
package recall

import (
	"context"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// The parameters that open and close a position.
const (
	muteName  = "mute"
	faderName = "fader"
)

// Recaller takes the desk of one venue to wanted settings.
type Recaller struct {
	Book   *scenes.Book
	Venue  *scenes.Venue
	Memory *scenes.Memory
	Desk   *desk.Desk
	// Progress is told what is being done and how far it is. It may be nil.
	Progress func(what string, done, of int)
	// Hand asks a person to do by hand what OSC doesn't reach, while the positions are
	// muted, and reports whether it was done. It may be nil: then it was not.
	Hand func(ctx context.Context, changes []scenes.Change) (bool, error)
	// Rehearse leaves the book's readings alone too, as nothing will be sent.
	Rehearse bool
	// Command is what others are told who wait for this recall, as "swap lectern poet".
	Command string
	// By is who asked for the recall, for the record: [scenes.ByRemote], or "" for
	// [scenes.ByUs].
	By string
	// Warn is told what could not be recorded, which stops nothing. It may be nil.
	Warn func(error)
	// Waiting is told once who has the desk, when a recall has to wait for it. It may be
	// nil.
	Waiting func(scenes.Holder)
	// AllowRise is by how many dB this recall may make a position louder, where that is
	// more than the venue's limit; 0 allows no more than the venue.
	AllowRise float64
	// Clock is nil for the machine's, and LeastGap 0 for the usual: by them a recall notices
	// that the computer slept, and stops. See [desk.Vigil].
	Clock    desk.Clock
	LeastGap time.Duration
}

func (r *Recaller) progress(what string) desk.Progress {
	if r.Progress == nil {
		return nil
	}
	return func(done, of int) { r.Progress(what, done, of) }
}

// Target is what is wanted at one place of the desk.
type Target struct {
	Place profiles.Place
	// Position is the place's name in the venue, "" where it has none there.
	Position string
	// Performer is who will be on the position, "" for nobody or not known.
	Performer string
	// Scene is by which scene they will, "" for none.
	Scene string
	// Wanted is in the desk's order and does not hold the mute: see Open.
	Wanted []scenes.Wanted
	// Open says whether the place is to be open, nil to leave that as it was.
	Open *bool
	// OpenOrigin is where that is said.
	OpenOrigin scenes.Origin
	// Arrives is how loud speech arrives there, see [scenes.Resolved]; nil where that
	// is not known.
	Arrives *float64
	// Fade says how the levels of the place move; without one they are set at once, while
	// it is muted.
	Fade scenes.Fade
}

// ForPosition makes a target of a position's strip.
func ForPosition(r *scenes.Resolved) Target {
	t := Target{
		Place: r.Position.Place(), Position: r.Position.Name,
		Performer: r.PerformerName(), Wanted: r.Wanted, Open: r.Open, Arrives: r.Arrival,
	}
	if r.Scene != nil {
		t.Scene = r.Scene.Scene
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
			targets = append(targets, targetAt(v, r, w.Parameter.Place))
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

func targetAt(v *scenes.Venue, r *scenes.Reading, place profiles.Place) Target {
	t := Target{Place: place}
	if p := v.PositionOn(place); p != nil {
		t.Position, t.Performer, t.Scene = p.Name, r.On[p.Name], r.Scenes[p.Name]
	}
	return t
}

// parameter is one of the place's.
func (t *Target) parameter(name string) profiles.Parameter {
	return profiles.Parameter{Place: t.Place, Name: name}
}

// onlyCloses reports whether all that is wanted is that the place is muted, which is not
// to wait for anything.
func (t *Target) onlyCloses() bool { return len(t.Wanted) == 0 && t.Open != nil && !*t.Open }

// Say names the target for a message: "lectern", or "channel 3" where it has no name.
func (t *Target) Say() string {
	if t.Position != "" {
		return t.Position
	}
	return t.Place.Say()
}

// key is the target's name in what is remembered as unfinished: "lectern", or
// "channel.3" where it has none.
func (t *Target) key() string {
	if t.Position != "" {
		return t.Position
	}
	return t.Place.String()
}
