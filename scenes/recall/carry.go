package recall

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// rounds is how often a setting is sent before it is given up.
const rounds = 4

// passes is how often a desk that loses its settings meanwhile is set anew.
const passes = 3

// CarryOut sends a plan, in the order that protects ears, and proves it. Whatever it
// returns, a place that is not all confirmed is left muted. With an error, the
// result says what was done up to then; it is nil where nothing was sent.
func (r *Recaller) CarryOut(ctx context.Context, plan *Plan) (*Result, error) {
	started := time.Now()
	run := &run{
		Recaller: r, plan: plan, found: make(map[profiles.Parameter]profiles.Value),
		result: &Result{Plan: plan, Confirmed: make(map[profiles.Parameter]desk.Confirmed)},
	}
	if plan.Nothing() {
		run.result.Took = time.Since(started)
		return run.result, r.remember(run, nil)
	}
	if err := r.promise(plan); err != nil {
		return nil, err
	}
	err := run.all(ctx)
	run.result.Took = time.Since(started)
	if len(run.result.Sent) == 0 {
		return nil, errors.Join(err, r.remember(run, err))
	}
	run.conclude()
	return run.result, errors.Join(err, r.remember(run, err))
}

// run is one plan being carried out.
type run struct {
	*Recaller
	plan   *Plan
	result *Result
	// found is what the desk held instead of what was wanted, when last in doubt.
	found map[profiles.Parameter]profiles.Value
}

// all makes passes over the plan until the desk holds what was wanted.
func (r *run) all(ctx context.Context) error {
	parts := r.plan.Parts
	for pass := 1; ; pass++ {
		jobs := r.jobs(parts)
		if err := r.pass(ctx, jobs); err != nil {
			return err
		}
		lost, err := r.lastLook(ctx, jobs)
		if err != nil || len(lost) == 0 || pass == passes {
			return err
		}
		if parts, err = r.afterRestart(ctx, lost); err != nil {
			return err
		}
	}
}

// job is one part in one pass.
type job struct {
	part *Part
	// body is what is sent while the place is muted, last what is sent after all of
	// that is confirmed.
	body, last []profiles.Setting
	// expected were found right and are read back with the rest.
	expected []profiles.Setting
	mute     bool // while it changes
	open     bool // at the end
	failed   bool
}

func (r *run) jobs(parts []*Part) []*job {
	var jobs []*job
	for _, part := range parts {
		if len(part.Changes) > 0 {
			jobs = append(jobs, newJob(part))
		}
	}
	return jobs
}

func newJob(part *Part) *job {
	j := &job{part: part, mute: part.mustMute(), open: part.willBeOpen()}
	changed := make(map[profiles.Parameter]bool)
	for _, c := range part.Changes {
		changed[c.Parameter] = true
		s := profiles.Setting{Parameter: c.Parameter, Value: c.To}
		switch c.Parameter.Name {
		case muteName:
			j.mute = j.mute || !j.open
		case faderName:
			j.last = append(j.last, s)
		default:
			j.body = append(j.body, s)
		}
	}
	for _, c := range part.Safe {
		changed[c.Parameter] = true
	}
	for _, w := range part.Wanted {
		if !changed[w.Parameter] {
			j.expected = append(j.expected, profiles.Setting{Parameter: w.Parameter, Value: w.Value})
		}
	}
	return j
}

func (j *job) muteSetting(muted bool) profiles.Setting {
	return profiles.Setting{Parameter: j.part.parameter(muteName), Value: profiles.Switch(muted)}
}

// pass does steps 5 to 9 of a recall for all jobs together.
func (r *run) pass(ctx context.Context, jobs []*job) error {
	if err := r.muteAll(ctx, jobs); err != nil {
		return err
	}
	if err := r.setBodies(ctx, jobs); err != nil {
		return err
	}
	return r.openAll(ctx, jobs)
}

// muteAll mutes what will change, and gives up a job whose mute is not confirmed
// before anything else of it is sent.
func (r *run) muteAll(ctx context.Context, jobs []*job) error {
	var mutes []profiles.Setting
	for _, j := range jobs {
		if j.mute && !j.part.isMuted() {
			mutes = append(mutes, j.muteSetting(true))
		}
	}
	hoped, err := r.send(ctx, "muting", mutes)
	if err != nil {
		return err
	}
	doubts, err := r.prove(ctx, "muting", hoped)
	r.fail(jobs, doubts)
	return err
}

// setBodies sends and proves everything but faders and openings.
func (r *run) setBodies(ctx context.Context, jobs []*job) error {
	var settings []profiles.Setting
	var check []desk.Hoped
	for _, j := range working(jobs) {
		if j.mute {
			check = append(check, desk.Expect(j.muteSetting(true)))
		}
		settings = append(settings, j.body...)
		for _, s := range j.expected {
			check = append(check, desk.Expect(s))
		}
	}
	hoped, err := r.send(ctx, "setting", settings)
	if err != nil {
		return err
	}
	doubts, err := r.prove(ctx, "reading back", slices.Concat(check, hoped))
	r.fail(jobs, doubts)
	return err
}

// openAll moves the faders of the jobs that are all confirmed, then opens those that
// are to be open.
func (r *run) openAll(ctx context.Context, jobs []*job) error {
	var faders, opens []profiles.Setting
	for _, j := range working(jobs) {
		faders = append(faders, j.last...)
	}
	if err := r.sendAndProve(ctx, "moving faders", jobs, faders); err != nil {
		return err
	}
	for _, j := range working(jobs) {
		if j.open && (j.mute || j.part.isMuted()) && r.hasMute(j) {
			opens = append(opens, j.muteSetting(false))
		}
	}
	return r.sendAndProve(ctx, "opening", jobs, opens)
}

