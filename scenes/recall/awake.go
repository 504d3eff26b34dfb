package recall

import (
	"context"
	"errors"
	"fmt"

	"deskhand/scenes/desk"
)

// A computer may sleep in the middle of a recall, for an hour. What the desk had confirmed
// before may be otherwise by then, and nobody expects a position to open: the recall stops,
// with what is half set muted, as if the user had stopped it.

// awake gives a context that ends when somebody was away, with [desk.Away] as its cause,
// and the vigil that sees to it. The caller ends both.
func (r *Recaller) awake(ctx context.Context) (context.Context, *desk.Vigil, func()) {
	ctx, cut := context.WithCancelCause(ctx)
	v := desk.KeepVigil(desk.VigilOptions{Clock: r.clock(), Least: r.LeastGap, Noticed: func(g desk.Gap) {
		if g.WasAway() {
			cut(&desk.Away{Gap: g})
		}
	}})
	return ctx, v, func() {
		v.End()
		cut(nil)
	}
}

// clock is the recaller's, the same for all that it does.
func (r *Recaller) clock() desk.Clock {
	if r.Clock == nil {
		r.Clock = desk.MachineClock()
	}
	return r.Clock
}

// orAway is an error, or that somebody was away, which is then its reason.
func orAway(v *desk.Vigil, err error) error {
	away := v.Err()
	if away == nil || errors.As(err, new(*desk.Away)) {
		return err
	}
	return away
}

// checkAwake sees that nobody was away since a plan was made. Who only waited, for the lock
// or for an answer, has the desk read again: see hasWaited.
func (p *Plan) checkAwake(v *desk.Vigil) error {
	if p.clock == nil {
		return errors.New("the plan is only to look at")
	}
	if err := v.Err(); err != nil {
		return err
	}
	if g := v.Slept(p.at, p.clock()); g.WasAway() {
		return fmt.Errorf("since the desk was read, %w", &desk.Away{Gap: g})
	}
	return nil
}
