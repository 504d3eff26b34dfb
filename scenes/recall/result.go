package recall

import (
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

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
	// changed, and those that were right already. Of a place that is not among
	// Unproved and StillMuted, the desk reported them after the last packet of the
	// recall.
	Confirmed map[profiles.Parameter]desk.Confirmed
	// Unproved are the others.
	Unproved []Unproved
	// ByHand is what a hand had to do, NotDone what it has not.
	ByHand, NotDone []scenes.Change
	// StillMuted are the places that were to be open and stay muted.
	StillMuted []*Part
	// Restarted says that the desk lost settings meanwhile, as it does when it is
	// switched off and on. Those of the recall were set again; others may be lost.
	Restarted bool
	// Moved are settings that a hand moved while the recall was ending: they were
	// confirmed, and then the hand won.
	Moved []Unproved
	// Overruled are settings that a hand moved before the end, and that were sent
	// again, or went along again in a message for others. Found is what the hand had
	// set.
	Overruled []Unproved
	// PutBack are settings of which the recall wants nothing, and that a hand moved just
	// as they went along in a message for others: what the hand had set was sent again,
	// and is there.
	PutBack []profiles.Setting
	// Rivals are the places that somebody else was setting at the same time, from another
	// machine. Those that are not among Unproved and StillMuted were set after them.
	Rivals []*Part
	Took   time.Duration
	// Faded is how long the longest of the fades took, 0 where nothing faded. It may be
	// longer than was asked for, where the desk's pace wants that.
	Faded time.Duration
}

// Yielded reports whether a place of the plan was left to somebody else who was setting it
// at the same time, and who has opened it.
func (r *Result) Yielded(part *Part) bool {
	wrong := func(u Unproved) bool { return u.Parameter.Place == part.Place }
	return slices.Contains(r.Rivals, part) && !slices.Contains(r.StillMuted, part) && slices.ContainsFunc(r.Unproved, wrong)
}

// Complete reports whether everything that was wanted is confirmed.
func (r *Result) Complete() bool {
	return len(r.Unproved) == 0 && len(r.StillMuted) == 0 && len(r.NotDone) == 0
}

// HandDid reports whether a hand has done what it had to do for a parameter.
func (r *Result) HandDid(q profiles.Parameter) bool {
	about := func(c scenes.Change) bool { return c.Parameter == q }
	return slices.ContainsFunc(r.ByHand, about) && !slices.ContainsFunc(r.NotDone, about)
}

// conclude says of everything that was wanted at a changed place whether it is
// confirmed, and which places stay muted.
func (r *run) conclude() {
	for _, part := range r.plan.Parts {
		j, touched := r.jobAt[part.Place]
		if !touched {
			continue
		}
		for _, s := range j.wanted() {
			if r.isConfirmed(s) || r.isMoved(s.Parameter) {
				continue
			}
			if s == j.muteSetting(false) && r.isConfirmed(j.muteSetting(true)) {
				r.result.StillMuted = append(r.result.StillMuted, part)
				continue
			}
			found := r.found[s.Parameter]
			if c, isOther := r.result.Confirmed[s.Parameter]; isOther { // as a level that was taken down for a fade
				found = c.Setting().Value
				delete(r.result.Confirmed, s.Parameter)
			}
			r.result.Unproved = append(r.result.Unproved, Unproved{s.Parameter, s.Value, found})
		}
	}
}

func (r *run) isConfirmed(s profiles.Setting) bool {
	c, ok := r.result.Confirmed[s.Parameter]
	return ok && r.same(s.Parameter, c.Setting().Value, s.Value)
}

func (r *run) isMoved(q profiles.Parameter) bool {
	return slices.ContainsFunc(r.result.Moved, func(u Unproved) bool { return u.Parameter == q })
}

// provedAt reports whether all that was wanted at a part's place came about, as far as
// the desk can be asked.
func (r *run) provedAt(part *Part) bool {
	at := func(u Unproved) bool {
		return u.Parameter.Place == part.Place && r.Venue.Desk.Profile.Askable(u.Parameter)
	}
	if slices.ContainsFunc(r.result.NotDone, func(c scenes.Change) bool { return c.Parameter.Place == part.Place }) {
		return false
	}
	return !slices.ContainsFunc(r.result.Unproved, at) && !slices.Contains(r.result.StillMuted, part)
}
