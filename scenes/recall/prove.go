package recall

import (
	"context"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/scenes/desk"
)

const (
	// rounds is how often a setting is sent before it is given up.
	rounds = 10
	// silences is after how many rounds without any answer it is.
	silences = 2
)

// proof is what one step asks for besides what it has sent.
type proof struct {
	what string
	jobs []*job
	// first is asked for before, also after what was sent.
	first, also []desk.Hoped
	// watch says to look for a desk that has lost what it held, watchDoubts to do so once
	// something is in doubt, before it is sent again.
	watch, watchDoubts bool
}

// sendAndProve sends settings and proves them, and gives back what went along with them
// and a hand has moved meanwhile.
func (r *run) sendAndProve(ctx context.Context, p proof, settings []profiles.Setting) (lost bool, err error) {
	if lost, err = r.sendUntilProved(ctx, p, settings); lost || err != nil {
		return lost, err
	}
	_, err = r.giveBack(ctx)
	return false, err
}

// sendUntilProved sends settings, reads them back, and sends again what did not arrive,
// several times. A job with a setting that is still in doubt then fails.
func (r *run) sendUntilProved(ctx context.Context, p proof, settings []profiles.Setting) (lost bool, err error) {
	sent, err := r.send(ctx, p.what, settings)
	if err != nil {
		return false, err
	}
	hoped := r.askable(slices.Concat(p.first, sent, p.also))
	quiet := 0
	for round := 1; len(hoped) > 0; round++ {
		doubts, lost, err := r.ask(ctx, p, hoped)
		if p.watchDoubts && err == nil && len(doubts) > 0 {
			p.watch, p.watchDoubts = true, false
			hoped = expect(wantedOf(doubts)...)
			doubts, lost, err = r.ask(ctx, p, hoped)
		}
		if lost || err != nil || len(doubts) == 0 {
			return lost, err
		}
		if quiet = countQuiet(quiet, doubts, hoped); round == rounds || quiet == silences {
			r.fail(p.jobs, doubts, quiet > 0)
			return false, nil
		}
		r.noteOverruled(p.jobs, doubts)
		if doubts = r.leave(p.jobs, doubts); len(doubts) == 0 {
			return false, nil
		}
		if hoped, err = r.resend(ctx, p.what, doubts); err != nil {
			return false, err
		}
	}
	return false, nil
}

func countQuiet(quiet int, doubts []desk.Doubt, asked []desk.Hoped) int {
	if !isQuiet(doubts, asked) {
		return 0
	}
	return quiet + 1
}

// isQuiet reports whether nothing that was asked for was answered.
func isQuiet(doubts []desk.Doubt, asked []desk.Hoped) bool {
	return len(doubts) == len(asked) && !slices.ContainsFunc(doubts, isAnswered)
}

// ask reads settings back, notes what is confirmed, and gives what is in doubt. With
// watch it asks for the witnesses of the jobs, too; those that the recall has no wish
// for are bystanders, and neither confirmed nor in doubt.
func (r *run) ask(ctx context.Context, p proof, hoped []desk.Hoped) (doubts []desk.Doubt, lost bool, err error) {
	var watched []desk.Hoped
	if p.watch {
		watched = r.witnesses(p.jobs, hoped)
	}
	// The witnesses go early, so that they can be asked again soonest.
	confirmed, all, err := r.Desk.Confirm(ctx, slices.Concat(watched, hoped), r.progress(p.what))
	bystanders := unwanted(watched, p.jobs)
	for _, c := range confirmed {
		if q := c.Setting().Parameter; !bystanders[q] {
			r.result.Confirmed[q] = c
		}
	}
	for _, d := range all {
		if err != nil && d.Found.IsZero() {
			continue // it was not asked to the end
		}
		delete(r.result.Confirmed, d.Wanted.Parameter)
		r.found[d.Wanted.Parameter] = d.Found
		if !bystanders[d.Wanted.Parameter] {
			doubts = append(doubts, d)
		}
	}
	if p.watch && err == nil {
		lost = r.anyLost(p.jobs, confirmed, all)
	}
	return doubts, lost, err
}

func unwanted(watched []desk.Hoped, jobs []*job) map[profiles.Parameter]bool {
	set := parametersOf(watched)
	for _, j := range jobs {
		for _, s := range j.wanted() {
			delete(set, s.Parameter)
		}
	}
	return set
}

func parametersOf(hoped []desk.Hoped) map[profiles.Parameter]bool {
	set := make(map[profiles.Parameter]bool, len(hoped))
	for _, h := range hoped {
		set[h.Setting().Parameter] = true
	}
	return set
}

// resend sends again what is in doubt. A mute goes first and alone: the rest waits
// until it is confirmed.
func (r *run) resend(ctx context.Context, what string, doubts []desk.Doubt) ([]desk.Hoped, error) {
	var mutes, rest []profiles.Setting
	for _, d := range doubts {
		if muted, _ := d.Wanted.Value.On(); muted && d.Wanted.Parameter.Name == muteName {
			mutes = append(mutes, d.Wanted)
		} else {
			rest = append(rest, d.Wanted)
		}
	}
	if len(mutes) == 0 {
		return r.send(ctx, what, rest)
	}
	hoped, err := r.send(ctx, what, mutes)
	return append(hoped, expect(rest...)...), err
}

