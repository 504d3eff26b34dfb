package recall

import (
	"context"
	"errors"
	"fmt"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// passes is how often a desk that loses its settings meanwhile is set anew.
const passes = 3

// CarryOut sends a plan, in the order that protects ears, and proves it. Whatever it
// returns, a place that is not all confirmed is left muted. With an error, the
// result says what was done up to then; it is nil where nothing was sent. The error
// is [Stale] where the desk no longer holds what the plan was made for.
//
// It holds the desk's lock, and waits for it first. Where another recall had it since the
// plan was made, the desk is read again: the plan stands if its own places are as they
// were.
func (r *Recaller) CarryOut(ctx context.Context, plan *Plan) (*Result, error) {
	ctx, vigil, end := r.awake(ctx)
	defer end()
	lock, err := r.Lock(ctx)
	if err != nil {
		return nil, fmt.Errorf("nothing was sent: %w", orAway(vigil, err))
	}
	defer lock.Release()
	defer r.Desk.Guard(vigil)()
	run := &run{
		Recaller: r, plan: plan, started: time.Now(),
		result: &Result{Plan: plan, Confirmed: make(map[profiles.Parameter]desk.Confirmed)},
		jobAt:  make(map[profiles.Place]*job),
		found:  make(map[profiles.Parameter]profiles.Value),
		sends:  make(map[profiles.Parameter]int),

		strangers: make(map[profiles.Place]map[profiles.Parameter]bool),
		foundShut: make(map[profiles.Place]bool),
	}
	err = run.checkStill(ctx, lock.Found())
	if err == nil {
		err = plan.checkAwake(vigil)
	}
	if err != nil {
		err = run.nothingSent(orAway(vigil, err))
		r.recordRefusal(plan, nil, err)
		return nil, err
	}
	movesWritten := r.recordMoves(plan)
	result, err := run.carryOut(ctx, vigil)
	if err == nil && result.Complete() {
		err = run.endUndo()
	}
	movesWritten()
	run.recordResult(err)
	return result, err
}

// carryOut is the recall itself, with its promise before and its remembering after.
func (r *run) carryOut(ctx context.Context, vigil *desk.Vigil) (*Result, error) {
	if r.plan.Nothing() {
		r.result.Took = time.Since(r.started)
		return r.result, r.remember()
	}
	promised, err := r.promise(r.plan)
	if err != nil {
		return nil, err
	}
	err = orAway(vigil, r.all(ctx))
	if len(r.result.Sent) == 0 {
		return nil, errors.Join(r.nothingSent(err), promised.takeBack())
	}
	lost, _ := r.Desk.Overwritten(ctx) // of a recall that did not come to its end
	r.overrule(r.notWanted(lost)...)
	r.conclude()
	r.result.Took = time.Since(r.started)
	return r.result, errors.Join(err, promised.keep(), r.remember())
}

// nothingSent is the error of a recall that could send nothing.
func (r *run) nothingSent(err error) error {
	switch {
	case err != nil:
	case len(r.result.NotDone) > 0:
		err = errors.New("what is for a hand was not done")
	default:
		err = fmt.Errorf("%w: a mute could not be confirmed", desk.ErrSilent)
	}
	return fmt.Errorf("nothing was sent: %w", err)
}

// run is one plan being carried out.
type run struct {
	*Recaller
	plan    *Plan
	result  *Result
	started time.Time
	// jobAt is the last job for each place that there was one for.
	jobAt map[profiles.Place]*job
	// found is what the desk held instead of what was wanted, when last in doubt.
	found map[profiles.Parameter]profiles.Value
	// handed is what a hand has set and said so.
	handed scenes.Values
	// sends is how often each was sent in this pass.
	sends map[profiles.Parameter]int
	// strangers are the settings of each place that somebody else has set meanwhile.
	strangers map[profiles.Place]map[profiles.Parameter]bool
	// foundShut are places that were muted after their opening was sent.
	foundShut map[profiles.Place]bool
}

// all carries out all that changes, and what somebody else was at, again.
func (r *run) all(ctx context.Context) error {
	jobs := r.jobsFor(r.plan.Parts, false)
	if err := r.passes(ctx, jobs); err != nil {
		return err
	}
	return r.afterRivals(ctx)
}

// passes makes passes over the jobs until the desk keeps what was wanted.
func (r *run) passes(ctx context.Context, jobs []*job) error {
	for pass := 1; ; pass++ {
		lost, err := r.pass(ctx, jobs)
		if err != nil || !lost {
			return err
		}
		r.noteRestart()
		if pass == passes {
			return r.giveUp(ctx, jobs)
		}
		parts, err := r.planAnew(ctx, r.targetsAnew())
		if err != nil {
			return err
		}
		jobs = r.jobsFor(parts, true)
	}
}

func (r *run) targets() []Target {
	targets := make([]Target, len(r.plan.Parts))
	for i, part := range r.plan.Parts {
		targets[i] = part.Target
	}
	return targets
}

// targetsAnew gives the targets, each to end as it was to end before.
func (r *run) targetsAnew() []Target {
	targets := r.targets()
	for i, part := range r.plan.Parts {
		open := part.WillBeOpen()
		targets[i].Open = &open
	}
	return targets
}

// jobsFor makes jobs of the parts that have changes, or of all, anew. On a desk that has
// lost what it held everything is open: it is muted at once, and nothing comes down before.
func (r *run) jobsFor(parts []*Part, anew bool) []*job {
	var jobs []*job
	for _, part := range parts {
		if anew || len(part.Changes) > 0 {
			j := r.newJob(part)
			if anew {
				j.falls = nil
			}
			r.jobAt[part.Place] = j
			jobs = append(jobs, j)
		}
	}
	return jobs
}

// lastJobs are the last for each place that there was one for.
func (r *run) lastJobs() []*job {
	var jobs []*job
	for _, part := range r.plan.Parts {
		if j := r.jobAt[part.Place]; j != nil {
			jobs = append(jobs, j)
		}
	}
	return jobs
}

// pass does steps 5 to 9 of a recall for all jobs together. It ends early when the
// desk turns out to have lost what it held.
func (r *run) pass(ctx context.Context, jobs []*job) (lost bool, err error) {
	end, err := r.follow(ctx)
	if err != nil {
		return false, err
	}
	defer end()
	for _, step := range r.steps(jobs) {
		if lost, err = step(ctx); lost || err != nil {
			break
		}
	}
	return lost, err
}
