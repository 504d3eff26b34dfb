package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
)

const (
	// putBackWithin bounds the putting back of one parameter, checkWithin and checkEach
	// the look at all of them in the end. Both have their own time, also when the user
	// has stopped the rest, and more where the desk needs time to settle.
	putBackWithin = 10 * time.Second
	checkWithin   = 30 * time.Second
	checkEach     = 250 * time.Millisecond
	// putBackTries is how often a value is sent until it is back.
	putBackTries = 5
	// lookTries bounds how often one parameter is asked about.
	lookTries = 8
)

// state is what the desk tells of a parameter.
type state uint8

const (
	untold state = iota // nothing
	asBefore
	other // another value than before, or one that can't be understood
)

// ownTime is a context for what has to be done although the user has stopped the rest.
func ownTime(ctx context.Context, within time.Duration) (context.Context, context.CancelFunc) {
	return context.WithTimeout(context.WithoutCancel(ctx), within)
}

// look asks what the desk holds, and gives it as it stands on the wire. It asks until
// there is an answer that it can take, whatever else the desk tells meanwhile.
func (m *moving) look(ctx context.Context, q profiles.Parameter, g gauge) (found, error) {
	var f found
	question := m.profile.Ask([]profiles.Parameter{q})[0]
	for try := range min(m.profile.Link.Tries, lookTries) {
		r, err := m.ask(ctx, question, 1)
		if err != nil {
			return found{}, err
		}
		for _, h := range r.strange {
			f.strange = keepStrange(f.strange, h)
		}
		h, told := r.raw[q]
		if !told {
			continue
		}
		f.raw, _ = g.raw(h)
		f.value = r.values[q]
		if try == 0 {
			return f, nil
		}
		break
	}
	// A late answer must not be taken for the next one's.
	return f, sleep(ctx, m.profile.Link.Linger)
}

// state asks whether a parameter holds what it held before all. No answer to an earlier
// question can be taken for this one's.
func (m *moving) state(ctx context.Context, q profiles.Parameter) (state, error) {
	if err := sleep(ctx, time.Until(m.recently[q].Add(m.profile.Link.Linger))); err != nil {
		return untold, err
	}
	h := m.held[q]
	f, err := m.look(ctx, q, h.gauge)
	switch {
	case err != nil:
		return untold, err
	case f.raw != nil && same(h.gauge, f.raw, h.raw):
		return asBefore, nil
	case f.raw != nil || len(f.strange) > 0:
		return other, nil
	}
	return untold, nil
}

// putBack sets a parameter to what it was, until the desk tells that it is.
func (m *moving) putBack(ctx context.Context, q profiles.Parameter, before osc.Message) (state, error) {
	m.moved[q] = true
	s := untold
	for range putBackTries {
		// What was sent before must have arrived, or it might arrive last.
		if err := sleep(ctx, m.profile.Link.Linger); err != nil {
			return s, err
		}
		if err := m.tell(ctx, before, m.held[q].gauge.control.Settle); err != nil {
			return s, err
		}
		if err := sleep(ctx, m.profile.Link.Linger); err != nil {
			return s, err
		}
		var err error
		if s, err = m.state(ctx, q); err != nil {
			return s, err
		}
		if s == asBefore {
			delete(m.moved, q)
			return s, nil
		}
	}
	return s, nil
}

// putBackNow puts back the parameter that was moved. That it could not be is an error.
func (m *moving) putBackNow(ctx context.Context, q profiles.Parameter, before osc.Message) error {
	ctx, cancel := ownTime(ctx, putBackWithin+putBackTries*m.held[q].gauge.control.Settle)
	defer cancel()
	s, err := m.putBack(ctx, q, before)
	switch {
	case err != nil:
		return fmt.Errorf("put back %s: %w", q, err)
	case s == untold:
		return m.fellSilent(q)
	case s == other:
		return fmt.Errorf("%s did not come back at once: the rest was not moved", q)
	}
	return nil
}

func (m *moving) fellSilent(by profiles.Parameter) error {
	return fmt.Errorf("%w any more at %s, since %s was moved: the rest was not moved", ErrSilent, m.desk.address, by)
}

