package recall

import (
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// fading is what a fade does with one level of a place.
type fading struct {
	parameter profiles.Parameter
	// before is what the desk holds, end what it is to hold, bottom the lowest that it can.
	before, end, bottom profiles.Value
	// falls says that it goes down to the bottom before the place is muted, rises that it
	// comes up from there once it is open again. Neither of them: it goes from before to
	// end, while the place stays open.
	falls, rises bool
}

// Fade says how the plan fades: no time where nothing does. Places of one plan fade in the
// same time, the longest that is asked for, and together only where all are to.
func (p *Plan) Fade() scenes.Fade {
	fade := scenes.Fade{Together: true}
	for _, part := range p.Parts {
		if len(part.fades) > 0 {
			fade.Time = max(fade.Time, part.Fade.Time)
			fade.Together = fade.Together && part.Fade.Together
		}
	}
	if fade.Time == 0 {
		return scenes.Fade{}
	}
	return fade
}

// isLevel reports whether a parameter is the fader of a place or the level of a send.
func isLevel(q profiles.Parameter) bool { return q.Name == faderName || isSendLevel(q.Name) }

func isSendLevel(name string) bool {
	return strings.HasPrefix(name, "send.") && strings.HasSuffix(name, ".level")
}

// onlyLevels reports whether the part fades on an open channel that stays open, with the
// same performer, so that no mute is needed.
func (part *Part) onlyLevels() bool {
	if part.Fade.Time == 0 || part.Place.Part != profiles.Channel || part.Was != part.Performer || !part.isOpen() || !part.WillBeOpen() {
		return false
	}
	return !slices.ContainsFunc(part.Changes, func(c scenes.Change) bool {
		return c.Spec.Class != profiles.NameOnly && (!isLevel(c.Parameter) || c.Hand != "" || c.From.IsZero() || !part.isOn(c.Parameter, part.held))
	})
}

// isOpen reports whether the place is known to be open now.
func (part *Part) isOpen() bool {
	return !part.isMuted() && !part.Before[part.parameter(muteName)].IsZero()
}

// held gives what the place held.
func (part *Part) held(name string) profiles.Value { return part.Before[part.parameter(name)] }

// isOn reports whether a level is heard: that of a send only while the send is on.
func (part *Part) isOn(q profiles.Parameter, at func(name string) profiles.Value) bool {
	if !isSendLevel(q.Name) {
		return true
	}
	on, isSwitch := at(strings.TrimSuffix(q.Name, ".level") + ".on").On()
	return on || !isSwitch
}

// fadesOf says what a fade does with the levels of a part; nothing where it has none.
func (r *Recaller) fadesOf(part *Part) []fading {
	if part.Fade.Time == 0 || len(part.Changes) == 0 {
		return nil
	}
	closes := slices.ContainsFunc(part.Changes, func(c scenes.Change) bool { return c.Parameter.Name == muteName }) && !part.WillBeOpen()
	mutes := part.mustMute() || closes
	opens := part.WillBeOpen() && (mutes || part.isMuted()) && r.maySend(part.parameter(muteName))
	var all []fading
	for _, q := range r.Venue.Desk.Profile.At(part.Place) {
		f, ok := r.levelOf(part, q)
		if !ok {
			continue
		}
		f.falls = mutes && part.isOpen() && part.isOn(q, part.held) && !r.same(q, f.before, f.bottom)
		f.rises = opens && part.isOn(q, part.after) && !r.same(q, f.end, f.bottom)
		moves := !mutes && !opens && part.isOpen() && part.isOn(q, part.held) && !r.same(q, f.before, f.end)
		if f.falls || f.rises || moves {
			all = append(all, f)
		}
	}
	return all
}

// levelOf gives a level of a part that may be sent and of which it's known where it is and
// where it's to be.
func (r *Recaller) levelOf(part *Part, q profiles.Parameter) (fading, bool) {
	control, has := r.Venue.Desk.Profile.Control(q)
	if !isLevel(q) || !has || !r.maySend(q) || control.Reach() > profiles.TellOnly {
		return fading{}, false
	}
	lowest, _ := control.Within(profiles.Silence)
	bottom, err := control.Nearest(lowest)
	f := fading{parameter: q, before: part.Before[q], end: part.after(q.Name), bottom: bottom}
	return f, err == nil && !f.before.IsZero() && !f.end.IsZero()
}

// addFades turns the sending of levels into ways. What falls and does not rise again is
// set while the place is muted.
func (j *job) addFades() {
	for _, f := range j.part.fades {
		j.drop(f.parameter)
		end := profiles.Setting{Parameter: f.parameter, Value: f.end}
		if f.falls {
			j.falls = append(j.falls, desk.Line{Parameter: f.parameter, From: f.before, To: f.bottom})
		}
		switch {
		case f.rises:
			j.bottoms = append(j.bottoms, profiles.Setting{Parameter: f.parameter, Value: f.bottom})
			j.rises = append(j.rises, desk.Line{Parameter: f.parameter, From: f.bottom, To: f.end})
			j.ends = append(j.ends, end)
		case f.falls:
			j.faders = append(j.faders, end)
		default:
			j.moves = append(j.moves, desk.Line{Parameter: f.parameter, From: f.before, To: f.end})
			j.ends = append(j.ends, end)
		}
	}
	if len(j.bottoms) > 0 {
		j.mute = true // where it is muted already, that is to be confirmed
	}
}

// drop takes a level out of what is sent or expected otherwise.
func (j *job) drop(q profiles.Parameter) {
	isIt := func(s profiles.Setting) bool { return s.Parameter == q }
	j.body = slices.DeleteFunc(j.body, isIt)
	j.faders = slices.DeleteFunc(j.faders, isIt)
	j.expected = slices.DeleteFunc(j.expected, isIt)
}
