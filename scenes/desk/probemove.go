package desk

import (
	"context"
	"errors"
	"fmt"
	"math"
	"reflect"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
)

const (
	// putBackWithin bounds the putting back of one parameter, checkWithin the look at all
	// of them in the end; each has its own time, also when the user has stopped the rest.
	putBackWithin = 10 * time.Second
	checkWithin   = 30 * time.Second
	// putBackTries is how often a value is sent until it is back.
	putBackTries = 5
	// deaf is after how many values in a row that changed nothing no more are tried.
	deaf = 3
)

// Opened says that the channel was no longer muted after a parameter had moved. It was
// muted again, or that failed too.
type Opened struct {
	By      profiles.Parameter
	Mended  bool
	Channel profiles.Place
}

func (e *Opened) Error() string {
	after := "it is muted again"
	if !e.Mended {
		after = "it could not be muted again: mute it at the desk"
	}
	return fmt.Sprintf("moving %s opened %s: the profile has a wrong address, or the desk does more than it says; %s", e.By, e.Channel.Say(), after)
}

// MoveReport is what a move found.
type MoveReport struct {
	Moved []Moved
	// NotBack are the parameters that do not hold what they held before, though that
	// was sent again, and what that is.
	NotBack []profiles.Setting
	// Disturbed are those that changed though others were moved, and were put back.
	Disturbed []profiles.Parameter
}

// Move moves what is planned, one parameter after another, each put back and proved to
// be before the next. It ends early with an error: the context's, [Opened], or that
// of a dead link. Whatever the error, what was moved is put back first, and in the end
// all of the channel is read again, for which it takes its own time.
func (p *Probe) Move(ctx context.Context, plan *MovePlan, progress Progress) (MoveReport, error) {
	m := &moving{Probe: p, plan: plan, held: plan.held}
	var err error
	for i, planned := range plan.Planned {
		if planned.LeftOut != "" || len(planned.points) == 0 {
			continue
		}
		if err = ctx.Err(); err != nil {
			break
		}
		if err = m.one(ctx, planned); err != nil {
			break
		}
		if progress != nil {
			progress(i+1, len(plan.Planned))
		}
	}
	return m.report, errors.Join(err, m.checkAll(ctx))
}

// moving is one Move under way.
type moving struct {
	*Probe
	plan   *MovePlan
	held   map[profiles.Parameter]held
	report MoveReport
}

// one moves one parameter and puts it back.
func (m *moving) one(ctx context.Context, planned Planned) error {
	h := m.held[planned.Parameter]
	before, err := m.message(planned.Parameter, h.raw)
	if err != nil {
		return nil // what can't be put back is not moved
	}
	moved := Moved{Parameter: planned.Parameter, From: h.value, gauge: h.gauge, before: h.raw}
	err = m.through(ctx, &moved, planned.points, h)
	back, cancel := context.WithTimeout(context.WithoutCancel(ctx), putBackWithin)
	defer cancel()
	errBack := m.putBack(back, planned.Parameter, before)
	if len(moved.Points) > 0 {
		moved.judge()
		m.report.Moved = append(m.report.Moved, moved)
	}
	if err == nil && errBack == nil {
		errBack = m.stillMuted(back, planned.Parameter)
	}
	return errors.Join(err, errBack)
}

// message sets one parameter to a raw value, and whatever goes with it to what the desk
// told, to the bit.
func (m *moving) message(q profiles.Parameter, raw any) (osc.Message, error) {
	values := make(map[profiles.Parameter]profiles.Value)
	beside := m.profile.Beside(q)
	for _, other := range beside {
		values[other] = m.held[other].value
	}
	g := m.held[q].gauge
	message, err := g.tell(m.held[q].value, values)
	if err != nil {
		return message, fmt.Errorf("set %s: %w", q, err)
	}
	set := func(g gauge, raw any) {
		if g.profile != nil && raw != nil {
			message.Arguments[g.toldAt] = like(message.Arguments[g.toldAt], raw)
		}
	}
	set(g, raw)
	for _, other := range beside {
		set(m.held[other].gauge, m.held[other].raw)
	}
	return message, nil
}

// through sends the values one after another and notes what comes back.
func (m *moving) through(ctx context.Context, moved *Moved, points []point, h held) error {
	last := h.raw
	unchanged := 0
	for i, pt := range points {
		argument, at := any(pt.text), pt.at
		if pt.text == "" {
			argument, at = h.gauge.argument(pt.at)
		}
		found, err := m.sendAndAsk(ctx, moved, argument, last)
		if err != nil {
			return err
		}
		moved.Points = append(moved.Points, MovePoint{Sent: argument, Back: found.raw, at: at, came: h.gauge.stepOf(found)})
		if i == 0 {
			if err := m.stillMuted(ctx, moved.Parameter); err != nil {
				return err
			}
		}
		if unchanged++; found.raw != nil {
			if !same(h.gauge, found.raw, h.raw) {
				unchanged = 0
			}
			last = found.raw
		}
		if unchanged == deaf {
			return nil
		}
	}
	return nil
}

// found is what the desk told of a parameter: nothing, or what could not be understood.
type found struct {
	raw     any
	value   profiles.Value
	strange []osc.Heard
}

