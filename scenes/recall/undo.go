package recall

import (
	"context"
	"errors"
	"time"

	"deskhand/scenes"
)

// ErrNoUndo says that no recall is left to undo.
var ErrNoUndo = errors.New("there is nothing to undo")

// PrepareUndo is [Recaller.Prepare] for the way back to before the last recall; its
// errors are those, and [ErrNoUndo]. Once the plan is carried out and all of it is
// confirmed, who was on which position is remembered as before, and the undo is gone.
// Where another recall has come in between, the plan is [Stale]: it would take back
// another one than was shown.
func (r *Recaller) PrepareUndo(ctx context.Context) (*Plan, error) {
	plan, err := r.prepare(ctx, func() (*Plan, []Target, error) {
		before, drop, err := r.Memory.Undo()
		if err != nil {
			return nil, nil, err
		}
		targets := r.undoTargets(before)
		if len(targets) == 0 {
			return nil, nil, ErrNoUndo
		}
		return &Plan{Undoes: before, dropUndo: drop}, targets, nil
	})
	if err != nil {
		r.recordRefusal(plan, nil, err)
	}
	return plan, err
}

func (r *Recaller) undoTargets(before *scenes.Reading) []Target {
	if before == nil {
		return nil
	}
	return ForReading(r.Venue, before)
}

// endUndo remembers again who was on, and drops what was undone.
func (r *run) endUndo() error {
	if r.plan.Undoes == nil {
		return nil
	}
	for position, performer := range r.plan.Undoes.On {
		r.Memory.Put(position, performer, r.plan.Undoes.Scenes[position])
	}
	r.Memory.StepBack(r.plan.Undoes)
	if err := r.Memory.Save(time.Now()); err != nil {
		return err
	}
	return r.plan.dropUndo()
}