// mutedYet reports whether the channel is muted as it was when the plan was made.
func (m *moving) mutedYet(ctx context.Context) error {
	s, err := m.state(ctx, m.mute())
	if err == nil && s != asBefore {
		err = &NotMuted{Place: m.plan.Place, Unknown: s == untold}
	}
	return err
}

// mute is the mute of the channel.
func (m *moving) mute() profiles.Parameter { return muteOf(profiles.Channel, m.plan.Place.Number) }

// stillMuted sees to it that the channel is muted still, and mutes it if it is not.
func (m *moving) stillMuted(ctx context.Context, by profiles.Parameter) error {
	s, err := m.state(ctx, m.mute())
	if err != nil || s == asBefore {
		return err
	}
	message, err := m.message(m.mute(), m.held[m.mute()].raw)
	if err != nil {
		return err
	}
	ctx, cancel := ownTime(ctx, putBackWithin+putBackTries*m.held[m.mute()].gauge.control.Settle)
	defer cancel()
	if s == untold { // most likely it is muted, and to say so again harms nothing
		return errors.Join(m.fellSilent(by), m.tell(ctx, message, 0))
	}
	s, err = m.putBack(ctx, m.mute(), message)
	return errors.Join(&Opened{By: by, Mended: s == asBefore, Channel: m.plan.Place}, err)
}

// checkAll reads all again that was read before, and puts back what differs; then once
// more, since something may have changed along with that.
func (m *moving) checkAll(ctx context.Context) error {
	order := m.inOrder()
	within := checkWithin + time.Duration(len(order))*checkEach
	for _, q := range order {
		within += m.held[q].gauge.control.Settle
	}
	ctx, cancel := ownTime(ctx, within)
	defer cancel()
	for range 2 {
		if changed, err := m.check(ctx, order); err != nil || !changed {
			return err
		}
	}
	return nil
}

// check looks at each parameter once, and reports whether something had changed. Where
// the desk is silent, or the link is dead, it comes to an end soon.
func (m *moving) check(ctx context.Context, order []profiles.Parameter) (changed bool, err error) {
	m.report.NotBack, m.report.InDoubt, m.report.Unread = nil, nil, 0
	silent := 0
	for _, q := range order {
		s := untold
		if err == nil && silent < deaf {
			s, err = m.state(ctx, q)
		}
		if s == other && err == nil {
			changed = true
			s, err = m.mend(ctx, q)
		}
		if silent++; s != untold {
			silent = 0
		}
		m.enter(q, s)
	}
	if err != nil {
		err = fmt.Errorf("look whether all is back: %w", err)
	}
	return changed, err
}

// mend puts back what changed along with something else.
func (m *moving) mend(ctx context.Context, q profiles.Parameter) (state, error) {
	own := m.moved[q]
	message, err := m.message(q, m.held[q].raw)
	if err != nil {
		return other, nil
	}
	s, err := m.putBack(ctx, q, message)
	if s == asBefore && !own && !slices.Contains(m.report.Disturbed, q) {
		m.report.Disturbed = append(m.report.Disturbed, q)
	}
	return s, err
}

// enter notes what became of a parameter in the end.
func (m *moving) enter(q profiles.Parameter, s state) {
	was := profiles.Setting{Parameter: q, Value: m.held[q].value}
	switch {
	case s == asBefore:
		delete(m.moved, q)
	case s == other:
		m.report.NotBack = append(m.report.NotBack, was)
	case m.moved[q]:
		m.report.InDoubt = append(m.report.InDoubt, was)
	default:
		m.report.Unread++
	}
}

// inOrder lists what was read and can be put back: first what may make it loud if it is
// not as it was, the channel's mute, then those of the mixes and what is moved still.
func (m *moving) inOrder() []profiles.Parameter {
	var order []profiles.Parameter
	for _, q := range m.profile.Parameters() {
		if h, known := m.held[q]; known && h.raw != nil {
			order = append(order, q)
		}
	}
	rank := func(q profiles.Parameter) int {
		switch {
		case q == m.mute():
			return 0
		case q.Place != m.plan.Place || m.moved[q]:
			return 1
		}
		return 2
	}
	slices.SortStableFunc(order, func(a, b profiles.Parameter) int { return rank(a) - rank(b) })
	return order
}
