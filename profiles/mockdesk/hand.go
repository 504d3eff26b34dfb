package mockdesk

import (
	"fmt"
	"net/netip"
	"time"

	"deskhand/profiles"
)

// nobody is who a hand's move comes from: every follower is told.
var nobody netip.AddrPort

// trigger is something to do after so many more settings.
type trigger struct {
	after int
	do    func()
}

// Move sets a control as a hand on the desk does, and tells the followers. It gives
// the value that the desk then holds, on its grid.
func (d *Desk) Move(q profiles.Parameter, v profiles.Value) (profiles.Value, error) {
	s, err := d.onGrid(profiles.Setting{Parameter: q, Value: v})
	if err != nil {
		return profiles.Value{}, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.hold(HandMove, s, nobody)
	return s.Value, nil
}

// MoveAfter has a hand set a control right after the desk has taken so many more
// settings, 1 or more. The error is the one that Move would give.
func (d *Desk) MoveAfter(settings int, s profiles.Setting) error {
	s, err := d.onGrid(s)
	if err != nil {
		return err
	}
	d.after(settings, func() { d.hold(HandMove, s, nobody) })
	return nil
}

// onGrid gives a setting with the value that the desk would hold.
func (d *Desk) onGrid(s profiles.Setting) (profiles.Setting, error) {
	control, ok := d.profile.Control(s.Parameter)
	if !ok {
		return s, fmt.Errorf("%s: %s has no such parameter", s.Parameter, d.profile.Name)
	}
	held, err := control.Nearest(s.Value)
	if err != nil {
		return s, fmt.Errorf("%s: %w", s.Parameter, err)
	}
	s.Value = held
	return s, nil
}

// Restart switches the desk off and on again: it forgets every value, follower and
// waiting packet, and hears nothing for the time it takes.
func (d *Desk) Restart(takes time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.restart(takes)
}

// RestartAfter restarts the desk right after it has taken so many more settings, 1
// or more.
func (d *Desk) RestartAfter(settings int, takes time.Duration) {
	d.after(settings, func() { d.restart(takes) })
}

func (d *Desk) restart(takes time.Duration) {
	if s, ok := d.socket.(lasting); ok {
		s.hangUp()
	}
	d.switchOn()
	d.offUntil = d.options.Now().Add(takes)
	d.watch(Event{What: Restarted})
}

func (d *Desk) after(settings int, do func()) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.triggers = append(d.triggers, trigger{settings, do})
}

// pull counts one setting towards what waits for it.
func (d *Desk) pull() {
	waiting := d.triggers
	d.triggers = nil
	for _, t := range waiting {
		if t.after--; t.after <= 0 {
			t.do()
			continue
		}
		d.triggers = append(d.triggers, t)
	}
}

// Misbehave changes the trouble that the network and the desk make from now on. The
// seed stays as it was at first.
func (d *Desk) Misbehave(t Trouble) {
	d.in.set(t.In)
	d.out.set(t.Out)
	d.mu.Lock()
	defer d.mu.Unlock()
	d.setPace(t)
}
