package recall

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
)

// promised is what was written down before anything was sent: what the recall is
// about to change, so that it can be undone, and that it has begun, so that one that
// never ends is known of.
type promised struct {
	recaller   *Recaller
	plan       *Plan
	unfinished map[string]bool // before
	undo       bool            // whether there is one
	replaced   func() error    // drops an older undo that the new one stands for; nil for none
}

// promise writes it. With an error nothing must be sent.
func (r *Recaller) promise(plan *Plan) (*promised, error) {
	p := &promised{recaller: r, plan: plan, unfinished: maps.Clone(r.Memory.Unfinished)}
	if plan.Undoes == nil {
		if err := p.pushUndo(); err != nil {
			return nil, fmt.Errorf("nothing was sent, since it could not be undone: %w", err)
		}
	}
	for _, part := range plan.Parts {
		if len(part.Changes) == 0 {
			continue
		}
		if part.Place.Part == profiles.Channel {
			r.Memory.Unfinished[part.key()] = part.WasOpen
		}
		r.Memory.Hold(part.Before)
		r.Memory.Doubt(part.mayChange()...)
	}
	if err := r.Memory.Save(time.Now()); err != nil {
		return nil, errors.Join(fmt.Errorf("nothing was sent: %w", err), p.takeBack())
	}
	return p, nil
}

// pushUndo keeps what will change, for an undo. A place that an earlier recall has
// left half done is to go back to before that one.
func (p *promised) pushUndo() error {
	r := p.recaller
	before := scenes.Reading{
		Desk: r.Venue.Desk.Profile.Name, Taken: time.Now(), Note: "before " + p.plan.say(),
		Values: make(scenes.Values), On: make(map[string]string), Scenes: make(map[string]string),
	}
	earlier, dropEarlier, err := p.earlier()
	if err != nil {
		return err
	}
	goesOn := make(map[profiles.Place]bool)
	for _, part := range p.plan.Parts {
		if len(part.Changes) == 0 {
			continue
		}
		noteBefore(&before, part)
		if r.isUnfinished(part) {
			there, err := r.Memory.UndoAt(part.Place) // others may have been recalled since
			if err != nil {
				return err
			}
			goesOn[part.Place] = noteEarlier(&before, part, there)
		}
	}
	if err := r.Memory.PushUndo(&before); err != nil {
		return err
	}
	p.undo = true
	if earlier != nil && isWithin(earlier, goesOn) {
		p.replaced = dropEarlier
	}
	return nil
}

// earlier gives the newest undo where the plan goes on from a recall that was left half
// done.
func (p *promised) earlier() (*scenes.Reading, func() error, error) {
	if !slices.ContainsFunc(p.plan.Parts, p.recaller.isUnfinished) {
		return nil, nil, nil
	}
	return p.recaller.Memory.Undo()
}

func (r *Recaller) isUnfinished(part *Part) bool {
	_, unfinished := r.Memory.Unfinished[part.key()]
	return unfinished
}

// noteBefore notes what a part will change, and whether the place was open.
func noteBefore(before *scenes.Reading, part *Part) {
	for _, f := range part.fades { // a level may fade that ends as it was
		before.Values[f.parameter] = f.before
	}
	for _, c := range part.Changes {
		before.Values[c.Parameter] = c.From
	}
	if q := part.parameter(muteName); !part.Before[q].IsZero() {
		before.Values[q] = profiles.Switch(!part.WasOpen)
	}
	if part.Position != "" {
		before.On[part.Position] = part.Was
		if part.WasBy != "" {
			before.Scenes[part.Position] = part.WasBy
		}
	}
}

// noteEarlier notes what the place held before the recall that was left half done, if
// the earlier undo knows that. If not, the place has to go back to half done, and must
// not be open then.
func noteEarlier(before *scenes.Reading, part *Part, earlier *scenes.Reading) bool {
	known := false
	if earlier != nil {
		for q, v := range earlier.Values {
			if q.Place == part.Place {
				before.Values[q] = v
				known = true
			}
		}
	}
	if q := part.parameter(muteName); !known && !part.Before[q].IsZero() {
		before.Values[q] = part.Before[q]
	}
	return known
}

// isWithin reports whether a reading is about no other places.
func isWithin(r *scenes.Reading, places map[profiles.Place]bool) bool {
	for q := range r.Values {
		if !places[q.Place] {
			return false
		}
	}
	return true
}

// keep makes the promise good: something was sent.
func (p *promised) keep() error {
	if p.replaced == nil {
		return nil
	}
	return p.replaced()
}

// takeBack undoes the promise: nothing was sent.
func (p *promised) takeBack() error {
	memory := p.recaller.Memory
	for _, part := range p.plan.Parts {
		memory.Hold(part.Before)
	}
	clear(memory.Unfinished)
	maps.Copy(memory.Unfinished, p.unfinished)
	err := memory.Save(time.Now())
	if !p.undo {
		return err
	}
	_, drop, undoErr := memory.Undo()
	if undoErr != nil || drop == nil {
		return errors.Join(err, undoErr)
	}
	return errors.Join(err, drop())
}

// remember notes what the desk now holds and who is where. What is not confirmed is
// not remembered, so that it can't count as a hand move later; what a hand moved
// while the recall was ending does, and the next recall keeps it.
func (r *run) remember() error {
	for _, part := range r.plan.Parts {
		r.Memory.Hold(part.Before)
		if !r.provedAt(part) {
			continue
		}
		delete(r.Memory.Unfinished, part.key())
		if part.Position != "" {
			r.Memory.Put(part.Position, part.Performer, part.Scene)
		}
	}
	values := make(scenes.Values)
	for q, c := range r.result.Confirmed {
		values[q] = c.Setting().Value
	}
	maps.Copy(values, r.handed)
	for _, s := range r.blind(r.result.Sent) {
		values[s.Parameter] = s.Value // for the next to begin from: no proof, and no hand move
	}
	for _, m := range r.result.Moved {
		values[m.Parameter] = m.Wanted
	}
	r.Memory.Hold(values)
	for _, u := range r.result.Unproved {
		if r.Venue.Desk.Profile.Askable(u.Parameter) {
			r.Memory.Doubt(u.Parameter)
		}
	}
	return r.Memory.Save(time.Now())
}
