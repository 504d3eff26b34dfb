package main

import (
	"context"
	"errors"
	"fmt"

	"deskhand/profiles"
	"deskhand/scenes/desk"
)

// liveOptions say how a profile is held against a desk.
type liveOptions struct {
	moving, noisy, all, yes bool
	channel                 int
}

// fitting refuses flags that don't go together.
func (a *app) fitting(o liveOptions) error {
	switch {
	case a.desk == "" && (o.moving || o.all):
		return errors.New("--move and --all are for a desk: give --desk HOST[:PORT] too")
	case !o.moving && (o.noisy || o.yes || a.rehearse):
		return errors.New("--move-noisy, --yes and --dry-run go with --move CHANNEL")
	}
	return nil
}

// live is a profile held against a desk.
type live struct {
	*desk.Probe
	app      *app
	profile  *profiles.Profile
	options  liveOptions
	address  string
	progress *progress
	found    findings
}

// findings are what was found out. What was not tried is nil.
type findings struct {
	identity desk.Identity
	reading  desk.ProbeReading
	bearing  desk.Bearing
	plan     *desk.MovePlan
	moved    *desk.MoveReport
	// refused says why nothing was moved, trouble why the move ended early.
	refused, trouble error
}

// profileLive holds a profile against a desk.
func (a *app) profileLive(ctx context.Context, p *profiles.Profile, o liveOptions) error {
	address, err := p.AddressOf(a.desk)
	if err != nil {
		return err
	}
	if o.moving && (o.channel < 1 || o.channel > p.Channels) {
		return fmt.Errorf("--move %d: %s has channels 1 to %d", o.channel, p.Name, p.Channels)
	}
	looking, cancel := context.WithTimeout(ctx, lookUpWithin)
	defer cancel()
	probe, err := desk.OpenProbe(looking, p, address, desk.Options{})
	if err != nil {
		return unreached{err}
	}
	l := &live{Probe: probe, app: a, profile: p, options: o, address: address, progress: newProgress(a.given.err)}
	defer l.close()
	if err := l.ask(ctx); err != nil {
		return err
	}
	l.progress.end()
	if !a.json && l.found.refused == nil {
		a.sayAnswers(p, address, &l.found)
	}
	if o.moving && l.found.refused == nil {
		if err := l.move(ctx); err != nil {
			return err
		}
	}
	if a.json {
		a.printJSON(liveJSON(l))
	}
	return l.outcome()
}

func (l *live) close() {
	l.progress.end()
	_ = l.Close() // nothing can be lost with it
}

// ask finds out all that can be without moving anything.
func (l *live) ask(ctx context.Context) error {
	var err error
	if l.found.identity, err = l.Identify(ctx); err != nil {
		return l.reached(err)
	}
	if l.options.moving && l.refuses(ctx) {
		return nil
	}
	step := func(done, of int) { l.progress.step("asking", done, of) }
	if l.found.reading, err = l.Read(ctx, l.options.all, step); err != nil {
		return unreached{err}
	}
	l.progress.step("asking for much at once", 0, 0)
	if l.found.bearing, err = l.Bear(ctx, l.found.reading); err != nil {
		return unreached{err}
	}
	return nil
}

// reached tells an error of the link from one of what was asked for.
func (l *live) reached(err error) error {
	if !l.profile.CanAnswer() {
		return err
	}
	return unreached{err}
}

// plan reads what is to be moved. Where the channel is not muted, that is noted and told.
func (l *live) plan(ctx context.Context) (*desk.MovePlan, error) {
	plan, err := l.PlanMove(ctx, desk.MoveOptions{Channel: l.options.channel, Noisy: l.options.noisy})
	switch {
	case l.isOpen(err):
		return nil, nil
	case err != nil:
		return nil, unreached{err}
	}
	return plan, nil
}

// isOpen notes and tells that the channel is not muted, if that is the error.
func (l *live) isOpen(err error) bool {
	var open *desk.NotMuted
	if !errors.As(err, &open) {
		return false
	}
	l.found.refused = open
	l.app.complain(open)
	return true
}

// refuses reports whether the channel is open, so that there is no need to ask for all
// the rest. Another error will come again.
func (l *live) refuses(ctx context.Context) bool {
	_, _ = l.plan(ctx)
	return l.found.refused != nil
}

