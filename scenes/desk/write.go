package desk

import (
	"context"
	"fmt"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/scenes"
)

// Write sends settings in their order, at the desk's pace: one message each, or one for
// those that the desk takes together. What else is in such a message is read right
// before, so that it stays as it is. A parameter that was sent another value a moment
// ago waits until that packet can't be under way any more, so that it can't arrive
// last. With an error, what was sent until then is returned too.
func (d *Desk) Write(ctx context.Context, settings []profiles.Setting, progress Progress) ([]Hoped, error) {
	groups, err := d.profile.Together(settings)
	if err != nil {
		return nil, err // before any of them is sent
	}
	w := writing{Desk: d, ctx: ctx, progress: progress, of: len(settings)}
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
func (w *writing) group(settings []profiles.Setting) error {
	others, err := w.others(settings)
	if err != nil {
		return err
	}
	tellings, err := w.profile.Tell(settings, func(q profiles.Parameter) (profiles.Value, bool) {
		v, ok := others[q]
		return v, ok
	})
	if err != nil {
		return err
	}
	for _, t := range tellings {
		if err := w.telling(t); err != nil {
			return fmt.Errorf("set %s: %w", t.Settings[0].Parameter, err)
		}
	}
	return nil
}

// others reads what else is in the message that sets a group.
func (w *writing) others(settings []profiles.Setting) (scenes.Values, error) {
	set := make(map[profiles.Parameter]bool)
	for _, s := range settings {
		set[s.Parameter] = true
	}
	var missing []profiles.Parameter
	for _, q := range w.profile.Beside(settings[0].Parameter) {
		if !set[q] {
			missing = append(missing, q)
		}
	}
	if len(missing) == 0 {
		return nil, nil
	}
	if err := w.flush(); err != nil {
		return nil, err
	}
	values, silent, err := w.Read(w.ctx, missing, nil)
	if err == nil && len(silent) > 0 {
		err = fmt.Errorf("%w for %s, which goes with %s in one message", ErrSilent, silent[0], settings[0].Parameter)
	}
	return values, err
}

func (w *writing) telling(t profiles.Telling) error {
	for _, s := range t.Settings {
		if err := w.letArrive(w.ctx, s); err != nil {
			return err
		}
	}
	if w.profile.Link.Bundle == 0 {
		if err := w.conversation.Tell(w.ctx, t.Message); err != nil {
			return err
		}
		w.note(t.Settings)
		return nil
	}
	packet, err := osc.EncodeBundle(append(w.bundle, t.Message)...)
	if err != nil {
		return err
	}
	if len(packet) > w.profile.Link.Bundle {
		if err := w.flush(); err != nil {
			return err
		}
	}
	w.bundle, w.bundled = append(w.bundle, t.Message), append(w.bundled, t.Settings...)
	return nil
}

// flush sends what waits in the bundle.
func (w *writing) flush() error {
	if len(w.bundle) == 0 {
		return nil
	}
	err := w.conversation.TellTogether(w.ctx, w.bundle...)
	if err == nil {
		w.note(w.bundled)
	}
	w.bundle, w.bundled = nil, nil
	return err
}

// note says what was sent.
func (w *writing) note(settings []profiles.Setting) {
	for _, s := range settings {
		w.sent[s.Parameter] = sending{s.Value, time.Now()}
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
