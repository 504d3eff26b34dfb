package desk

import (
	"context"
	"fmt"
	"slices"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
)

// Write sends settings in their order, at the desk's pace: one message each, or one for
// those that the desk takes together. A parameter that was sent another value a moment
// ago waits until that packet can't be under way any more, so that it can't arrive
// last. With an error, what was sent until then is returned too.
//
// What else is in a message for several settings is to stay as it is. It is read right
// before the message is due, and goes along as the desk has told it last. That leaves
// the time that the answer and our message are under way, one round trip: a hand's
// change of such a setting within it is set back. On a desk that is followed meanwhile,
// Overwritten tells so; on one that can't be, nobody does.
func (d *Desk) Write(ctx context.Context, settings []profiles.Setting, progress Progress) ([]Hoped, error) {
	groups, err := d.profile.Together(settings)
	if err != nil {
		return nil, err // before any of them is sent
	}
	w := writing{Desk: d, ctx: ctx, progress: progress, of: len(settings), hoped: make([]Hoped, 0, len(settings))}
	for _, group := range groups {
		if err := w.group(group); err != nil {
			return w.hoped, err
		}
	}
	err = w.flush()
	return w.hoped, err
}

// writing is one Write under way.
type writing struct {
	*Desk
	ctx      context.Context
	progress Progress
	of       int
	hoped    []Hoped
	// bundle waits to be sent in one packet; bundled is what it sets.
	bundle  []osc.Message
	bundled []profiles.Setting
}

// group sends the settings of one message.
func (w *writing) group(g profiles.Group) (err error) {
	message, alone := g.Alone()
	if !alone {
		if others := w.others(g.Settings); len(others) > 0 {
			return w.withOthers(g.Settings, others)
		}
		if message, err = w.profile.Message(g.Settings, nil); err != nil {
			return err
		}
	}
	if err := w.telling(message, g.Settings); err != nil {
		return fmt.Errorf("set %s: %w", g.Settings[0].Parameter, err)
	}
	return nil
}

// others lists what else is in the message that sets a group.
func (w *writing) others(settings []profiles.Setting) []profiles.Parameter {
	beside := w.profile.Beside(settings[0].Parameter)
	return slices.DeleteFunc(beside, func(q profiles.Parameter) bool {
		return slices.ContainsFunc(settings, func(s profiles.Setting) bool { return s.Parameter == q })
	})
}

// withOthers sends settings and what else is in their message, by itself: whatever has
// to be waited for comes before the reading.
func (w *writing) withOthers(settings []profiles.Setting, others []profiles.Parameter) error {
	if err := w.flush(); err != nil {
		return err
	}
	for _, s := range settings {
		if err := w.letArrive(w.ctx, s); err != nil {
			return err
		}
	}
	w.company.watch(others)
	_, silent, err := w.Read(w.ctx, others, nil)
	if err == nil && len(silent) > 0 {
		err = fmt.Errorf("%w for %s, which goes with %s in one message", ErrSilent, silent[0], settings[0].Parameter)
	}
	if err != nil {
		return err
	}
	err = w.conversation.TellWhenDue(w.ctx, func() (osc.Message, error) {
		if err := w.isAwake(); err != nil {
			return osc.Message{}, err
		}
		return w.company.fill(w.profile, settings)
	})
	if err != nil {
		return fmt.Errorf("set %s: %w", settings[0].Parameter, err)
	}
	for _, along := range w.company.wentAlong(others) {
		w.sent[along.Parameter] = sending{along.Value, time.Now()}
	}
	w.note(settings)
	return nil
}

func (w *writing) telling(m osc.Message, settings []profiles.Setting) error {
	for _, s := range settings {
		if err := w.letArrive(w.ctx, s); err != nil {
			return err
		}
	}
	if w.profile.Link.Bundle == 0 {
		if err := w.conversation.TellWhenDue(w.ctx, func() (osc.Message, error) { return m, w.isAwake() }); err != nil {
			return err
		}
		w.note(settings)
		return nil
	}
	packet, err := osc.EncodeBundle(append(w.bundle, m)...)
	if err != nil {
		return err
	}
	if len(packet) > w.profile.Link.Bundle {
		if err := w.flush(); err != nil {
			return err
		}
	}
	w.bundle, w.bundled = append(w.bundle, m), append(w.bundled, settings...)
	return nil
}

// flush sends what waits in the bundle.
func (w *writing) flush() error {
	if len(w.bundle) == 0 {
		return nil
	}
	err := w.conversation.TellTogether(w.ctx, w.isAwake, w.bundle...)
	if err == nil {
		w.note(w.bundled)
	}
	w.bundle, w.bundled = nil, nil
	return err
}

// note says what was sent.
func (w *writing) note(settings []profiles.Setting) {
	now := time.Now()
	for _, s := range settings {
		w.sent[s.Parameter] = sending{s.Value, now}
		w.hoped = append(w.hoped, Hoped{s})
	}
	if w.progress != nil {
		w.progress(len(w.hoped), w.of)
	}
}

// letArrive waits while an earlier packet for the parameter, with another value, may
// still be under way.
func (d *Desk) letArrive(ctx context.Context, s profiles.Setting) error {
	earlier, ok := d.sent[s.Parameter]
	if !ok || earlier.value == s.Value {
		return nil
	}
	return sleep(ctx, time.Until(earlier.at.Add(d.profile.Link.Linger)))
}