// move moves a channel, if it is muted still and a person says yes.
func (l *live) move(ctx context.Context) error {
	if !l.app.rehearse {
		if err := l.consent(ctx); err != nil {
			return err
		}
	}
	// Only now is it read what is put back later: a hand may have moved it meanwhile.
	plan, err := l.plan(ctx)
	if err != nil || plan == nil {
		return err
	}
	l.found.plan = plan
	if l.app.rehearse {
		if !l.app.json {
			l.app.sayMovePlan(l.profile, plan)
		}
		return nil
	}
	l.moveAsPlanned(ctx, plan)
	return nil
}

// moveAsPlanned moves and tells what came of it.
func (l *live) moveAsPlanned(ctx context.Context, plan *desk.MovePlan) {
	l.app.sent = true
	report, err := l.Move(ctx, plan, func(done, of int) { l.progress.step("moving", done, of) })
	l.progress.end()
	if l.isOpen(err) {
		return
	}
	l.found.moved, l.found.trouble = &report, err
	if !l.app.json {
		l.app.sayMoved(l.profile, plan, &report)
	}
	if err != nil {
		l.app.complain(l.stopped(err))
	}
}

// stopped says why a move ended early, and what became of the channel.
func (l *live) stopped(err error) error {
	var opened *desk.Opened
	if !l.found.moved.AsBefore() || !errors.Is(err, context.Canceled) || errors.As(err, &opened) {
		return err
	}
	return errors.New("stopped: the rest was not moved, and all is as it was before")
}

// consent warns and waits for a yes.
func (l *live) consent(ctx context.Context) error {
	a := l.app
	fmt.Fprintln(a.err, a.paint.warn(moveWarning(l.options)))
	if l.options.yes {
		return nil
	}
	yes, err := a.askYes(ctx, fmt.Sprintf("move the settings of channel %d at %s? type yes: ", l.options.channel, l.address))
	switch {
	case err != nil:
		return fmt.Errorf("nothing was moved: %w", err)
	case !yes:
		return errors.New("nothing was moved: it takes a yes, or --yes")
	}
	return nil
}

// moveWarning says what to do before anything moves.
func moveWarning(o liveOptions) string {
	text := "turn the amplifiers down and take headphones off: loudness can harm hearing.\n" +
		fmt.Sprintf("look at the desk: it must show channel %d as muted. A wrong profile may read an open one as muted.", o.channel)
	if o.noisy {
		text += "\nunplug each microphone that does not need phantom power: it can harm some."
	}
	return text
}

// outcome gives the exit code of what was found.
func (l *live) outcome() error {
	f := &l.found
	switch {
	case f.refused != nil:
		return ended{exitRefused}
	case f.trouble != nil || f.moved != nil && !f.moved.AsBefore():
		return ended{exitNotConfirmed}
	case !f.fits(l.profile):
		return ended{exitDiffers}
	}
	return nil
}

// fits reports whether the desk is as the profile says.
func (f *findings) fits(p *profiles.Profile) bool {
	if f.identity.Asked && !f.identity.Answered || len(f.misfits()) > 0 || len(f.doubts(p)) > 0 {
		return false
	}
	return f.moved == nil || len(f.differing()) == 0 && len(f.moved.Disturbed) == 0
}

// misfits are the questions that were not answered as the profile says.
func (f *findings) misfits() []desk.Asked {
	var all []desk.Asked
	for _, asked := range f.reading.Asked {
		if asked.Outcome != desk.Answered {
			all = append(all, asked)
		}
	}
	return all
}

// differing are the parameters that the desk did not take as the profile says.
func (f *findings) differing() []desk.Moved {
	var all []desk.Moved
	for _, m := range f.moved.Moved {
		if m.Verdict != desk.AsProfile {
			all = append(all, m)
		}
	}
	return all
}

// doubts are what the desk bears less of than the profile asks of it.
func (f *findings) doubts(p *profiles.Profile) []string {
	var all []string
	b := f.bearing
	if b.AtOnceLost > 0 && b.AtOnce < max(p.Link.Burst, p.Link.Window) {
		all = append(all, fmt.Sprintf("the profile has %d messages at once and %s open: write burst = %d and window = %d at most",
			p.Link.Burst, count(p.Link.Window, "question"), max(b.AtOnce, 1), max(b.AtOnce, 1)))
	}
	if b.PaceLost > 0 && b.PaceLost <= p.Link.Pace {
		all = append(all, fmt.Sprintf("the profile has %g messages a second: write pace = %g at most", p.Link.Pace, max(b.Pace, 1)))
	}
	return all
}
