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
		shut, silent, lost, err := r.look(ctx, opens)
		if lost || err != nil || len(shut) == 0 {
			return lost, err
		}
		if quiet++; !silent {
			quiet = 0
		}
		if quiet == silences {
			r.fail(r.lastJobs(), shut, true)
			return false, nil
		}
		if round == rounds {
			r.fail(jobs, shut, false)
			return r.lastLook(ctx)
		}
		if lost, err := r.mend(ctx, working(jobs), shut); lost || err != nil {
			return lost, err
		}
		opens = opening(slices.DeleteFunc(working(jobs), func(j *job) bool { return !isAbout(j, shut) }))
	}
}

// mend sets again what was found otherwise at places that are still muted: nobody hears
// it, and so the recall wins.
func (r *run) mend(ctx context.Context, jobs []*job, shut []desk.Doubt) (lost bool, err error) {
	var wrong []profiles.Setting
	p := proof{what: "setting", jobs: jobs, watch: true}
	for _, j := range jobs {
		if !slices.ContainsFunc(shut, func(d desk.Doubt) bool { return isAnswered(d) && d.Wanted.Parameter == j.part.parameter(muteName) }) {
			continue
		}
		r.foundShut[j.part.Place] = true
		for _, d := range shut {
			if d.Wanted.Parameter.Place == j.part.Place && d.Wanted.Parameter.Name != muteName && isAnswered(d) {
				wrong = append(wrong, d.Wanted)
				j.mutedNow = true
			}
		}
		if j.mutedNow {
			r.noteOverruled(jobs, shut)
			p.first = append(p.first, desk.Expect(j.muteSetting(true)))
		}
	}
	if len(wrong) == 0 {
		return false, nil
	}
	return r.sendUntilProved(ctx, p, wrong)
}

func isAbout(j *job, doubts []desk.Doubt) bool {
	return slices.ContainsFunc(doubts, func(d desk.Doubt) bool { return d.Wanted.Parameter.Place == j.part.Place })
}

// lastLook asks once more for everything, after the last packet that changes
// anything. What a hand has moved meanwhile stays as the hand has it.
func (r *run) lastLook(ctx context.Context) (lost bool, err error) {
	_, _, lost, err = r.look(ctx, nil)
	return lost, err
}

// look is the last look, at all places, also those that an earlier pass has set. Where
// openings are in doubt, it is not the last: it then gives all that is in doubt at those
// places, and whether the desk has said nothing at all.
func (r *run) look(ctx context.Context, opens []profiles.Setting) (shut []desk.Doubt, silent, lost bool, err error) {
	jobs := working(r.lastJobs())
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
		if shut := shutOf(doubts, opens); len(shut) > 0 {
			return shut, isQuiet(doubts, asked), false, nil
		}
		sent := false
		if look <= givesBack {
			sent, err = r.giveBack(ctx)
		}
		if err != nil || !sent {
			r.noteMoved(r.leaveOpen(jobs, doubts))
			return nil, false, false, err
		}
		opens = nil // proved
	}
}

// shutOf gives the doubts at places whose opening is in doubt.
func shutOf(doubts []desk.Doubt, opens []profiles.Setting) []desk.Doubt {
	shut := make(map[profiles.Place]bool)
	for _, d := range doubts {
		if slices.Contains(opens, d.Wanted) {
			shut[d.Wanted.Parameter.Place] = true
		}
	}
	return slices.DeleteFunc(slices.Clone(doubts), func(d desk.Doubt) bool { return !shut[d.Wanted.Parameter.Place] })
}

// leaveOpen is [run.leave] for places that are open.
func (r *run) leaveOpen(jobs []*job, doubts []desk.Doubt) []desk.Doubt {
	for _, d := range doubts {
		if !isAnswered(d) || r.isKnownMove(d.Wanted.Parameter, d.Found) {
			continue
		}
		r.strange(d.Wanted.Parameter)
		if r.foundShut[d.Wanted.Parameter.Place] { // the opening may have been lost, but now there is more
			r.strange(profiles.Parameter{Place: d.Wanted.Parameter.Place, Name: muteName})
		}
	}
	return r.leave(jobs, doubts)
}

func isAnswered(d desk.Doubt) bool { return !d.Found.IsZero() }

func wantedOf(doubts []desk.Doubt) []profiles.Setting {
	all := make([]profiles.Setting, len(doubts))
	for i, d := range doubts {
		all[i] = d.Wanted
	}
	return all
}

// noteMoved notes what a hand has moved after it was confirmed. A level that stands on a step
// of our own fade is no hand's: the packets after it were lost, and it stays in doubt.
func (r *run) noteMoved(doubts []desk.Doubt) {
	for _, d := range doubts {
		if !d.Found.IsZero() && !r.isKnownMove(d.Wanted.Parameter, d.Found) {
			r.moved(Unproved{d.Wanted.Parameter, d.Wanted.Value, d.Found})
		}
	}
}
