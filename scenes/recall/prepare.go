package recall

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// Prepare does everything of a recall that comes before sending. The errors are
// [desk.ErrSilent], [desk.OtherDesk] and [Refused], of the venue's limits and safes;
// with a refusal, the plan that was refused is returned too. It waits for another recall
// of the desk that is under way, and sends nothing itself.
func (r *Recaller) Prepare(ctx context.Context, targets []Target) (*Plan, error) {
	plan, err := r.prepare(ctx, func() (*Plan, []Target, error) { return &Plan{}, targets, nil })
	if err != nil {
		r.recordRefusal(plan, targets, err)
	}
	return plan, err
}

// prepare makes a plan of the targets that an aim begins, once the memory was read.
func (r *Recaller) prepare(ctx context.Context, aim func() (*Plan, []Target, error)) (*Plan, error) {
	if err := r.Desk.Identify(ctx); err != nil {
		return nil, err
	}
	var plan *Plan
	var holds scenes.Values
	turn, err := r.InPeace(ctx, func() error {
		var targets []Target
		var err error
		if plan, targets, err = aim(); err != nil {
			return err
		}
		if holds, err = r.read(ctx, targets); err == nil {
			plan.Venue, plan.Parts = r.Venue, r.parts(targets, holds)
			plan.read, plan.clock, plan.at = time.Now(), r.clock(), r.clock()()
		}
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("%w; nothing was sent", err)
	}
	plan.turn = turn
	if err := r.judge(plan, holds); err != nil {
		return nil, err
	}
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

// Foresee is what [Recaller.Prepare] would give if the desk held these values now. It asks
// the desk nothing, and its plan is to look at, not to carry out. The error is [Refused],
// with the plan, as far as the desk doesn't enter into it.
func (r *Recaller) Foresee(targets []Target, holds scenes.Values) (*Plan, error) {
	there := make(scenes.Values)
	for _, t := range targets {
		at := r.Venue.Desk.Profile.At(t.Place)
		for _, q := range at {
			if v, known := holds[q]; known {
				there[q] = v
			}
		}
		r.addRemembered(there, at)
	}
	plan := &Plan{Venue: r.Venue, Parts: r.parts(targets, there), read: time.Now()}
	if err := r.judge(plan, there); err != nil {
		return nil, err
	}
	if refused := r.refuse(plan); refused != nil {
		return plan, refused
	}
	return plan, nil
}

// judge adds to a plan what it does to the levels, and what a hand has moved.
func (r *Recaller) judge(plan *Plan, holds scenes.Values) error {
	for _, part := range plan.Parts {
		part.undoes = plan.Undoes != nil
	}
	if err := r.addRises(plan.Parts); err != nil {
		return err
	}
	plan.Moves = r.Venue.Moves(r.Memory.Held.Values, holds)
	return nil
}

// read asks for everything that the targets' places hold, the mutes first: they will
// be the first to be asked for again. Where a place is only closed, the mute is all.
func (r *Recaller) read(ctx context.Context, targets []Target) (scenes.Values, error) {
	var mutes, others []profiles.Parameter
	for _, t := range targets {
		for _, q := range r.Venue.Desk.Profile.At(t.Place) {
			switch {
			case q.Name == muteName:
				mutes = append(mutes, q)
			case !t.onlyCloses():
				others = append(others, q)
			}
		}
	}
	holds, missing, err := r.Desk.Read(ctx, slices.Concat(mutes, others), r.progress("reading"))
	if err != nil {
		return nil, err
	}
	if len(missing) > 0 {
		return nil, unanswered(missing)
	}
	r.addRemembered(holds, slices.Concat(mutes, others))
	return holds, nil
}

// addRemembered adds what the desk can't be asked for: what we or a hand have set last,
// as far as we know, and what can't be otherwise.
func (r *Recaller) addRemembered(holds scenes.Values, parameters []profiles.Parameter) {
	for _, q := range parameters {
		control, _ := r.Venue.Desk.Profile.Control(q)
		v, remembered := r.Memory.Held.Values[q]
		switch {
		case control.Reach() == profiles.Fixed:
			holds[q] = control.Start
		case remembered && !r.Venue.Desk.Profile.Askable(q):
			holds[q] = v
		}
	}
}

// unanswered is the error for settings that the desk says nothing about.
func unanswered(missing []profiles.Parameter) error {
	const named = 3
	names := make([]string, 0, named)
	for _, q := range missing[:min(len(missing), named)] {
		names = append(names, q.String())
	}
	more := ""
	if len(missing) > named {
		more = fmt.Sprintf(" and %d more", len(missing)-named)
	}
	return fmt.Errorf("%w for %s%s: try again, and if it stays so, hold the profile against the desk", desk.ErrSilent, strings.Join(names, ", "), more)
}

// parts compares the targets with what the desk holds.
func (r *Recaller) parts(targets []Target, holds scenes.Values) []*Part {
	parts := make([]*Part, len(targets))
	for i, t := range targets {
		parts[i] = r.part(t, holds)
	}
	return parts
}

func (r *Recaller) part(t Target, holds scenes.Values) *Part {
	part := &Part{Target: t, Before: make(scenes.Values), Was: r.Memory.On[t.Position], WasBy: r.Memory.Scenes[t.Position]}
	for q, v := range holds {
		if q.Place == t.Place {
			part.Before[q] = v
		}
	}
	part.WasOpen = r.wasOpen(part)
	for _, c := range r.Venue.Compare(holds, append(slices.Clone(t.Wanted), r.wantedMute(part)...)) {
		if c.Safe != nil {
			part.Safe = append(part.Safe, c)
			continue
		}
		part.Changes = append(part.Changes, c)
	}
	part.fades = r.fadesOf(part)
	return part
}

// wasOpen says whether the place is open. A place that an earlier recall has left
// muted counts as it was before that one, unless a hand has opened it since.
func (r *Recaller) wasOpen(part *Part) bool {
	q := part.parameter(muteName)
	_, has := r.Venue.Desk.Profile.Control(q)
	open := !part.isMuted() && (!has || !part.Before[q].IsZero()) // not known is not open
	if !r.isUnfinished(part) {
		return open
	}
	before := r.Memory.Unfinished[part.key()]
	byHand := open && isMuted(part.Place, r.Memory.Held.Values) && !r.looksSwitchedOn(r.Memory.Held.Values, part.Before)
	return before || byHand
}

// wantedMute is how the place's mute is to end, where the desk has one.
func (r *Recaller) wantedMute(part *Part) []scenes.Wanted {
	q := part.parameter(muteName)
	if _, ok := r.Venue.Desk.Profile.Control(q); !ok {
		return nil
	}
	v := profiles.Switch(!part.WillBeOpen())
	return []scenes.Wanted{{Parameter: q, Asked: v, Value: v, Origin: part.OpenOrigin}}
}

// keepMoves writes what the desk held into a reading, since the recall may overwrite
// what a hand moved.
func (r *Recaller) keepMoves(holds scenes.Values, moves int) (string, error) {
	now := time.Now()
	reading := scenes.Reading{
		Desk: r.Venue.Desk.Profile.Name, Taken: now, Values: holds, On: r.Memory.On, Scenes: r.Memory.Scenes,
		Note: "before a recall: " + counted(moves, "hand move"),
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

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
