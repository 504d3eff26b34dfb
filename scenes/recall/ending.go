package recall

import (
	"context"
	"maps"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// witnesses is how many settings of a place are looked at last.
const witnesses = 4

// lastLook finds jobs whose settings the desk has lost since they were confirmed, as
// it does when it restarts. It asks for a few that a restarted desk would hold
// otherwise. One that a hand has moved meanwhile stays as the hand has it.
func (r *run) lastLook(ctx context.Context, jobs []*job) ([]*job, error) {
	var asked []desk.Hoped
	of := make(map[*job][]desk.Hoped)
	for _, j := range working(jobs) {
		of[j] = r.witnesses(j)
		asked = append(asked, of[j]...)
	}
	if len(asked) == 0 {
		return nil, nil
	}
	_, doubts, err := r.Desk.Confirm(ctx, asked, r.progress("last look"))
	if err != nil {
		return nil, err
	}
	var lost []*job
	for _, j := range working(jobs) {
		mine := slices.DeleteFunc(slices.Clone(doubts), func(d desk.Doubt) bool { return d.Wanted.Parameter.Place != j.part.Place })
		switch {
		case len(of[j]) > 0 && len(mine) == len(of[j]):
			lost = append(lost, j)
		default:
			r.moved(mine)
		}
	}
	return lost, nil
}

func (r *run) moved(doubts []desk.Doubt) {
	for _, d := range doubts {
		delete(r.result.Confirmed, d.Wanted.Parameter)
		if d.Found.IsZero() {
			r.result.Unproved = append(r.result.Unproved, Unproved{d.Wanted.Parameter, d.Wanted.Value, d.Found})
			continue
		}
		r.result.Moved = append(r.result.Moved, Unproved{d.Wanted.Parameter, d.Wanted.Value, d.Found})
	}
}

// witnesses picks settings of a job that a desk that was just switched on does not
// hold.
func (r *run) witnesses(j *job) []desk.Hoped {
	var picked []desk.Hoped
	for _, s := range slices.Concat(j.body, j.expected, j.last) {
		control, _ := r.Venue.Desk.Profile.Control(s.Parameter)
		if !control.Same(s.Value, control.Start) && len(picked) < witnesses {
			picked = append(picked, desk.Expect(s))
		}
	}
	return picked
}

// afterRestart reads the places of jobs again and plans them anew, each to end as it
// was to end before.
func (r *run) afterRestart(ctx context.Context, lost []*job) ([]*Part, error) {
	r.result.Restarted = true
	targets := make([]Target, len(lost))
	maps.DeleteFunc(r.result.Confirmed, func(q profiles.Parameter, _ desk.Confirmed) bool {
		return slices.ContainsFunc(lost, func(j *job) bool { return j.part.Place == q.Place })
	})
	for i, j := range lost {
		targets[i] = j.part.Target
		open := j.open
		targets[i].Open = &open
	}
	holds, err := r.read(ctx, targets)
	if err != nil {
		return nil, err
	}
	parts := make([]*Part, len(targets))
	for i, t := range targets {
		parts[i] = r.part(t, holds)
	}
	return parts, nil
}

// conclude says of everything that was wanted at a changed place whether it is
// confirmed, and which places stay muted.
func (r *run) conclude() {
	for _, part := range r.plan.Parts {
		if len(part.Changes) == 0 {
			continue
		}
		for _, s := range r.wantedOf(part) {
			if _, ok := r.result.Confirmed[s.Parameter]; !ok && !r.isNoted(s.Parameter) {
				r.result.Unproved = append(r.result.Unproved, Unproved{s.Parameter, s.Value, r.found[s.Parameter]})
			}
		}
		mute, confirmed := r.result.Confirmed[part.parameter(muteName)]
		if muted, _ := mute.Setting().Value.On(); confirmed && muted && part.willBeOpen() {
			r.result.StillMuted = append(r.result.StillMuted, part)
		}
	}
}

// wantedOf is everything that was to be confirmed at a place.
func (r *run) wantedOf(part *Part) []profiles.Setting {
	j := newJob(part)
	wanted := slices.Concat(j.body, j.expected, j.last)
	if r.hasMute(j) && (j.mute || j.open && part.isMuted()) {
		wanted = append(wanted, j.muteSetting(!j.open))
	}
	return wanted
}

func (r *run) isNoted(q profiles.Parameter) bool {
	about := func(u Unproved) bool { return u.Parameter == q }
	return slices.ContainsFunc(r.result.Moved, about) || slices.ContainsFunc(r.result.Unproved, about)
}

// remember notes what the desk now holds and who is where. What is not confirmed is
// not remembered, so that it can't count as a hand move later.
func (r *Recaller) remember(run *run, failure error) error {
	for _, part := range run.plan.Parts {
		r.Memory.Hold(part.Before)
		r.Memory.Doubt(part.mayChange()...)
		r.rememberPosition(run, part, failure)
	}
	values := make(scenes.Values)
	for q, c := range run.result.Confirmed {
		values[q] = c.Setting().Value
	}
	r.Memory.Hold(values)
	for _, u := range slices.Concat(run.result.Unproved, run.result.Moved) {
		r.Memory.Doubt(u.Parameter)
	}
	return r.Memory.Save(time.Now())
}

// mayChange lists what sending the part's changes may leave otherwise than it was.
func (part *Part) mayChange() []profiles.Parameter {
	var all []profiles.Parameter
	for _, c := range part.Changes {
		all = append(all, c.Parameter)
	}
	if part.mustMute() {
		all = append(all, part.parameter(muteName))
	}
	return all
}

// rememberPosition notes who is on a position once all of it is confirmed.
func (r *Recaller) rememberPosition(run *run, part *Part, failure error) {
	if part.Position == "" {
		return
	}
	unproved := slices.ContainsFunc(run.result.Unproved, func(u Unproved) bool { return u.Parameter.Place == part.Place })
	if unproved || failure != nil && len(part.Changes) > 0 {
		return
	}
	delete(r.Memory.Unfinished, part.Position)
	r.Memory.On[part.Position] = part.Performer
}

// Undo gives the targets that lead back to before the last recall, who was on which
// position then, and a function that drops the undo once it is done. No targets: there is
// nothing to undo.
func (r *Recaller) Undo() ([]Target, *scenes.Reading, func() error, error) {
	before, drop, err := r.Memory.Undo()
	if err != nil || before == nil {
		return nil, nil, nil, err
	}
	targets := ForReading(r.Venue, before)
	return targets, before, func() error {
		maps.Copy(r.Memory.On, before.On)
		if err := r.Memory.Save(time.Now()); err != nil {
			return err
		}
		return drop()
	}, nil
}