// hasMute reports whether the place's mute is ours to send.
func (r *run) hasMute(j *job) bool {
	q := j.part.parameter(muteName)
	_, has := r.Venue.Desk.Profile.Control(q)
	_, safe := r.Venue.SafeFor(q)
	return has && !safe
}

func (r *run) sendAndProve(ctx context.Context, what string, jobs []*job, settings []profiles.Setting) error {
	hoped, err := r.send(ctx, what, settings)
	if err != nil {
		return err
	}
	doubts, err := r.prove(ctx, what, hoped)
	r.fail(jobs, doubts)
	return err
}

// working lists the jobs that have not failed.
func working(jobs []*job) []*job {
	return slices.DeleteFunc(slices.Clone(jobs), func(j *job) bool { return j.failed })
}

// fail marks the jobs that a doubt is about, and notes the doubts.
func (r *run) fail(jobs []*job, doubts []desk.Doubt) {
	for _, d := range doubts {
		r.found[d.Wanted.Parameter] = d.Found
		for _, j := range jobs {
			if j.part.Place == d.Wanted.Parameter.Place {
				j.failed = true
			}
		}
	}
}

// send writes settings, the noisy switches first and with the time that they need to
// settle. All are noted as sent, also when it fails half-way.
func (r *run) send(ctx context.Context, what string, settings []profiles.Setting) ([]desk.Hoped, error) {
	noisy, rest := r.partNoisy(settings)
	hoped, err := r.write(ctx, what, noisy)
	if err == nil {
		err = r.settle(ctx, noisy)
	}
	if err != nil {
		return hoped, err
	}
	more, err := r.write(ctx, what, rest)
	return append(hoped, more...), err
}

func (r *run) write(ctx context.Context, what string, settings []profiles.Setting) ([]desk.Hoped, error) {
	if len(settings) == 0 {
		return nil, nil
	}
	hoped, err := r.Desk.Write(ctx, settings, r.progress(what))
	for _, h := range hoped {
		r.result.Sent = append(r.result.Sent, h.Setting())
		delete(r.result.Confirmed, h.Setting().Parameter)
	}
	return hoped, err
}

func (r *run) partNoisy(settings []profiles.Setting) (noisy, rest []profiles.Setting) {
	for _, s := range settings {
		if control, ok := r.Venue.Desk.Profile.Control(s.Parameter); ok && control.Spec.Class == profiles.Noise {
			noisy = append(noisy, s)
			continue
		}
		rest = append(rest, s)
	}
	return noisy, rest
}

// settle waits as long as the slowest of the switches needs.
func (r *run) settle(ctx context.Context, switched []profiles.Setting) error {
	var longest time.Duration
	for _, s := range switched {
		control, _ := r.Venue.Desk.Profile.Control(s.Parameter)
		longest = max(longest, control.Settle)
	}
	if longest == 0 {
		return nil
	}
	if r.Progress != nil {
		r.Progress("letting the switches settle", 0, 0)
	}
	timer := time.NewTimer(longest)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// prove reads settings back and sends again what did not arrive, several times. What
// is left is in doubt.
func (r *run) prove(ctx context.Context, what string, hoped []desk.Hoped) ([]desk.Doubt, error) {
	for round := 1; len(hoped) > 0; round++ {
		confirmed, doubts, err := r.Desk.Confirm(ctx, hoped, r.progress(what))
		for _, c := range confirmed {
			r.result.Confirmed[c.Setting().Parameter] = c
		}
		if err != nil || len(doubts) == 0 || round == rounds {
			return doubts, err
		}
		again := make([]profiles.Setting, len(doubts))
		for i, d := range doubts {
			again[i] = d.Wanted
		}
		if hoped, err = r.send(ctx, what, again); err != nil {
			return doubts, err
		}
	}
	return nil, nil
}

// promise writes, before anything is sent, what the recall is about to change: so
// that it can be undone, and so that a recall that never ends is known of.
func (r *Recaller) promise(plan *Plan) error {
	before := scenes.Reading{
		Desk: r.Venue.Desk.Profile.Name, Taken: time.Now(), Values: make(scenes.Values), On: make(map[string]string),
		Note: "before " + sayPlan(plan),
	}
	for _, part := range plan.Parts {
		if len(part.Changes) == 0 {
			continue
		}
		for _, c := range part.Changes {
			before.Values[c.Parameter] = c.From
		}
		if q := part.parameter(muteName); !part.Before[q].IsZero() {
			before.Values[q] = profiles.Switch(!part.WasOpen)
		}
		if part.Position != "" {
			before.On[part.Position] = part.Was
			r.Memory.Unfinished[part.Position] = part.WasOpen
		}
		r.Memory.Hold(part.Before)
		r.Memory.Doubt(part.mayChange()...)
	}
	if !r.Return {
		if err := r.Memory.PushUndo(&before); err != nil {
			return fmt.Errorf("nothing was sent, since it could not be undone: %w", err)
		}
	}
	if err := r.Memory.Save(before.Taken); err != nil {
		return fmt.Errorf("nothing was sent: %w", err)
	}
	return nil
}

func sayPlan(plan *Plan) string {
	first := plan.Parts[0]
	what := first.Say()
	if first.Performer != "" {
		what += ": " + first.Performer
	}
	if len(plan.Parts) > 1 {
		what += fmt.Sprintf(" and %d more", len(plan.Parts)-1)
	}
	return what
}
