package scenes

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

const (
	// handFinds is how long a hand takes to find a knob, handTurns how long it takes to turn
	// one by a decibel and look. They are our own estimate, and nobody has measured them.
	handFinds = 5 * time.Second
	handTurns = 300 * time.Millisecond
	// unplanned is the time between two scenes of which the running order says no pause: as
	// long as it takes to walk up to a lectern and greet.
	unplanned = 15 * time.Second
)

// runningOrder checks a running order as it will be played: each scene on the venue's
// desk, and what the scenes before have left on the positions.
func (c *checker) runningOrder(name string) error {
	o, err := c.book.RunningOrder(name)
	if err != nil {
		return err
	}
	w := walk{order: o, on: make(map[string]onPosition), gains: make(map[string]float64)}
	for i := range o.Items {
		v, resolved, err := c.book.ResolveScene(o.Items[i].Scene)
		for _, r := range resolved {
			c.warn(r.Warnings)
		}
		c.add(o.File, err)
		w.take(v, i, resolved)
	}
	c.warn(w.warnings)
	return w.faults.Err()
}

// walk is a running order being gone through.
type walk struct {
	order            *RunningOrder
	on               map[string]onPosition
	gains            map[string]float64 // of positions whose gain a hand sets
	clock            clock
	faults, warnings source.Faults
}

// onPosition is who is on a position, and which item last spoke of it, from 0.
type onPosition struct {
	performer string
	isOpen    bool
	item      int
}

// take goes on by one scene. What of it can't be had on the desk is not among the resolved,
// and is a fault already.
func (w *walk) take(v *Venue, number int, resolved []*Resolved) {
	scene := w.order.Items[number].Scene
	for _, at := range scene.Positions {
		now := w.on[at.Position]
		now.performer, now.item = at.Performer, number
		if at.Open != nil {
			now.isOpen = *at.Open
		}
		w.on[at.Position] = now
	}
	w.refuseTwice(number, scene)
	w.refuseGains(v, number, resolved)
	w.warnOfClock(number)
	w.clock.take(w.order.Items[number])
}

// refuseTwice finds performers who would be on two open positions. Each is told once.
func (w *walk) refuseTwice(number int, scene *Scene) {
	told := make(map[string]bool)
	for _, at := range scene.Positions {
		here := w.on[at.Position]
		there := w.openElsewhere(at.Position, here.performer)
		if here.performer == "" || !here.isOpen || there == "" || told[here.performer] {
			continue
		}
		told[here.performer] = true
		if since := w.on[there].item; since < number {
			file, line := w.lineOf(number, at)
			w.fault(file, line, "in %q, %s is on %s, and still on %s since %q, and both are open: close one of them with open = false",
				w.order.Items[number].Title, here.performer, at.Position, there, w.order.Items[since].Title)
			continue
		}
		w.fault(at.File, at.PerformerLine, "in %q, %s is on %s and on %s, and both are open: close one of them with open = false",
			w.order.Items[number].Title, here.performer, at.Position, there)
	}
}

// openElsewhere finds another position that is open with a performer on it, or "".
func (w *walk) openElsewhere(here, performer string) string {
	for _, position := range slices.Sorted(maps.Keys(w.on)) {
		if there := w.on[position]; position != here && there.performer == performer && there.isOpen {
			return position
		}
	}
	return ""
}

// lineOf is where a fault is told that comes of the order of the scenes: at the performer of
// a scene in line, and else at the item, since its scene's file may be right.
func (w *walk) lineOf(number int, at ScenePosition) (string, int) {
	if at.File == w.order.File {
		return at.File, at.PerformerLine
	}
	return w.order.File, w.order.Items[number].SceneLine
}

// refuseGains finds gains that a hand can't turn in the time between two scenes.
func (w *walk) refuseGains(v *Venue, number int, resolved []*Resolved) {
	var needs time.Duration
	var worst string
	var most float64
	var at ScenePosition
	for _, r := range resolved {
		gain, control, byHand := gainByHand(v, r)
		if !byHand {
			continue
		}
		was, known := w.gains[r.Position.Name]
		w.gains[r.Position.Name] = gain
		by := math.Abs(gain - was)
		if !known || by == 0 {
			continue
		}
		needs += handFinds + time.Duration(by*float64(handTurns))
		if by > most {
			most, at = by, *r.Scene
			worst = fmt.Sprintf("%s from %s to %s", r.Position.Name, control.Spec.Say(profiles.Number(was)), control.Spec.Say(profiles.Number(gain)))
		}
	}
	if has := w.pauseBefore(number); needs > has {
		file, line := w.lineOf(number, at)
		w.fault(file, line, "for %q a hand has to turn the gain of %s within %s, and needs about %s with all that is to be turned: leave a longer pause, or put the performer on another position",
			w.order.Items[number].Title, worst, sayTime(has, math.Floor), sayTime(needs, math.Ceil))
	}
}

// gainByHand gives the gain that a hand has to set at a position, in dB. One that is safe
// there is nobody's to set.
func gainByHand(v *Venue, r *Resolved) (float64, *profiles.Control, bool) {
	q := profiles.Parameter{Place: r.Position.Place(), Name: gainName}
	control, ok := v.Desk.Profile.Control(q)
	if _, safe := v.SafeFor(q); !ok || safe || control.Reach() != profiles.ByHand {
		return 0, nil, false
	}
	want, _ := r.wanted(gainName)
	gain, ok := want.Value.Number()
	return gain, control, ok
}

// pauseBefore is how long the desk has between a scene and the one before it.
func (w *walk) pauseBefore(number int) time.Duration {
	if number == 0 {
		return math.MaxInt64
	}
	it := w.order.Items[number]
	if it.Start == nil || !w.clock.ends {
		return unplanned
	}
	if pause := w.clock.start(it) - w.clock.next; pause > 0 {
		return pause
	}
	return unplanned
}

// warnOfClock tells of a scene that is planned before the one ahead of it has ended.
func (w *walk) warnOfClock(number int) {
	it := w.order.Items[number]
	if it.Start == nil || !w.clock.isKnown || w.clock.start(it) >= w.clock.next {
		return
	}
	w.warnings = append(w.warnings, &source.Fault{File: w.order.File, Line: it.Line, What: fmt.Sprintf("%q is planned for %s, and %s",
		it.Title, Clock(*it.Start), w.clock.says)})
}

func (w *walk) fault(file string, line int, format string, args ...any) {
	w.faults = append(w.faults, &source.Fault{File: file, Line: line, What: fmt.Sprintf(format, args...)})
}

// sayTime says seconds up to two minutes, and minutes beyond, rounded to the side that is
// sure.
func sayTime(d time.Duration, round func(float64) float64) string {
	if d < 2*time.Minute {
		return fmt.Sprintf("%.0f s", round(d.Seconds()))
	}
	return fmt.Sprintf("%.0f min", round(d.Minutes()))
}

// ResolveItem builds the strips of an item of a running order, as [Book.ResolveScene].
func (b *Book) ResolveItem(o *RunningOrder, number int) (*Venue, []*Resolved, error) {
	if number < 1 || number > len(o.Items) {
		return nil, nil, errors.New("the running order has no such scene")
	}
	return b.ResolveScene(o.Items[number-1].Scene)
}
