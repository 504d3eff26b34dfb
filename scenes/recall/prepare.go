package recall

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/tone"
)

// Recaller takes the desk of one venue to wanted settings.
type Recaller struct {
	Book   *scenes.Book
	Venue  *scenes.Venue
	Memory *scenes.Memory
	Desk   *desk.Desk
	// Progress is told what is being done and how far it is. It may be nil.
	Progress func(what string, done, of int)
	// Rehearse leaves the book's readings alone too, as nothing will be sent.
	Rehearse bool
	// Return says that the recall goes back to what was there before, which no
	// limit on the rise forbids.
	Return bool
}

// Prepare does everything of a recall that comes before sending. The errors are
// [desk.ErrSilent], [desk.OtherDesk] and [Refused], of the venue's limits and safes.
func (r *Recaller) Prepare(ctx context.Context, targets []Target) (*Plan, error) {
	if err := r.Desk.Identify(ctx); err != nil {
		return nil, err
	}
	holds, err := r.read(ctx, targets)
	if err != nil {
		return nil, err
	}
	plan := &Plan{Venue: r.Venue}
	for _, t := range targets {
		plan.Parts = append(plan.Parts, r.part(t, holds))
	}
	plan.Moves = r.Venue.Moves(r.Memory.Held.Values, holds)
	if len(plan.Moves) > 0 && !r.Rehearse {
		if plan.MovesFile, err = r.keepMoves(holds, len(plan.Moves)); err != nil {
			return plan, err
		}
	}
	if refused := r.refuse(plan); refused != nil {
		return plan, refused
	}
	return plan, nil
}

// read asks for everything that the targets' places hold, the mute first: it is the
// first to be asked for again.
func (r *Recaller) read(ctx context.Context, targets []Target) (scenes.Values, error) {
	var wanted []profiles.Parameter
	for _, t := range targets {
		wanted = append(wanted, r.Venue.Desk.Profile.At(t.Place)...)
	}
	slices.SortStableFunc(wanted, func(a, b profiles.Parameter) int {
		switch {
		case a.Name == muteName && b.Name != muteName:
			return -1
		case b.Name == muteName && a.Name != muteName:
			return 1
		}
		return 0
	})
	holds, missing, err := r.Desk.Read(ctx, wanted, r.progress("reading"))
	if err != nil {
		return nil, err
	}
	if len(missing) > 0 {
		return nil, unanswered(missing)
	}
	return holds, nil
}

func (r *Recaller) progress(what string) desk.Progress {
	if r.Progress == nil {
		return nil
	}
	return func(done, of int) { r.Progress(what, done, of) }
}

// part compares one place.
func (r *Recaller) part(t Target, holds scenes.Values) *Part {
	part := &Part{Target: t, Before: make(scenes.Values), Was: r.Memory.On[t.Position]}
	for q, v := range holds {
		if q.Place == t.Place {
			part.Before[q] = v
		}
	}
	part.WasOpen = !part.isMuted()
	if open, unfinished := r.Memory.Unfinished[t.Position]; unfinished {
		part.WasOpen = open
	}
	for _, c := range r.Venue.Compare(holds, append(slices.Clone(t.Wanted), r.wantedMute(part)...)) {
		if c.Safe != nil {
			part.Safe = append(part.Safe, c)
			continue
		}
		part.Changes = append(part.Changes, c)
	}
	part.Rises = r.rises(part)
	return part
}

// wantedMute is how the place's mute is to end, where the desk has one.
func (r *Recaller) wantedMute(part *Part) []scenes.Wanted {
	q := part.parameter(muteName)
	if _, ok := r.Venue.Desk.Profile.Control(q); !ok {
		return nil
	}
	v := profiles.Switch(!part.willBeOpen())
	return []scenes.Wanted{{Parameter: q, Asked: v, Value: v, Origin: part.OpenOrigin}}
}

// rises works out where the place would get louder.
func (r *Recaller) rises(part *Part) []tone.Rise {
	if part.Place.Part != profiles.Channel {
		return nil
	}
	after := make(map[string]profiles.Value)
	for _, c := range part.Changes {
		after[c.Parameter.Name] = c.To
	}
	mixes := r.Venue.Desk.Profile.Mixes
	before := func(name string) profiles.Value { return part.Before[part.parameter(name)] }
	return tone.Rises(
		tone.LevelsOf(mixes, before),
		tone.LevelsOf(mixes, func(name string) profiles.Value {
			if v, ok := after[name]; ok {
				return v
			}
			return before(name)
		}),
		r.Venue.Limits.Usual)
}

