package agent

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// WhicheverIsOn is for an [AskNext] or [AskBack] by somebody who doesn't see which scene is on.
const WhicheverIsOn = -1

// order is where the running order is, and the scene that comes next.
type order struct {
	order  *scenes.RunningOrder // nil without one
	number int                  // the scene that is on, 0 before the first
	since  time.Time
	next   *Foreseen // nil after the last
	// strips are those of the next scene, as the files last said.
	strips []*scenes.Resolved
	// due says that next has to be worked out anew, and not before then.
	due time.Time
}

// openOrder reads the running order, and where it was in the same evening.
func (a *Agent) openOrder() error {
	if a.o.Order == "" {
		return nil
	}
	o, err := a.book.RunningOrder(a.o.Order)
	if err != nil {
		return err
	}
	if o.Venue != a.venue.Name {
		return fmt.Errorf("%s:%d: the running order is at %q, not at %q", o.File, o.Line, o.Venue, a.venue.Name)
	}
	if len(o.Items) == 0 {
		return fmt.Errorf("%s: the running order has no scene", o.File)
	}
	a.order.order = o
	if r := a.memory.Running; !a.o.FromStart && r.Order == o.Name && scenes.Evening(r.Since) == scenes.Evening(a.now()) {
		a.order.number, a.order.since = a.whereIs(r), r.Since
	}
	a.aimNext()
	return nil
}

// beginOrder remembers that the running order begins, unless it goes on.
func (a *Agent) beginOrder(ctx context.Context) error {
	if a.order.order == nil {
		return nil
	}
	if !a.order.since.IsZero() {
		a.recordOrder(scenes.DidBegin)
		return nil
	}
	lock, err := a.book.Lock(ctx, a.venue, "run", nil)
	if err != nil {
		return err
	}
	defer lock.Release()
	if err := a.recollect(); err != nil {
		return err
	}
	a.order.since = a.now().Truncate(time.Second)
	a.memory.Running = scenes.Running{Order: a.order.order.Name, Since: a.order.since}
	a.saveMemory()
	a.recordOrder(scenes.DidBegin)
	return nil
}

// saveMemory writes the memory without saying anything new of what the desk holds.
func (a *Agent) saveMemory() {
	if err := a.memory.Save(a.memory.Held.Taken); err != nil {
		a.trouble("", err)
	}
	a.remembered = a.memory.Written()
}

// whereIs finds the scene that was on. The file may have got other scenes since: then the
// title tells.
func (a *Agent) whereIs(r scenes.Running) int {
	items := a.order.order.Items
	if r.Number >= 1 && r.Number <= len(items) && items[r.Number-1].Title == r.Title || r.Title == "" {
		return min(max(r.Number, 0), len(items))
	}
	for i, it := range items {
		if it.Title == r.Title && r.Number > 0 {
			return i + 1
		}
	}
	return min(max(r.Number, 0), len(items))
}

// orderSaved reads the running order again after files have changed. With a fault it stays
// as it was.
func (a *Agent) orderSaved(files []string) {
	if a.order.order == nil {
		return
	}
	const owner = "running order"
	if slices.Contains(files, a.order.order.File) {
		o, err := a.book.RunningOrder(a.order.order.Name)
		switch {
		case err != nil:
			a.fault(owner, err)
		case o.Venue != a.venue.Name || len(o.Items) == 0:
			a.fault(owner, fmt.Errorf("%s: the running order that runs must stay at %q and have a scene", o.File, a.venue.Name))
		default:
			a.faults.clear(owner)
			now := scenes.Running{Number: a.order.number}
			if a.order.number > 0 {
				now.Title = a.order.order.Items[a.order.number-1].Title
			}
			a.order.order = o
			a.order.number = a.whereIs(now)
		}
	}
	a.aimNext()
}

// moveTo notes that another scene is on, and what undoing that goes back to, if anything.
func (a *Agent) moveTo(number int, undo *scenes.Reading) {
	a.memory.Step(scenes.Running{Order: a.order.order.Name, Number: number, Title: a.order.order.Items[number-1].Title, Since: a.now().Truncate(time.Second)}, undo)
	a.saveMemory()
	a.takeStep()
}

// takeStep takes over which scene is on from the memory: an undo, also another deskhand's, may
// have gone a step back.
func (a *Agent) takeStep() {
	r := a.memory.Running
	if a.order.order == nil || r.Order != a.order.order.Name || a.isStep(r) {
		return
	}
	a.order.number, a.order.since = a.whereIs(r), r.Since
	a.aimNext()
}

func (a *Agent) isStep(r scenes.Running) bool {
	return a.order.number == a.whereIs(r) && a.order.since.Equal(r.Since)
}

// aimNext resolves the next scene from the files.
func (a *Agent) aimNext() {
	a.order.next, a.order.strips, a.order.due = nil, nil, time.Time{}
	if a.order.order == nil || a.order.number >= len(a.order.order.Items) {
		return
	}
	a.order.next = &Foreseen{Number: a.order.number + 1, Unread: true, At: time.Now()}
	_, strips, err := a.book.ResolveItem(a.order.order, a.order.number+1)
	if err != nil {
		a.order.next.Err, a.order.next.Unread = err, false
		return
	}
	a.order.strips = strips
	a.order.due = time.Now()
}

// forebode has the next scene worked out anew soon: something has changed at the desk.
func (a *Agent) forebode() {
	const pause = 100 * time.Millisecond
	if a.order.strips != nil && a.order.due.IsZero() {
		a.order.due = time.Now().Add(pause)
	}
}

// foresee works out what the next scene would change, from what the desk is known to hold.
func (a *Agent) foresee() {
	if a.order.due.IsZero() || time.Now().Before(a.order.due) {
		return
	}
	a.order.due = time.Time{}
	f := &Foreseen{Number: a.order.number + 1, At: time.Now()}
	a.order.next = f
	targets := targetsOf(a.order.strips, a.order.order.Items[a.order.number].Scene.Fade)
	for _, s := range a.order.strips {
		f.Warnings = append(f.Warnings, s.Warnings...)
		f.Left = append(f.Left, s.Left...)
	}
	if a.line.desk == nil || !a.isRead(targets) {
		f.Unread = true
		return
	}
	r := a.recaller("")
	plan, err := r.Foresee(targets, a.held)
	f.Plan = plan
	if !errors.As(err, &f.Refused) {
		f.Err = err
	}
}

// isRead reports whether all is known that the desk holds at the targets' places.
func (a *Agent) isRead(targets []recall.Target) bool {
	for _, t := range targets {
		for _, q := range a.venue.Desk.Profile.At(t.Place) {
			if a.held[q].IsZero() && a.venue.Desk.Profile.Askable(q) {
				return false
			}
		}
	}
	return true
}

// recaller is for one recall.
func (a *Agent) recaller(command string) *recall.Recaller {
	return &recall.Recaller{
		Book: a.book, Venue: a.venue, Memory: a.memory, Desk: a.line.desk, Command: command,
		By: a.askedBy(), Warn: a.unrecorded, Clock: a.o.Clock, LeastGap: a.o.Times.Gap,
	}
}
