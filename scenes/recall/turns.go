package recall

import (
	"context"
	"fmt"
	"maps"
	"time"

	"deskhand/scenes"
)

// Lock takes the desk's lock, waiting for it if need be, and reads the memory anew.
// Whoever writes the memory or sends to the desk holds it; the caller releases it.
func (r *Recaller) Lock(ctx context.Context) (*scenes.Lock, error) {
	lock, err := r.Book.Lock(ctx, r.Venue, r.Command, r.Waiting)
	if err != nil {
		return nil, err
	}
	if err := r.Memory.Reload(); err != nil {
		lock.Release()
		return nil, err
	}
	return lock, nil
}

// InPeace has look read the desk, right after the memory was read anew, so that nobody
// else has sent anything meanwhile: what another recall is just setting would look like
// a hand's doing. It needs no lock for that where nobody has it, before and after; else
// it waits, and has look read again, or for the first time, while it holds the lock.
// The turn tells later whether anybody has had the lock since. What was read across a sleep
// of the computer is of two times, and a [desk.Away].
func (r *Recaller) InPeace(ctx context.Context, look func() error) (scenes.Turn, error) {
	ctx, vigil, end := r.awake(ctx)
	defer end()
	turn, err := r.inPeace(ctx, look)
	return turn, orAway(vigil, err)
}

func (r *Recaller) inPeace(ctx context.Context, look func() error) (scenes.Turn, error) {
	if turn := r.Book.Turn(r.Venue); turn.Free() {
		if err := r.reloadAnd(look); err != nil {
			return turn, err
		}
		if r.Book.Turn(r.Venue).Since(turn) {
			return turn, nil
		}
	}
	lock, err := r.Lock(ctx)
	if err != nil {
		return scenes.Turn{}, err
	}
	defer lock.Release()
	return lock.Turn(), look()
}

func (r *Recaller) reloadAnd(look func() error) error {
	if err := r.Memory.Reload(); err != nil {
		return err
	}
	return look()
}

// Stale says that the desk is no longer as the plan was made for. Nothing was sent.
type Stale struct {
	// Place is where, as people call it.
	Place string
	// Moved is what was moved: Wanted is what the plan was made for. It may be empty
	// after another recall.
	Moved []Unproved
	// Recalled says that it was another recall, and no hand.
	Recalled bool
}

func (e *Stale) Error() string {
	if e.Recalled {
		return fmt.Sprintf("another deskhand has recalled %s since the desk was read: look at what would change now", e.Place)
	}
	return fmt.Sprintf("%s was moved by hand since the desk was read: look at what would change now", e.Moved[0].Parameter)
}

// fresh is how long a plan may wait to be carried out before the desk is read again, to
// see that it still holds what the plan was made for.
const fresh = time.Second

// hasWaited reports whether a hand has had the time to move something.
func (p *Plan) hasWaited() bool { return time.Since(p.read) >= fresh }

// checkStill sees that the desk still is as the plan was made for. It reads it again
// where the plan has waited, or somebody else has had the lock since.
func (r *run) checkStill(ctx context.Context, found scenes.Turn) error {
	alone := found.Since(r.plan.turn)
	if !alone {
		if err := r.checkUndo(); err != nil {
			return err
		}
	}
	if alone && (r.plan.Nothing() || !r.plan.hasWaited()) {
		return nil
	}
	holds, err := r.read(ctx, r.targets())
	if err != nil {
		return err
	}
	if moved := r.Venue.Moves(r.plan.Before(), holds); len(moved) > 0 {
		return r.stale(moved, alone, found.Elsewhere(r.plan.turn))
	}
	for _, part := range r.plan.Parts {
		if !alone && (part.Was != r.Memory.On[part.Position] || part.WasOpen != r.wasOpen(part)) {
			return &Stale{Place: part.Say(), Recalled: true}
		}
	}
	return nil
}

// stale says who has moved what. Another recall remembers what it has set, or that it
// does not know what is set; what is remembered otherwise was moved by a hand. One from
// another book remembers nothing here.
func (r *run) stale(changes []scenes.Change, alone, elsewhere bool) *Stale {
	e := &Stale{Recalled: !alone}
	for _, c := range changes {
		is, known := r.Memory.Held.Values[c.Parameter]
		byHand := alone || !elsewhere && known && !r.same(c.Parameter, is, c.To)
		if byHand && e.Recalled {
			e.Recalled, e.Moved = false, nil // the hand comes first, and is what is told
		}
		if byHand || e.Recalled {
			e.Moved = append(e.Moved, Unproved{c.Parameter, c.From, c.To})
		}
	}
	for _, part := range r.plan.Parts {
		if part.Place == e.Moved[0].Parameter.Place {
			e.Place = part.Say()
		}
	}
	return e
}

// checkUndo sees that what an undo takes back is still the last recall.
func (r *run) checkUndo() error {
	planned := r.plan.Undoes
	if planned == nil {
		return nil
	}
	last, _, err := r.Memory.Undo()
	if err != nil {
		return err
	}
	if last == nil || !last.Taken.Equal(planned.Taken) || last.Note != planned.Note || !maps.Equal(last.Values, planned.Values) {
		return &Stale{Place: r.plan.Parts[0].Say(), Recalled: true}
	}
	return nil
}
