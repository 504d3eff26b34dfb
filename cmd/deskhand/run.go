package main

import (
	"context"
	"fmt"
	"os"
	"slices"

	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/agent"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

func (a *app) runCommand() *cobra.Command {
	var o agent.Options
	var plain bool
	c := &cobra.Command{
		Use:   "run RUNNING-ORDER",
		Short: "an event, live",
		Long: `run goes through the scenes of a running order: one key puts the next one on, and says
once the desk has confirmed it. It works out ahead what the next scene would change, so
that a fault shows minutes before it matters. What a hand moves on the desk is shown; a
key keeps it. Any step can be undone.

Started again in the same evening it goes on where it was; --from-start begins anew.

Without a terminal, or with --plain, it reads commands line by line instead of keys and
answers in lines: write help for the commands. --json does so for programs.

With --remote, a tablet, a foot switch or show control may ask for the next scene, a swap,
an undo or a hold over OSC; the README has the addresses.`,
		Example:           "  deskhand run winter-talks\n  deskhand run winter-talks --plain",
		Args:              arguments(1, 1),
		ValidArgsFunction: a.completeRunningOrder,
	}
	f := c.Flags()
	f.BoolVar(&plain, "plain", false, "commands and answers in lines, without a screen")
	f.BoolVar(&o.FromStart, "from-start", false, "begin anew, though the event was under way")
	remoteFlag(f, &o)
	c.RunE = func(c *cobra.Command, words []string) error { return a.run(c.Context(), words[0], o, plain) }
	return c
}

// remoteFlag adds --remote to a command that stands beside a desk.
func remoteFlag(f *pflag.FlagSet, o *agent.Options) {
	f.StringVar(&o.Remote, "remote", "", "take requests over OSC at this `ADDRESS:PORT` of this machine, from the senders that book.toml lists")
}

// run is an event, on the screen or in lines.
func (a *app) run(ctx context.Context, name string, o agent.Options, plain bool) error {
	b, order, err := a.bookAndOrder(name)
	if err != nil {
		return err
	}
	v, err := a.openVenue(b, order.Venue)
	if err != nil {
		return err
	}
	a.warnOfRemote(o.Remote)
	o.Dir, o.Machine, o.Venue, o.Address, o.Order, o.Live = b.Dir, b.Machine, v.Name, a.desk, order.Name, true
	if plain || a.json || !isTerminal(a.given.out) || !isKeyboard(a.given.in) || os.Getenv("TERM") == "dumb" {
		return a.runPlain(ctx, o)
	}
	return a.runScreen(ctx, o)
}

// bookAndOrder opens the book and the running order that are meant.
func (a *app) bookAndOrder(name string) (*scenes.Book, *scenes.RunningOrder, error) {
	b, err := a.book()
	if err != nil {
		return nil, nil, err
	}
	order, err := a.runningOrder(b, name)
	return b, order, err
}

// runningOrder reads the running order that is meant.
func (a *app) runningOrder(b *scenes.Book, name string) (*scenes.RunningOrder, error) {
	n := scenes.Named{Kind: scenes.RunningOrders, Name: name}
	if !slices.Contains(b.Names(scenes.RunningOrders), name) {
		var err error
		if n, err = b.Locate(a.dir, name); err != nil {
			return nil, err
		}
	}
	if n.Kind != scenes.RunningOrders {
		return nil, fmt.Errorf("%s is no running order%s", n.File(), source.DidYouMean(name, b.Names(scenes.RunningOrders)))
	}
	order, err := b.RunningOrder(n.Name)
	if err != nil {
		return nil, err
	}
	if a.venue != "" && a.venue != order.Venue {
		return nil, fmt.Errorf("%s:%d: the running order is at %q, not at %q", order.File, order.Line, order.Venue, a.venue)
	}
	return order, nil
}