// sendAndAsk sends a value and asks for it, again where nothing has changed: the packet
// may be under way still, or lost.
func (m *moving) sendAndAsk(ctx context.Context, moved *Moved, argument, last any) (found, error) {
	q, g := moved.Parameter, moved.gauge
	message, err := m.message(q, argument)
	if err != nil {
		return found{}, err
	}
	var f found
	for range 2 {
		if err := m.tell(ctx, message, g.control.Settle); err != nil {
			return found{}, err
		}
		for look := range 2 {
			if look > 0 {
				if err := sleep(ctx, m.profile.Link.Linger); err != nil {
					return found{}, err
				}
			}
			if f, err = m.look(ctx, q, g); err != nil {
				return found{}, err
			}
			if len(moved.Heard) < mostStrange {
				moved.Heard = append(moved.Heard, f.strange...)
			}
			if f.raw == nil || !same(g, f.raw, last) || !differs(g, argument, last) {
				return f, nil
			}
		}
	}
	return f, nil
}

// tell sends a message and lets the desk settle.
func (m *moving) tell(ctx context.Context, message osc.Message, settle time.Duration) error {
	if err := m.desk.conversation.Tell(ctx, message); err != nil {
		return err
	}
	return sleep(ctx, settle)
}

// look asks what the desk holds, and gives it as it stands on the wire.
func (m *moving) look(ctx context.Context, q profiles.Parameter, g gauge) (found, error) {
	r, err := m.ask(ctx, m.profile.Ask([]profiles.Parameter{q})[0], m.profile.Link.Tries)
	if err != nil {
		return found{}, err
	}
	if r.tries > 1 { // a late answer must not be taken for the next one's
		if err := sleep(ctx, m.profile.Link.Linger); err != nil {
			return found{}, err
		}
	}
	if h, ok := r.raw[q]; ok {
		raw, _ := g.raw(h)
		return found{raw: raw, value: r.values[q]}, nil
	}
	return found{strange: r.strange}, nil
}

// holdsAgain asks whether a parameter holds what it held before all.
func (m *moving) holdsAgain(ctx context.Context, q profiles.Parameter) (bool, error) {
	h := m.held[q]
	f, err := m.look(ctx, q, h.gauge)
	return err == nil && same(h.gauge, f.raw, h.raw), err
}

// putBack sets a parameter to what it was, and proves it.
func (m *moving) putBack(ctx context.Context, q profiles.Parameter, before osc.Message) error {
	h := m.held[q]
	for range putBackTries {
		// What was sent before must have arrived, or it might arrive last.
		if err := sleep(ctx, m.profile.Link.Linger); err != nil {
			return err
		}
		if err := m.tell(ctx, before, h.gauge.control.Settle); err != nil {
			return err
		}
		if err := sleep(ctx, m.profile.Link.Linger); err != nil {
			return err
		}
		if back, err := m.holdsAgain(ctx, q); err != nil || back {
			return err
		}
	}
	return nil // checkAll tells of it
}

// same reports whether two raw values are the same one.
func same(g gauge, a, b any) bool {
	if x, y := g.position(a), g.position(b); !math.IsNaN(x) && !math.IsNaN(y) {
		return math.Abs(x-y) < sameStep
	}
	x, isText := textOf(a)
	y, areTexts := textOf(b)
	if isText && areTexts {
		return x == y
	}
	return a != nil && reflect.DeepEqual(a, b)
}

func textOf(argument any) (string, bool) {
	switch v := argument.(type) {
	case string:
		return v, true
	case osc.Symbol:
		return string(v), true
	}
	return "", false
}

// sameStep is how close two raw numbers are, in steps of the profile, that are the same
// value in two types of number.
const sameStep = 0.01

// differs reports whether two raw values are so far apart that any desk would show it.
func differs(g gauge, a, b any) bool {
	x, y := g.position(a), g.position(b)
	if math.IsNaN(x) || math.IsNaN(y) {
		return !same(g, a, b)
	}
	return math.Abs(x-y) > 0.6
}

// stillMuted sees to it that the channel is muted still, and mutes it if it is not.
func (m *moving) stillMuted(ctx context.Context, by profiles.Parameter) error {
	mute := muteOf(profiles.Channel, m.plan.Place.Number)
	muted, err := m.holdsAgain(ctx, mute)
	if err != nil || muted {
		return err
	}
	message, err := m.message(mute, m.held[mute].raw)
	if err != nil {
		return err
	}
	if err := m.putBack(ctx, mute, message); err != nil {
		return err
	}
	muted, err = m.holdsAgain(ctx, mute)
	return errors.Join(err, &Opened{By: by, Mended: muted, Channel: m.plan.Place})
}

// checkAll reads all again that was read before, and puts back what differs.
func (m *moving) checkAll(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), checkWithin)
	defer cancel()
	for _, q := range m.inOrder() {
		back, err := m.holdsAgain(ctx, q)
		if err != nil {
			return fmt.Errorf("look whether all is back: %w", err)
		}
		if back {
			continue
		}
		message, err := m.message(q, m.held[q].raw)
		if err != nil {
			return err
		}
		if err := m.putBack(ctx, q, message); err != nil {
			return err
		}
		if back, err = m.holdsAgain(ctx, q); err != nil {
			return err
		}
		if back {
			m.report.Disturbed = append(m.report.Disturbed, q)
			continue
		}
		m.report.NotBack = append(m.report.NotBack, profiles.Setting{Parameter: q, Value: m.held[q].value})
	}
	return nil
}

// inOrder lists what was read and can be put back, the channel's mute last.
func (m *moving) inOrder() []profiles.Parameter {
	mute := muteOf(profiles.Channel, m.plan.Place.Number)
	var order []profiles.Parameter
	for _, q := range m.profile.Parameters() {
		if h, known := m.held[q]; known && h.raw != nil && q != mute {
			order = append(order, q)
		}
	}
	return append(order, mute)
}
