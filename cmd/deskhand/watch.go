package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"deskhand/scenes/agent"

	"github.com/spf13/cobra"
)

func (a *app) watchCommand() *cobra.Command {
	var o agent.Options
	c := &cobra.Command{
		Use:   "watch",
		Short: "keeps files and desk in step",
		Long: `watch runs beside the desk and tells what a hand moves and what a saved file would
change, a line for each thing that happens, for the positions that somebody was put on
with swap or send. It ends with Ctrl-C.

With --to-desk, a saved file is taken to the desk, that part only, within the venue's
limits; an open position is muted for that moment, as in every recall. With --to-files,
what a hand moves goes into the performer's file once the control has rested for a
second. What has changed on both sides since they last agreed is left alone on both and
told, until "deskhand watch settle POSITION file" or "... desk" decides.

A desk that falls silent is asked again with growing pauses. When it is back nothing is
sent unasked, since it may have been restarted; --restore sends what the book says where
something has changed.

With --remote, a tablet, a foot switch or show control may ask for a swap, a scene, an
undo or a hold over OSC; the README has the addresses.`,
		Example: "  deskhand watch\n  deskhand watch --to-desk --to-files",
		Args:    noArguments,
	}
	f := c.Flags()
	f.BoolVar(&o.ToDesk, "to-desk", false, "take saved files to the desk")
	f.BoolVar(&o.ToFiles, "to-files", false, "write what a hand moves into the performers' files")
	f.BoolVar(&o.Restore, "restore", false, "send what the book says when the desk is back; needs --to-desk")
	f.DurationVar(&o.Poll, "poll", 0, "look at the files this often, as `2s`, instead of waiting to be told, as for a network drive")
	f.StringVar(&o.Order, "running-order", "", "the running order `NAME` whose next scene may be asked for over OSC; needs --remote")
	_ = c.RegisterFlagCompletionFunc("running-order", a.completeRunningOrder)
	remoteFlag(f, &o)
	c.RunE = func(c *cobra.Command, _ []string) error { return a.watch(c.Context(), o) }
	c.AddCommand(a.settleCommand())
	return c
}

func (a *app) watch(ctx context.Context, o agent.Options) error {
	if o.Restore && !o.ToDesk {
		return errors.New("--restore sends to the desk: it needs --to-desk")
	}
	if o.Poll != 0 && o.Poll < 100*time.Millisecond {
		return fmt.Errorf("--poll %s: write 100ms or more", o.Poll)
	}
	if o.Order != "" && o.Remote == "" {
		return errors.New("--running-order is for whoever asks for the next scene: it needs --remote; deskhand run is for the keys")
	}
	b, v, err := a.bookAndVenue("")
	if err != nil {
		return err
	}
	if o.Order != "" {
		order, err := a.runningOrder(b, o.Order)
		if err != nil {
			return err
		}
		o.Order = order.Name
	}
	a.warnOfRemote(o.Remote)
	o.Dir, o.Machine, o.Venue, o.Address = b.Dir, b.Machine, v.Name, a.desk
	o.Tell = func(e agent.Event) { a.sayEvent(v, e) }
	return agent.Run(ctx, o)
}

// settleCommand decides between file and desk where both have changed.
func (a *app) settleCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "settle POSITION file|desk",
		Short: "decides between file and desk where both have changed",
		Long: `settle takes what the files say of a position to the desk, as swap does, or what
the desk holds there into the performer's file, as keep does. A watch that runs takes
note of it.`,
		Example:           "  deskhand watch settle lectern desk",
		Args:              arguments(2, 2),
		ValidArgsFunction: a.completePosition,
	}
	a.dryRun(c)
	a.allowRise(c)
	c.RunE = func(c *cobra.Command, words []string) error { return a.settle(c.Context(), words[0], words[1]) }
	return c
}

func (a *app) settle(ctx context.Context, position, side string) error {
	switch side {
	case "desk":
		return a.keep(ctx, keeping{position: position, settles: true})
	case "file":
	default:
		return fmt.Errorf("settle %s %s: write file or desk, whichever is right", position, side)
	}
	s, err := a.connectTo(ctx, "")
	if err != nil {
		return err
	}
	defer s.close()
	r, err := s.resolveFor(keeping{position: position}, nil)
	if err != nil {
		return err
	}
	to := aimAt(r)
	for i := range to.targets {
		to.targets[i].Open = nil
	}
	return s.recall(ctx, to)
}