// send writes settings, the noisy switches first and with the time that they need to
// settle. All are noted as sent, also when it fails half-way. A safe one is never
// written, and stays to be confirmed.
func (r *run) send(ctx context.Context, what string, settings []profiles.Setting) ([]desk.Hoped, error) {
	var noisy, rest, safe []profiles.Setting
	for _, s := range settings {
		control, _ := r.Venue.Desk.Profile.Control(s.Parameter)
		switch {
		case !r.maySend(s.Parameter):
			safe = append(safe, s)
		case control.Spec.Class == profiles.Noise:
			noisy = append(noisy, s)
		default:
			rest = append(rest, s)
		}
	}
	hoped, err := r.write(ctx, what, noisy)
	if err == nil {
		err = r.settle(ctx, noisy)
	}
	if err != nil {
		return hoped, err
	}
	more, err := r.write(ctx, what, rest)
	return slices.Concat(hoped, more, expect(safe...)), err
}

func (r *run) write(ctx context.Context, what string, settings []profiles.Setting) ([]desk.Hoped, error) {
	if len(settings) == 0 {
		return nil, nil
	}
	hoped, err := r.Desk.Write(ctx, settings, r.progress(what))
	if blind := r.blind(settings); err == nil && len(blind) > 0 {
		var again []desk.Hoped
		again, err = r.Desk.Write(ctx, blind, r.progress(what))
		hoped = append(hoped, again...)
		if err == nil { // nothing else will tell that it has arrived
			err = wait(ctx, r.Venue.Desk.Profile.Link.Linger)
		}
	}
	for _, h := range hoped {
		r.result.Sent = append(r.result.Sent, h.Setting())
		r.sends[h.Setting().Parameter]++
		delete(r.result.Confirmed, h.Setting().Parameter)
	}
	return hoped, err
}

// blind gives what the desk can only be told: it is told twice.
func (r *run) blind(settings []profiles.Setting) []profiles.Setting {
	return slices.DeleteFunc(slices.Clone(settings), func(s profiles.Setting) bool { return r.Venue.Desk.Profile.Askable(s.Parameter) })
}

// askable leaves out what the desk can't be asked about.
func (r *run) askable(hoped []desk.Hoped) []desk.Hoped {
	return slices.DeleteFunc(hoped, func(h desk.Hoped) bool { return !r.Venue.Desk.Profile.Askable(h.Setting().Parameter) })
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
	return wait(ctx, longest)
}

func wait(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// fail marks the jobs that a doubt is about. Of a desk that has fallen silent nothing
// counts as confirmed any more: it may have been switched off.
func (r *run) fail(jobs []*job, doubts []desk.Doubt, silent bool) {
	for _, j := range jobs {
		j.failed = j.failed || slices.ContainsFunc(doubts, func(d desk.Doubt) bool { return d.Wanted.Parameter.Place == j.part.Place })
		if silent {
			r.forget(j)
		}
	}
}

// noteOverruled notes the doubts in which the desk holds neither what it held before
// nor what was ever sent, or in which a mute was lifted: there a hand was at work.
func (r *run) noteOverruled(jobs []*job, doubts []desk.Doubt) {
	for _, d := range doubts {
		q := d.Wanted.Parameter
		i := slices.IndexFunc(jobs, func(j *job) bool { return j.part.Place == q.Place })
		if i < 0 || !isAnswered(d) || r.mayBeOurs(jobs[i], d) {
			continue
		}
		r.strange(q)
		r.overrule(Unproved{q, d.Wanted.Value, d.Found})
	}
}

// mayBeOurs reports whether no hand is needed for what was found: what we sent has not
// arrived.
func (r *run) mayBeOurs(j *job, d desk.Doubt) bool {
	q := d.Wanted.Parameter
	if q.Name == muteName {
		muted, _ := d.Wanted.Value.On()
		return !muted || !j.mutedNow // to open it, or not proved yet
	}
	return r.same(q, d.Found, j.part.Before[q]) || r.isKnownMove(q, d.Found)
}

// isKnownMove reports whether a value comes from a fade: it is one of its steps, or a hand's
// that was noted already.
func (r *run) isKnownMove(q profiles.Parameter, found profiles.Value) bool {
	return r.isLevelOfFade(q) && (slices.Contains(r.result.Sent, profiles.Setting{Parameter: q, Value: found}) ||
		slices.ContainsFunc(r.result.Overruled, func(u Unproved) bool { return u.Parameter == q && u.Found == found }))
}

func (r *run) isLevelOfFade(q profiles.Parameter) bool {
	return slices.ContainsFunc(r.plan.Parts, func(part *Part) bool {
		return slices.ContainsFunc(part.fades, func(f fading) bool { return f.parameter == q })
	})
}
