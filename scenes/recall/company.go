package recall

import (
	"context"
	"slices"

	"deskhand/profiles"
	"deskhand/scenes/desk"
)

// Some desks take several settings in one message, so that a setting that the recall
// has no wish for goes along with one that it has. A hand that moves it at that very
// moment is set back by our message. Where the desk tells its changes, that comes out,
// and the hand gets its own back.

// givesBack is how often that is tried.
const givesBack = 3

// follow has the desk tell its changes meanwhile, where there is anything that may go
// along with another setting, or that fades.
func (r *run) follow(ctx context.Context) (end func(), err error) {
	p := r.Venue.Desk.Profile
	for _, part := range r.plan.Parts {
		if len(part.fades) > 0 || slices.ContainsFunc(p.At(part.Place), func(q profiles.Parameter) bool { return len(p.Beside(q)) > 0 }) {
			return r.Desk.FollowMeanwhile(ctx)
		}
	}
	return func() {}, nil
}

// giveBack sets what our messages have set back as the hand had it, where the recall has
// no wish for it. It reports whether anything was sent.
func (r *run) giveBack(ctx context.Context) (sent bool, err error) {
	for try := 1; ; try++ {
		lost, err := r.Desk.Overwritten(ctx)
		theirs := r.notWanted(lost)
		if err != nil || try > givesBack {
			r.overrule(theirs...)
			return sent, err
		}
		if len(theirs) == 0 {
			return sent, nil
		}
		sent = true
		if err := r.putBack(ctx, theirs); err != nil {
			return true, err
		}
	}
}

// notWanted gives what is the hand's by right. Where the recall wins, the hand is told.
func (r *run) notWanted(lost []desk.Overwritten) []Unproved {
	var theirs []Unproved
	for _, l := range lost {
		j := r.jobAt[l.Parameter.Place]
		wanted, isWanted := j.wish(l.Parameter)
		control, _ := r.Venue.Desk.Profile.Control(l.Parameter)
		switch {
		case isWanted && r.same(l.Parameter, wanted, l.Hand):
		case isWanted:
			r.overrule(Unproved{l.Parameter, wanted, l.Hand})
		case l.Parameter.Name == muteName, control.Spec.Class == profiles.Noise && !j.isMutedNow():
			r.overrule(Unproved{l.Parameter, l.Sent, l.Hand}) // a mute is ours until the end, and a bang is nobody's wish
		default:
			theirs = append(theirs, Unproved{l.Parameter, l.Sent, l.Hand})
		}
	}
	return theirs
}

// putBack sends what the hand had set, and asks whether it is there. What is not there is
// noted as overruled.
func (r *run) putBack(ctx context.Context, theirs []Unproved) error {
	const what = "giving back what a hand moved"
	settings := make([]profiles.Setting, len(theirs))
	for i, u := range theirs {
		settings[i] = profiles.Setting{Parameter: u.Parameter, Value: u.Found}
	}
	missing := theirs
	for try := 1; try <= givesBack && len(missing) > 0; try++ {
		hoped, err := r.write(ctx, what, settings)
		if err == nil {
			err = r.settle(ctx, settings)
		}
		var doubts []desk.Doubt
		if err == nil {
			_, doubts, err = r.Desk.Confirm(ctx, hoped, r.progress(what))
		}
		if err != nil {
			r.overrule(theirs...)
			return err
		}
		missing = slices.DeleteFunc(slices.Clone(missing), func(u Unproved) bool { return !isStill(u, doubts) })
		settings = slices.DeleteFunc(settings, func(s profiles.Setting) bool {
			return !slices.ContainsFunc(missing, func(u Unproved) bool { return u.Parameter == s.Parameter })
		})
	}
	r.overrule(missing...)
	for _, u := range theirs {
		if !slices.Contains(missing, u) {
			r.result.PutBack = append(r.result.PutBack, profiles.Setting{Parameter: u.Parameter, Value: u.Found})
		}
	}
	return nil
}

// isStill reports whether the desk holds what we sent along, or says nothing. Anything
// else is what a hand has set since.
func isStill(u Unproved, doubts []desk.Doubt) bool {
	return slices.ContainsFunc(doubts, func(d desk.Doubt) bool {
		return d.Wanted.Parameter == u.Parameter && (d.Found.IsZero() || d.Found == u.Wanted)
	})
}

// overrule notes hand moves that were set back.
func (r *run) overrule(moves ...Unproved) {
	for _, m := range moves {
		if !slices.Contains(r.result.Overruled, m) {
			r.result.Overruled = append(r.result.Overruled, m)
		}
	}
}
