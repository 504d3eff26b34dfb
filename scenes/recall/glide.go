package recall

import (
	"context"
	"slices"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// step is one step of a recall for some jobs. It ends the pass where the desk turns out to
// have lost what it held.
type step func(ctx context.Context) (lost bool, err error)

// steps are those of a pass, in their order. Without a fade they are steps 5 to 9 of a
// recall, and the last look.
func (r *run) steps(jobs []*job) []step {
	if r.plan.Fade().Time == 0 {
		return append(r.setting(jobs), func(ctx context.Context) (bool, error) { return r.openAndLook(ctx, jobs) })
	}
	if r.plan.Fade().Together {
		return append(r.together(jobs), r.lastLook)
	}
	downs := r.gliding(jobs, func() []desk.Line { return append(falls(jobs), moves(jobs, isDown)...) })
	ups := r.gliding(jobs, func() []desk.Line { return append(moves(jobs, isUp), rises(jobs)...) })
	return slices.Concat([]step{downs}, r.settingAndOpening(jobs), []step{ups, r.lastLook})
}

// together has the places that need not come down first set and opened before all others,
// so that they come up while the others go down.
func (r *run) together(jobs []*job) []step {
	needsFall := func(j *job) bool { return len(j.falls) > 0 }
	early := slices.DeleteFunc(slices.Clone(jobs), needsFall)
	late := slices.DeleteFunc(slices.Clone(jobs), func(j *job) bool { return !needsFall(j) })
	either := func(desk.Line) bool { return true }
	both := r.gliding(jobs, func() []desk.Line {
		return slices.Concat(falls(late), moves(jobs, either), rises(early))
	})
	ups := r.gliding(late, func() []desk.Line { return rises(late) })
	return slices.Concat(r.settingAndOpening(early), []step{both}, r.settingAndOpening(late), []step{ups})
}

// settingAndOpening mutes, sets and opens the jobs.
func (r *run) settingAndOpening(jobs []*job) []step {
	return append(r.setting(jobs), func(ctx context.Context) (bool, error) { return r.openAll(ctx, jobs) })
}

// setting mutes and sets the jobs.
func (r *run) setting(jobs []*job) []step {
	var steps []step
	for _, do := range []func(context.Context, []*job) (bool, error){
		r.muteAll, r.byHand, r.setBodies, r.moveFaders,
	} {
		steps = append(steps, func(ctx context.Context) (bool, error) { return do(ctx, jobs) })
	}
	return steps
}

func falls(jobs []*job) []desk.Line {
	return linesOf(jobs, func(j *job) []desk.Line { return j.falls })
}

func rises(jobs []*job) []desk.Line {
	return linesOf(jobs, func(j *job) []desk.Line { return j.rises })
}

func moves(jobs []*job, which func(desk.Line) bool) []desk.Line {
	all := linesOf(jobs, func(j *job) []desk.Line { return j.moves })
	return slices.DeleteFunc(all, func(l desk.Line) bool { return !which(l) })
}

// linesOf gathers lines of the jobs that have not failed.
func linesOf(jobs []*job, of func(*job) []desk.Line) []desk.Line {
	var all []desk.Line
	for _, j := range working(jobs) {
		all = append(all, of(j)...)
	}
	return all
}

func isUp(l desk.Line) bool {
	from, _ := l.From.Number()
	to, _ := l.To.Number()
	return to > from
}

func isDown(l desk.Line) bool { return !isUp(l) }

// gliding is the step that moves levels along their lines. Which they are shows when it is
// due. It looks for a desk that has lost what it held: an open place on such a desk would
// come up with anything.
func (r *run) gliding(jobs []*job, lines func() []desk.Line) step {
	return func(ctx context.Context) (lost bool, err error) {
		all := lines()
		if len(all) == 0 {
			return false, nil
		}
		witnesses := r.witnesses(working(jobs), nil)
		watched := make([]profiles.Parameter, len(witnesses))
		for i, w := range witnesses {
			watched[i] = w.Setting().Parameter
		}
		glided, err := r.Desk.Glide(ctx, all, r.plan.Fade().Time, desk.GlideOptions{
			Progress: r.progress("fading"), Witnesses: watched,
			IsLost: func(holds scenes.Values) bool { return r.tellLoss(working(jobs), holds) },
		})
		r.noteGlided(jobs, glided)
		if err != nil || glided.Lost {
			return glided.Lost, err
		}
		_, err = r.giveBack(ctx)
		return false, err
	}
}

// noteGlided notes what a glide has done. What a hand has taken is the hand's, but where
// the place is muted and set after that.
func (r *run) noteGlided(jobs []*job, glided desk.Glided) {
	r.result.Faded = max(r.result.Faded, glided.Took)
	for _, s := range glided.Sent {
		r.result.Sent = append(r.result.Sent, s)
		r.sends[s.Parameter]++
		delete(r.result.Confirmed, s.Parameter)
	}
	for _, c := range glided.Confirmed {
		r.result.Confirmed[c.Setting().Parameter] = c
	}
	for _, d := range glided.Doubts {
		r.found[d.Wanted.Parameter] = d.Found
	}
	for _, d := range glided.Moved {
		q := d.Wanted.Parameter
		delete(r.result.Confirmed, q)
		r.found[q] = d.Found
		isIt := func(l desk.Line) bool { return l.Parameter == q && l.To == d.Wanted.Value }
		end, _ := r.jobAt[q.Place].wish(q)
		if slices.ContainsFunc(falls(jobs), isIt) {
			r.overrule(Unproved{q, end, d.Found})
			continue
		}
		r.moved(Unproved{q, end, d.Found})
	}
}

// moved notes what a hand has moved and keeps, once for each setting.
func (r *run) moved(u Unproved) {
	isIt := func(m Unproved) bool { return m.Parameter == u.Parameter }
	r.result.Moved = append(slices.DeleteFunc(r.result.Moved, isIt), u)
}

// bottoms gives the levels that a place is to have down while it is set: those that have
// to be sent, and those that are down already.
func (r *run) bottoms(j *job) (send, there []profiles.Setting) {
	for _, s := range j.bottoms {
		if r.isConfirmed(s) || r.sends[s.Parameter] == 0 && r.same(s.Parameter, j.part.Before[s.Parameter], s.Value) {
			there = append(there, s)
		} else {
			send = append(send, s)
		}
	}
	return send, there
}
