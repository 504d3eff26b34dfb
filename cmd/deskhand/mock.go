package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strconv"
	"syscall"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

func (a *app) mockCommand() *cobra.Command {
	var o mockdesk.Options
	c := &cobra.Command{
		Use:   "mock [PROFILE]",
		Short: "a mock desk to rehearse on",
		Long: `mock starts a desk that is not there: it holds every setting of a profile, puts values
on the desk's own steps, answers, and tells what changes. It runs until Ctrl-C, or until
it is told to end (SIGTERM); the end of its input does not end it. Without a PROFILE
it is the desk of the book's venue, or quay-24.

Type hand moves while it runs, one a line:
  channel.3.fader -4.5          set a control as a hand does
  channel.3.mute on
  channel.3.eq.2.frequency 2.5 kHz
  channel.3.eq.2.gain           say what it holds
  restart                       switch it off and on: it forgets everything

It can be made to misbehave as networks and desks do; the flags say how.`,
		Example:           "  deskhand mock\n  deskhand mock quay-24 --lose 0.1 --queue 32 --rate 500",
		Args:              arguments(0, 1),
		ValidArgsFunction: a.completeProfile,
	}
	f := c.Flags()
	f.StringVar(&o.Listen, "listen", "", "listen on `HOST:PORT` (else 127.0.0.1 and the profile's port)")
	misbehaving := troubleFlags(f)
	c.RunE = func(c *cobra.Command, words []string) (err error) {
		if o.Trouble, err = misbehaving(); err != nil {
			return err
		}
		return a.mock(c.Context(), words, o)
	}
	return c
}

// troubleFlags adds the flags by which a mock desk misbehaves, and gives what they say.
func troubleFlags(f *pflag.FlagSet) func() (mockdesk.Trouble, error) {
	var t mockdesk.Trouble
	var way mockdesk.Way
	f.Uint64Var(&t.Seed, "seed", 1, "the `NUMBER` that the trouble begins with: the same again gives the same trouble")
	f.Float64Var(&way.Lose, "lose", 0, "lose this `SHARE` of the packets each way, 0 to 1")
	f.Float64Var(&way.Double, "double", 0, "double this `SHARE` of the packets each way")
	f.Float64Var(&way.Reorder, "reorder", 0, "hold back this `SHARE` of the packets each way, so that others overtake")
	f.DurationVar(&way.Delay, "delay", 0, "let each packet be under way for up to this `TIME`, as 20ms")
	f.Float64Var(&t.Rate, "rate", 0, "take only this `NUMBER` of messages a second")
	f.IntVar(&t.Queue, "queue", 0, "let only this `NUMBER` of packets wait, and drop the rest")
	return func() (mockdesk.Trouble, error) {
		for _, share := range []struct {
			flag string
			of   float64
		}{{"lose", way.Lose}, {"double", way.Double}, {"reorder", way.Reorder}} {
			if !(share.of >= 0 && share.of <= 1) {
				return t, fmt.Errorf("--%s: a share is a number from 0 to 1, not %v", share.flag, share.of)
			}
		}
		if way.Delay < 0 || !(t.Rate >= 0) || t.Queue < 0 {
			return t, errors.New("--delay, --rate and --queue can't be below 0")
		}
		t.In, t.Out = way, way
		return t, nil
	}
}

func (a *app) completeProfile(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return append(a.names(scenes.Profiles), profiles.ShippedNames()...), noFiles
}

func (a *app) mock(ctx context.Context, words []string, o mockdesk.Options) error {
	p, err := a.mockProfile(words)
	if err != nil {
		return err
	}
	if _, _, err := net.SplitHostPort(o.Listen); o.Listen != "" && err != nil {
		return fmt.Errorf("--listen %q: write HOST:PORT, as 127.0.0.1:9000", o.Listen)
	}
	if o.Listen == "" {
		o.Listen = net.JoinHostPort("127.0.0.1", strconv.Itoa(p.Link.Port))
	}
	a.warnOfMock(o.Listen, p.Link.Port)
	talk := &mockTalk{app: a, profile: p}
	o.Watch = talk.happened
	desk, err := mockdesk.Start(p, o)
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		return fmt.Errorf("%s is taken: is another mock desk running there? end that one, or give --listen HOST:PORT", o.Listen)
	case err != nil:
		return err
	}
	defer desk.Close()
	talk.started(desk)
	talk.hands(ctx, desk)
	return nil
}

// mockProfile finds the profile: the one named, the venue's, or quay-24.
func (a *app) mockProfile(words []string) (*profiles.Profile, error) {
	b, err := a.book()
	if err == nil {
		if len(words) > 0 {
			return b.Profile(words[0])
		}
		v, err := a.openVenue(b, "")
		if err != nil {
			return nil, err
		}
		return v.Desk.Profile, nil
	}
	if a.bookDir != "" {
		return nil, err
	}
	name := "quay-24"
	if len(words) > 0 {
		name = words[0]
	}
	text, err := profiles.Shipped(name)
	if err != nil {
		return nil, err
	}
	return profiles.Load(name+".toml", text)
}

// mockTalk prints what happens at a mock desk, and takes hand moves as they are typed.
type mockTalk struct {
	app     *app
	profile *profiles.Profile
}

// mockEvent is what --json prints of something that happens at a mock desk.
type mockEvent struct {
	Event string `json:"event"` // set, moved, holds
	jsonSetting
	Changed bool `json:"changed"`
}

func (m *mockTalk) started(desk *mockdesk.Desk) {
	m.print(struct {
		Event   string `json:"event"`
		Desk    string `json:"desk"`
		Address string `json:"address"`
	}{"started", m.profile.Name, desk.Addr()},
		fmt.Sprintf("%s, a mock desk, listens on %s; type hand moves, Ctrl-C ends it", m.profile.Name, desk.Addr()))
}

// happened is told of every event at the desk. Questions are too many to print.
func (m *mockTalk) happened(e mockdesk.Event) {
	switch e.What {
	case mockdesk.Set:
		m.took("set", "set", e)
	case mockdesk.HandMove:
		m.took("moved", "by hand", e)
	case mockdesk.Restarted:
		m.print(struct {
			Event string `json:"event"`
		}{"restarted"}, "restarted: everything is as after switching on")
	}
}

// took prints a value that the desk took.
func (m *mockTalk) took(event, word string, e mockdesk.Event) {
	control, _ := m.profile.Control(e.Setting.Parameter)
	note := ""
	if !e.Changed {
		note = " (as it was)"
	}
	m.print(mockEvent{event, settingJSON(m.profile, e.Setting.Parameter, e.Setting.Value), e.Changed},
		fmt.Sprintf("%-8s %s %s%s", word, e.Setting.Parameter, control.Spec.Say(e.Setting.Value), note))
}

// print prints one thing that happened, for a person or for a program.
func (m *mockTalk) print(object any, text string) {
	if m.app.json {
		m.app.printJSON(object)
		return
	}
	fmt.Fprintln(m.app.out, text)
}
