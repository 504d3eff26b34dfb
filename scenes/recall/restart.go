package recall

import (
	"context"
	"slices"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// witnesses is how many settings of a place are looked at to see whether the desk has
// lost what it held.
const witnesses = 4

// witnessesOf are settings of the place that a desk that was just switched on does
// not hold: such as were there before and were not sent, or else such as were
// confirmed; and the mute while it lasts. One that was sent again is none: it may have
// arrived after a restart.
// Only where the whole of a proved place was sent again is that taken all the same.
func (r *run) witnessesOf(j *job) []profiles.Setting {
	picked := r.tellTale(r.untouched(j))
	if len(picked) == 0 && j.bodyProved {
		picked = r.tellTale(slices.DeleteFunc(slices.Clone(j.body), func(s profiles.Setting) bool { return r.sends[s.Parameter] > 1 }))
	}
	if len(picked) == 0 && j.bodyProved {
		picked = r.tellTale(j.body)
	}
	if mute := j.muteSetting(true); j.mutedNow && r.sends[mute.Parameter] <= 1 {
		picked = append(r.tellTale([]profiles.Setting{mute}), picked...)
	}
	return picked
}

// untouched is what the place held before and has not been sent.
func (r *run) untouched(j *job) []profiles.Setting {
	willSend := make(map[profiles.Parameter]bool)
	for _, s := range slices.Concat(j.body, j.faders, j.bottoms, j.ends) {
		willSend[s.Parameter] = true
	}
	var held []profiles.Setting
	for _, q := range r.Venue.Desk.Profile.At(j.part.Place) {
		if v, known := j.part.Before[q]; known && !willSend[q] && r.sends[q] == 0 && q.Name != muteName {
			held = append(held, profiles.Setting{Parameter: q, Value: v})
		}
	}
	return held
}

// tellTale picks a few settings that a desk that was just switched on does not hold.
func (r *Recaller) tellTale(settings []profiles.Setting) []profiles.Setting {
	var picked []profiles.Setting
	for _, s := range settings {
		control, _ := r.Venue.Desk.Profile.Control(s.Parameter)
		if r.Venue.Desk.Profile.Askable(s.Parameter) && !control.Same(s.Value, control.Start) && len(picked) < witnesses {
			picked = append(picked, s)
		}
	}
	return picked
}

// witnesses gives those of all jobs that are not asked for anyway.
func (r *run) witnesses(jobs []*job, asked []desk.Hoped) []desk.Hoped {
	already := parametersOf(asked)
	var all []desk.Hoped
	for _, j := range jobs {
		for _, s := range r.witnessesOf(j) {
			if !already[s.Parameter] {
				all = append(all, desk.Expect(s))
			}
		}
	}
	return all
}

// enough is how many witnesses of a place, holding what a desk holds that was just
// switched on, tell a restart from a hand: all, where there are fewer.
const enough = 2

// anyLost reports whether the witnesses of a job say that the desk has lost what it
// held.
func (r *run) anyLost(jobs []*job, confirmed []desk.Confirmed, doubts []desk.Doubt) bool {
	found := make(scenes.Values)
	for _, c := range confirmed {
		found[c.Setting().Parameter] = c.Setting().Value
	}
	for _, d := range doubts {
		found[d.Wanted.Parameter] = d.Found
	}
	return r.tellLoss(jobs, found)
}

// tellLoss is that of what the desk was found to hold.
func (r *run) tellLoss(jobs []*job, found scenes.Values) bool {
	return slices.ContainsFunc(jobs, func(j *job) bool {
		answered, lost := 0, 0
		for _, s := range r.witnessesOf(j) {
			switch v := found[s.Parameter]; {
			case v.IsZero():
			case r.isAtStart(s.Parameter, v):
				lost++
				answered++
			default:
				answered++
			}
		}
		return lost >= enough || lost > 0 && lost == answered
	})
}

func (r *Recaller) isAtStart(q profiles.Parameter, v profiles.Value) bool {
	control, ok := r.Venue.Desk.Profile.Control(q)
	return ok && control.Same(v, control.Start)
}

// looksSwitchedOn reports whether all that is remembered of a place and that would
// tell is as on a desk that was just switched on.
func (r *Recaller) looksSwitchedOn(remembered, holds scenes.Values) bool {
	told := 0
	for q, is := range holds {
		was, known := remembered[q]
		if !known || r.isAtStart(q, was) {
			continue
		}
		if !r.isAtStart(q, is) {
			return false
		}
		told++
	}
	return told > 1
}

// forget takes back what was confirmed at the place of a job.
func (r *run) forget(j *job) {
	for _, q := range r.Venue.Desk.Profile.At(j.part.Place) {
		delete(r.result.Confirmed, q)
	}
}

// noteRestart notes that the desk has lost what it held, and what had been found out
// with it.
func (r *run) noteRestart() {
	r.result.Restarted = true
	r.result.Moved, r.result.PutBack = nil, nil
	clear(r.found)
	clear(r.sends)
	clear(r.strangers)
	clear(r.foundShut)
	clear(r.result.Confirmed)
}

// planAnew reads places again after the desk has lost what it held, and plans them anew.
func (r *run) planAnew(ctx context.Context, targets []Target) ([]*Part, error) {
	holds, err := r.read(ctx, targets)
	if err != nil {
		return nil, err
	}
	return r.parts(targets, holds), nil
}

// giveUp leaves muted what was to be muted, on a desk that does not keep what is set.
func (r *run) giveUp(ctx context.Context, jobs []*job) error {
	for _, j := range jobs {
		j.mute = j.mute || j.opens
		j.failed = true
		j.part.Before = nil
	}
	_, err := r.muteAll(ctx, jobs)
	return err
}