// slack is what a level may be over a limit, for sums of rounded figures.
const slack = 0.05

// refuse gives the reasons why the venue forbids the plan, or nil.
func (r *Recaller) refuse(plan *Plan) error {
	var reasons []string
	for _, part := range plan.Parts {
		reasons = append(reasons, r.overLimit(part)...)
		if part.mustMute() {
			reasons = append(reasons, r.cannotMute(part)...)
		}
	}
	if safe := plan.Safe(); len(reasons) == 0 && plan.Nothing() && len(safe) > 0 {
		reasons = append(reasons, fmt.Sprintf("all that differs is safe here (%s, %s:%d)", safe[0].Parameter, r.Venue.File, safe[0].Safe.Line))
	}
	if len(reasons) == 0 {
		return nil
	}
	return &Refused{reasons}
}

func (r *Recaller) overLimit(part *Part) []string {
	var reasons []string
	limits := r.Venue.Limits
	if limits.Rise != nil && !r.Return {
		for _, rise := range part.Rises {
			if rise.By > *limits.Rise+slack {
				reasons = append(reasons, fmt.Sprintf("%s would get %.1f dB louder %s%s, over the limit of %.1f dB (%s:%d)",
					part.Say(), rise.By, r.sayWhere(rise.Mix), saySilence(rise), *limits.Rise, r.Venue.File, limits.Lines["rise"]))
			}
		}
	}
	for _, c := range part.Changes {
		gain, _ := c.To.Number()
		if c.Parameter.Name == "input.gain" && limits.Gain != nil && gain > *limits.Gain+slack {
			reasons = append(reasons, fmt.Sprintf("%s would get a gain of %s, over the limit of %.1f dB (%s:%d)",
				part.Say(), c.Spec.Say(c.To), *limits.Gain, r.Venue.File, limits.Lines["gain"]))
		}
	}
	return reasons
}

func (r *Recaller) sayWhere(mix int) string {
	if mix == 0 {
		return "in the mains"
	}
	return "in " + r.Venue.MixName(mix)
}

func saySilence(rise tone.Rise) string {
	if rise.FromSilence {
		return " than a usual one"
	}
	return ""
}

// cannotMute refuses a recall that could not be made safe.
func (r *Recaller) cannotMute(part *Part) []string {
	q := part.parameter(muteName)
	if _, ok := r.Venue.Desk.Profile.Control(q); !ok {
		return []string{fmt.Sprintf("%s can't be muted: %s has no %s", part.Say(), r.Venue.Desk.Profile.Name, q)}
	}
	if safe, ok := r.Venue.SafeFor(q); ok && !part.isMuted() {
		return []string{fmt.Sprintf("%s can't be muted while it changes: its mute is safe (%s:%d); mute it by hand", part.Say(), r.Venue.File, safe.Line)}
	}
	return nil
}

// keepMoves writes what the desk held into a reading, since the recall may overwrite
// what a hand moved.
func (r *Recaller) keepMoves(holds scenes.Values, moves int) (string, error) {
	now := time.Now()
	reading := scenes.Reading{
		Desk: r.Venue.Desk.Profile.Name, Taken: now, Values: holds, On: r.Memory.On,
		Note: fmt.Sprintf("before a recall: %d settings had been moved by hand", moves),
	}
	text := reading.Text(r.Venue.Desk.Profile)
	for n := 1; ; n++ {
		name := r.Venue.Name + "-" + scenes.FileStamp(now)
		if n > 1 {
			name = fmt.Sprintf("%s-%d", name, n)
		}
		file := path.Join(string(scenes.Readings), name+".toml")
		err := r.Book.Write(file, nil, text)
		if err == nil {
			return file, nil
		}
		if n == 100 || !errors.Is(err, fs.ErrExist) {
			return "", fmt.Errorf("the hand moves could not be kept, so nothing was sent: %w", err)
		}
	}
}
