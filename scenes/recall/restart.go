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
// not hold: such as were there before and are not sent; or else such as were
// confirmed.
func (r *run) witnessesOf(j *job) []profiles.Setting {
	sent := make(map[profiles.Parameter]bool)
	for _, s := range slices.Concat(j.body, j.faders) {
		sent[s.Parameter] = true
	}
	sent[j.part.parameter(muteName)] = true
	var held []profiles.Setting
	for _, q := range r.Venue.Desk.Profile.At(j.part.Place) {
		if v, known := j.part.Before[q]; known && !sent[q] {
			held = append(held, profiles.Setting{Parameter: q, Value: v})
		}
	}
	if picked := r.tellTale(held); len(picked) > 0 {
		return picked
	}
	if j.bodyProved {
		if picked := r.tellTale(j.body); len(picked) > 0 {
			return picked
		}
	}
	if j.mute && !j.opens || j.mute && !j.bodyProved {
		return r.tellTale([]profiles.Setting{j.muteSetting(true)})
	}
	return nil
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

// anyLost reports whether every witness of a job that answered holds what a desk
// holds that was just switched on.
func (r *run) anyLost(jobs []*job, confirmed []desk.Confirmed, doubts []desk.Doubt) bool {
	found := make(map[profiles.Parameter]profiles.Value)
	for _, c := range confirmed {
		found[c.Setting().Parameter] = c.Setting().Value
	}
	for _, d := range doubts {
		found[d.Wanted.Parameter] = d.Found
	}
	return slices.ContainsFunc(jobs, func(j *job) bool {
		answered := slices.DeleteFunc(r.witnessesOf(j), func(s profiles.Setting) bool { return found[s.Parameter].IsZero() })
		return len(answered) > 0 && !slices.ContainsFunc(answered, func(s profiles.Setting) bool {
			return !r.isAtStart(s.Parameter, found[s.Parameter])
		})
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
func (r *run) noteRestart(jobs []*job) {
	r.result.Restarted = true
	r.result.Moved = nil
	clear(r.found)
	for _, j := range jobs {
		r.forget(j)
	}
}

// planAnew reads the places again after the desk has lost what it held, and plans
// them anew, each to end as it was to end before.
func (r *run) planAnew(ctx context.Context) ([]*Part, error) {
	targets := r.targets()
	for i, part := range r.plan.Parts {
		open := part.WillBeOpen()
		targets[i].Open = &open
	}
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
