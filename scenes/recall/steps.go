package recall

import (
	"context"
	"slices"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// muteAll mutes what will change. A job whose mute is not confirmed fails before
// anything else of it is sent.
func (r *run) muteAll(ctx context.Context, jobs []*job) (lost bool, err error) {
	var mutes []profiles.Setting
	var muted []desk.Hoped
	for _, j := range jobs {
		switch {
		case !j.mute:
		case j.part.isMuted() && r.Venue.Desk.Profile.Askable(j.part.parameter(muteName)):
			muted = append(muted, desk.Expect(j.muteSetting(true)))
		default:
			mutes = append(mutes, j.muteSetting(true))
		}
	}
	lost, err = r.sendAndProve(ctx, proof{what: "muting", jobs: jobs, also: muted}, mutes)
	for _, j := range jobs {
		j.mutedNow = j.mute && !j.failed
	}
	return lost, err
}

// byHand asks for what a hand has to do, now that the places are muted. A job whose hand
// has not done it fails, and stays muted.
func (r *run) byHand(ctx context.Context, jobs []*job) (lost bool, err error) {
	jobs = slices.DeleteFunc(working(jobs), func(j *job) bool { return len(j.hand) == 0 })
	var changes []scenes.Change
	for _, j := range jobs {
		changes = append(changes, j.hand...)
	}
	if len(changes) == 0 {
		return false, nil
	}
	r.result.ByHand = append(r.result.ByHand, changes...)
	done := false
	if r.Hand != nil {
		done, err = r.Hand(ctx, changes)
	}
	if done && err == nil {
		if r.handed == nil {
			r.handed = make(scenes.Values)
		}
		for _, c := range changes {
			r.handed[c.Parameter] = c.To
		}
		r.Memory.Hold(r.handed)
		return false, nil
	}
	r.result.NotDone = append(r.result.NotDone, changes...)
	for _, j := range jobs {
		j.failed = true
	}
	return false, err
}

// setBodies sends and proves everything but faders and openings.
func (r *run) setBodies(ctx context.Context, jobs []*job) (lost bool, err error) {
	jobs = working(jobs)
	var settings []profiles.Setting
	var mutes, rest []desk.Hoped
	for _, j := range jobs {
		if j.mute {
			mutes = append(mutes, desk.Expect(j.muteSetting(true)))
		}
		lower, low := r.bottoms(j)
		settings = append(append(settings, j.body...), lower...)
		rest = append(rest, expect(low...)...)
		rest = append(rest, expect(j.expected...)...)
	}
	lost, err = r.sendAndProve(ctx, proof{what: "setting", jobs: jobs, first: mutes, also: rest, watch: true}, settings)
	for _, j := range jobs {
		j.bodyProved = !j.failed
	}
	return lost, err
}

// moveFaders moves the faders of the jobs that are all confirmed. Their witnesses were just
// asked for, with the body: only a fader that isn't where it was sent has them asked again.
func (r *run) moveFaders(ctx context.Context, jobs []*job) (lost bool, err error) {
	jobs = working(jobs)
	var faders []profiles.Setting
	for _, j := range jobs {
		faders = append(faders, j.faders...)
	}
	if len(faders) == 0 {
		return false, nil
	}
	return r.sendAndProve(ctx, proof{what: "moving faders", jobs: jobs, watchDoubts: true}, faders)
}

// openAll opens those that are to be open, before they come up.
func (r *run) openAll(ctx context.Context, jobs []*job) (lost bool, err error) {
	return r.sendAndProve(ctx, proof{what: "opening", jobs: working(jobs)}, opening(working(jobs)))
}

// opening gives what opens those that are to be open, now.
func opening(jobs []*job) []profiles.Setting {
	var opens []profiles.Setting
	for _, j := range jobs {
		if j.opens {
			opens = append(opens, j.muteSetting(false))
			j.mutedNow = false
		}
	}
	return opens
}

// openAndLook opens those that are to be open, with the last look right behind it: while
// the opening can't be asked for yet, all else can. Where an opening was lost, it is sent
// again, and looked at again.
func (r *run) openAndLook(ctx context.Context, jobs []*job) (lost bool, err error) {
	opens, quiet := opening(working(jobs)), 0
	for round := 1; ; round++ {
		if _, err := r.send(ctx, "opening", opens); err != nil {
			return false, err
		}
		shut, silent, lost, err := r.look(ctx, working(jobs), opens)
		if lost || err != nil || len(shut) == 0 {
			return lost, err
		}
		quiet++
		if !silent {
			quiet = 0
		}
		if round == rounds || quiet == silences {
			r.fail(jobs, shut, silent)
			return false, nil
		}
		opens = wantedOf(shut)
	}
}

// lastLook asks once more for everything, after the last packet that changes
// anything. What a hand has moved meanwhile stays as the hand has it.
func (r *run) lastLook(ctx context.Context, jobs []*job) (lost bool, err error) {
	_, _, lost, err = r.look(ctx, working(jobs), nil)
	return lost, err
}

// look is the last look. It gives those of the openings that are in doubt, with which it
// is not the last, and whether the desk has said nothing at all.
func (r *run) look(ctx context.Context, jobs []*job, opens []profiles.Setting) (shut []desk.Doubt, silent, lost bool, err error) {
	p := proof{what: "last look", jobs: jobs, watch: true}
	for _, j := range jobs {
		p.also = append(p.also, expect(j.wanted()...)...)
	}
	for look := 1; ; look++ {
		asked := r.askable(p.also)
		doubts, lost, err := r.ask(ctx, p, asked)
		if lost || err != nil {
			return nil, false, lost, err
		}
		for _, d := range doubts {
			if slices.Contains(opens, d.Wanted) {
				shut = append(shut, d)
			}
		}
		if len(shut) > 0 {
			return shut, countQuiet(0, doubts, asked) > 0, false, nil
		}
		sent := false
		if look <= givesBack {
			sent, err = r.giveBack(ctx)
		}
		if err != nil || !sent {
			r.noteMoved(doubts)
			return nil, false, false, err
		}
		opens = nil // proved
	}
}

func isAnswered(d desk.Doubt) bool { return !d.Found.IsZero() }

func wantedOf(doubts []desk.Doubt) []profiles.Setting {
	all := make([]profiles.Setting, len(doubts))
	for i, d := range doubts {
		all[i] = d.Wanted
	}
	return all
}

// noteMoved notes what a hand has moved after it was confirmed.
func (r *run) noteMoved(doubts []desk.Doubt) {
	for _, d := range doubts {
		if !d.Found.IsZero() {
			r.moved(Unproved{d.Wanted.Parameter, d.Wanted.Value, d.Found})
		}
	}
}
