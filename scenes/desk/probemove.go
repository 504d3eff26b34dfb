package desk

import (
	"context"
	"errors"
	"fmt"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
)

// deaf is after how many values in a row that changed nothing no more are tried, and
// after how many questions in a row without any answer no more are asked.
const deaf = 3

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
		after = "that it is muted again could not be shown: mute it at the desk"
	}
	return fmt.Sprintf("%s was open after %s had moved: a hand opened it, the profile has a wrong address, or the desk does more than it says; %s", e.Channel.Say(), e.By, after)
}

// MoveReport is what a move found, and what became of the channel.
type MoveReport struct {
	// Moved are those that went through all their values.
	Moved []Moved
	// NotBack are the parameters that the desk tells to hold something else than before,
	// though that was sent again, and what they held before.
	NotBack []profiles.Setting
	// InDoubt are those that were moved, to which what they held before was sent again,
	// and of which the desk tells nothing since.
	InDoubt []profiles.Setting
	// Unread counts those that were proved to be back, or never moved, and of which the
	// desk tells nothing in the end.
	Unread int
	// Disturbed are those that changed though others were moved, and were put back.
	Disturbed []profiles.Parameter
}

// AsBefore reports whether in the end the desk told of all that it holds what it held
// before.
func (r *MoveReport) AsBefore() bool {
	return len(r.NotBack) == 0 && len(r.InDoubt) == 0 && r.Unread == 0
}

// Move moves what is planned, one parameter after another, each put back and proved to
// be before the next. It ends early with an error: the context's, [NotMuted], [Opened],
// [ErrSilent], that of a dead link, or that a parameter did not come back. Whatever the
// error, what was moved is put back first, and in the end all that the plan has read is
// read again, for which it takes its own time.
func (p *Probe) Move(ctx context.Context, plan *MovePlan, progress Progress) (MoveReport, error) {
	m := &moving{Probe: p, plan: plan, held: plan.held, moved: make(map[profiles.Parameter]bool)}
	if err := m.mutedYet(ctx); err != nil {
		return m.report, err
	}
	var err error
	for i, planned := range plan.Planned {
		if planned.LeftOut != "" {
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
	err = errors.Join(err, m.checkAll(ctx)) // which completes the report
	return m.report, err
}

// moving is one Move under way.
type moving struct {
	*Probe
	plan   *MovePlan
	held   map[profiles.Parameter]held
	report MoveReport
	// moved are the parameters that were sent something and not shown to be back since.
	moved map[profiles.Parameter]bool
}

// one moves one parameter and puts it back.
func (m *moving) one(ctx context.Context, planned Planned) error {
	q := planned.Parameter
	h := m.held[q]
	before, err := m.message(q, h.raw)
	if err != nil {
		return nil // what can't be put back is not moved
	}
	moved := Moved{Parameter: q, From: h.value, gauge: h.gauge, before: h.raw}
	m.moved[q] = true
	err = m.through(ctx, &moved, planned.points)
	if err == nil { // else it has not seen enough to be judged
		moved.judge()
		m.report.Moved = append(m.report.Moved, moved)
	}
	if err = errors.Join(err, m.putBackNow(ctx, q, before)); err != nil {
		return err
	}
	return m.stillMuted(ctx, q)
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

// through sends the values one after another and notes what comes back. That the channel
// is muted still is looked at after the first.
func (m *moving) through(ctx context.Context, moved *Moved, points []point) error {
	g, last, unchanged := moved.gauge, moved.before, 0
	for i, pt := range points {
		argument, at := any(pt.text), pt.at
		if pt.text == "" {
			argument, at = g.argument(pt.at)
		}
		found, err := m.sendAndAsk(ctx, moved, argument, last)
		if err != nil {
			return err
		}
		moved.Points = append(moved.Points, MovePoint{Sent: argument, Back: found.raw, at: at, came: g.stepOf(found)})
		if i == 0 {
			if err := m.stillMuted(ctx, moved.Parameter); err != nil {
				return err
			}
		}
		unchanged++
		if found.raw != nil {
			last = found.raw
		}
		if found.raw != nil && !same(g, found.raw, moved.before) {
			unchanged = 0
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
			for _, h := range f.strange {
				moved.Heard = keepStrange(moved.Heard, h)
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
