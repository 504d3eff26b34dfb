package recall

import (
	"context"
	"errors"
	"maps"
	"math/rand/v2"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// Two may recall one place at a time from two machines, and no lock is between them. Each
// sees the other's settings come in where its own had been, as if a hand moved them. More
// of that than a hand does is told as somebody else. Whoever notices leaves the place
// muted, stands back for a time that nobody can foresee, and looks: where the other one
// has opened the place, it is theirs; where it is muted and at rest, it is set anew. So
// no mixture stays open, but for one setting that comes last of all and passes for a hand's:
// whoever sends last looks at everything after that.

const (
	// enoughStrange is how many settings of a place, neither as they were before nor as
	// they were sent, are more than a hand moves meanwhile.
	enoughStrange = 2
	// standBacks is how often a place is left to somebody else for a time; after lastTry not
	// even another place is looked for them.
	standBacks, lastTry = 4, 8
	// The shortest time is that many times the longest that a packet is under way; the
	// longest grows with each.
	shortestBack, longerBack = 2, 8
	// looksBack is how often a place is looked at until it is at rest.
	looksBack = 10
)

// strange notes a setting of a place that somebody else has set.
func (r *run) strange(q profiles.Parameter) {
	if r.strangers[q.Place] == nil {
		r.strangers[q.Place] = make(map[profiles.Parameter]bool)
	}
	r.strangers[q.Place][q] = true
}

// mayHaveRival reports whether a job is one that is set while its place is muted.
func (j *job) mayHaveRival() bool {
	return j.part.Place.Part == profiles.Channel && (j.mute || j.opens)
}

// enoughStrange is how many settings of a place are taken for somebody else's: where somebody
// else was seen before, one may be their last.
func (r *run) enoughStrange(place profiles.Place) int {
	if slices.ContainsFunc(r.result.Rivals, func(part *Part) bool { return part.Place == place }) {
		return 1
	}
	return enoughStrange
}

// leave fails the jobs that somebody else is at, and gives the doubts about the others.
func (r *run) leave(jobs []*job, doubts []desk.Doubt) []desk.Doubt {
	left := make(map[profiles.Place]bool)
	for _, j := range jobs {
		if j.mayHaveRival() && len(r.strangers[j.part.Place]) >= r.enoughStrange(j.part.Place) {
			j.failed = true
			left[j.part.Place] = true
		}
	}
	return slices.DeleteFunc(slices.Clone(doubts), func(d desk.Doubt) bool { return left[d.Wanted.Parameter.Place] })
}

// afterRivals takes the places again that somebody else was at, or leaves them to them.
func (r *run) afterRivals(ctx context.Context) error {
	for try := 1; ; try++ {
		jobs := r.withRivals()
		if len(jobs) == 0 {
			return nil
		}
		r.noteRivals(jobs)
		if err := r.secure(ctx, jobs); err != nil || try > lastTry {
			return err
		}
		parts, err := r.freeAgain(ctx, jobs, try)
		if errors.Is(err, desk.ErrSilent) {
			clear(r.result.Confirmed) // it may have been switched off
		}
		if err != nil {
			return err
		}
		clear(r.sends)
		// Where none is free, it still looks at the others: their last look was before this.
		if err := r.passes(ctx, r.jobsFor(parts, true)); err != nil {
			return err
		}
	}
}

// withRivals gives the last jobs that somebody else was at, and that failed.
func (r *run) withRivals() []*job {
	return slices.DeleteFunc(r.lastJobs(), func(j *job) bool {
		return !j.failed || !j.mayHaveRival() || len(r.strangers[j.part.Place]) == 0
	})
}

// freeAgain stands back, and plans those places anew that can then be set again: none after
// so many tries.
func (r *run) freeAgain(ctx context.Context, jobs []*job, try int) ([]*Part, error) {
	if try > standBacks {
		return nil, nil
	}
	free, err := r.standBack(ctx, jobs, try)
	if err != nil || len(free) == 0 {
		return nil, err
	}
	return r.planAnew(ctx, targetsOf(free))
}

func (r *run) noteRivals(jobs []*job) {
	for _, j := range jobs {
		same := func(part *Part) bool { return part.Place == j.part.Place }
		if i := slices.IndexFunc(r.plan.Parts, same); !slices.ContainsFunc(r.result.Rivals, same) {
			r.result.Rivals = append(r.result.Rivals, r.plan.Parts[i])
		}
	}
}

// secure mutes the places, whatever they hold.
func (r *run) secure(ctx context.Context, jobs []*job) error {
	var mutes []profiles.Setting
	for _, j := range jobs {
		delete(r.strangers, j.part.Place)
		delete(r.foundShut, j.part.Place)
		r.forget(j)
		r.loseMoved(j.part.Place)
		if mute := j.muteSetting(true); r.maySend(mute.Parameter) {
			mutes = append(mutes, mute)
		}
	}
	_, err := r.sendUntilProved(ctx, proof{what: "muting", jobs: jobs}, mutes)
	return err
}

// loseMoved notes that what a hand has moved at a place is set again.
func (r *run) loseMoved(place profiles.Place) {
	isThere := func(u Unproved) bool { return u.Parameter.Place == place }
	for _, u := range r.result.Moved {
		if isThere(u) {
			r.overrule(u)
		}
	}
	r.result.Moved = slices.DeleteFunc(r.result.Moved, isThere)
}

// standBack waits until the places are at rest, and gives those that are still muted. Of
// the others, it notes what they hold.
func (r *run) standBack(ctx context.Context, jobs []*job, try int) (free []*job, err error) {
	linger := float64(max(r.Venue.Desk.Profile.Link.Linger, time.Millisecond))
	var targets []Target
	for _, j := range jobs {
		targets = append(targets, j.part.Target)
	}
	var before, holds scenes.Values
	for look := 0; look < looksBack && (before == nil || !maps.Equal(before, holds)); look++ {
		if err := wait(ctx, time.Duration(linger*(shortestBack+rand.Float64()*float64(longerBack*try)))); err != nil {
			return nil, err
		}
		before = holds
		if holds, err = r.read(ctx, targets); err != nil {
			return nil, err
		}
	}
	for _, j := range jobs {
		if isMuted(j.part.Place, holds) {
			free = append(free, j)
			continue
		}
		j.mutedNow = false
		if _, _, err := r.ask(ctx, proof{what: "last look", jobs: []*job{j}}, r.askable(expect(j.wanted()...))); err != nil {
			return nil, err
		}
	}
	return free, nil
}

// targetsOf gives the targets of jobs, each to end as it was to end before.
func targetsOf(jobs []*job) []Target {
	targets := make([]Target, len(jobs))
	for i, j := range jobs {
		targets[i] = j.part.Target
		targets[i].Open = &j.open
	}
	return targets
}
