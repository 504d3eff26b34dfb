package recall

import (
	"slices"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// job is one part in one pass.
type job struct {
	part *Part
	// body is what is sent while the place is muted, faders what is sent after all
	// of that is confirmed.
	body, faders []profiles.Setting
	// Where the place fades, falls are the ways down before the mute, moves those of a
	// place that stays open, bottoms what is down while it is set, rises the ways up once it
	// is open, and ends where moves and rises lead.
	falls, moves, rises []desk.Line
	bottoms, ends       []profiles.Setting
	// hand is what a hand does while the place is muted.
	hand []scenes.Change
	// expected were found right and are read back with the rest.
	expected []profiles.Setting
	// mute says that the place is muted while it changes, or closed for good; open
	// that it is to end open, opens that it has to be opened for that.
	mute, open, opens bool
	// mutedNow says that the mute is on and to stay on for now.
	mutedNow   bool
	bodyProved bool
	failed     bool
}

func (r *Recaller) newJob(part *Part) *job {
	j := &job{part: part, mute: part.mustMute(), open: part.WillBeOpen()}
	changed := make(map[profiles.Parameter]bool)
	for _, c := range part.Changes {
		changed[c.Parameter] = true
		s := profiles.Setting{Parameter: c.Parameter, Value: c.To}
		switch {
		case c.Hand != "":
			j.hand = append(j.hand, c)
		case c.Parameter.Name == muteName:
			j.mute = j.mute || !j.open
		case c.Parameter.Name == faderName:
			j.faders = append(j.faders, s)
		default:
			j.body = append(j.body, s)
		}
	}
	mute := j.muteSetting(!j.open)
	j.opens = j.open && (j.mute || part.isMuted()) && r.maySend(mute.Parameter)
	for _, w := range part.Wanted {
		if !changed[w.Parameter] && r.maySend(w.Parameter) && r.Venue.Desk.Profile.Askable(w.Parameter) {
			j.expected = append(j.expected, profiles.Setting{Parameter: w.Parameter, Value: w.Value})
		}
	}
	j.addFades()
	if part.Open != nil && !j.mute && !j.opens && r.maySend(mute.Parameter) {
		j.expected = append(j.expected, mute)
	}
	return j
}

// maySend reports whether the desk has a parameter and the venue lets it be sent.
func (r *Recaller) maySend(q profiles.Parameter) bool {
	_, has := r.Venue.Desk.Profile.Control(q)
	_, safe := r.Venue.SafeFor(q)
	return has && !safe
}

func (r *Recaller) same(q profiles.Parameter, a, b profiles.Value) bool {
	control, ok := r.Venue.Desk.Profile.Control(q)
	return ok && control.Same(a, b)
}

func (j *job) muteSetting(muted bool) profiles.Setting {
	return profiles.Setting{Parameter: j.part.parameter(muteName), Value: profiles.Switch(muted)}
}

// wanted is everything that the place is to hold in the end.
func (j *job) wanted() []profiles.Setting {
	all := slices.Concat(j.body, j.expected, j.faders, j.ends)
	if j.mute || j.opens {
		all = append(all, j.muteSetting(!j.open))
	}
	return all
}

// wish is what the place is to hold of a parameter in the end, if the recall has a wish
// for it. No job has none.
func (j *job) wish(q profiles.Parameter) (profiles.Value, bool) {
	if j == nil {
		return profiles.Value{}, false
	}
	all := j.wanted()
	i := slices.IndexFunc(all, func(s profiles.Setting) bool { return s.Parameter == q })
	if i < 0 {
		return profiles.Value{}, false
	}
	return all[i].Value, true
}

func (j *job) isMutedNow() bool { return j != nil && j.mutedNow }

// working lists the jobs that have not failed.
func working(jobs []*job) []*job {
	return slices.DeleteFunc(slices.Clone(jobs), func(j *job) bool { return j.failed })
}

func expect(settings ...profiles.Setting) []desk.Hoped {
	hoped := make([]desk.Hoped, len(settings))
	for i, s := range settings {
		hoped[i] = desk.Expect(s)
	}
	return hoped
}
