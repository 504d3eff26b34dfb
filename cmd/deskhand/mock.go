package main

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/profiles/source"

	"github.com/spf13/cobra"
)

func (a *app) mockCommand() *cobra.Command {
	var o mockdesk.Options
	var t mockdesk.Trouble
	c := &cobra.Command{
		Use:   "mock [PROFILE]",
		Short: "a mock desk to rehearse on",
		Long: `mock starts a desk that is not there: it holds every setting of a profile, puts values
on the desk's grid, answers, and tells what changes. It runs until it is interrupted
(Ctrl-C). Without a PROFILE it is the desk of the book's venue, or quay-24.

Type hand moves while it runs, one a line:
  channel.3.fader -4.5          set a control as a hand does
  channel.3.mute on
  channel.3.eq.2.gain           say what it holds
  restart                       switch it off and on: it forgets everything

It can be made to misbehave as networks and desks do; the flags say how.`,
		Example:           "  deskhand mock\n  deskhand mock quay-24 --lose 0.1 --queue 32 --rate 500",
		Args:              arguments(0, 1),
		ValidArgsFunction: a.completeProfile,
	}
	f := c.Flags()
	f.StringVar(&o.Listen, "listen", "", "listen on `HOST:PORT` (else 127.0.0.1 and the profile's port)")
	f.Uint64Var(&t.Seed, "seed", 1, "the `NUMBER` that the trouble begins with: the same again gives the same trouble")
	var lose, double, reorder float64
	var delay time.Duration
	f.Float64Var(&lose, "lose", 0, "lose this `SHARE` of the packets each way, 0 to 1")
	f.Float64Var(&double, "double", 0, "double this `SHARE` of the packets each way")
	f.Float64Var(&reorder, "reorder", 0, "hold back this `SHARE` of the packets each way, so that others overtake")
	f.DurationVar(&delay, "delay", 0, "let each packet be under way for up to this `TIME`, as 20ms")
	f.Float64Var(&t.Rate, "rate", 0, "take only this `NUMBER` of messages a second")
	f.IntVar(&t.Queue, "queue", 0, "let only this `NUMBER` of messages wait, and drop the rest")
	c.RunE = func(c *cobra.Command, words []string) error {
		for _, share := range []float64{lose, double, reorder} {
			if !(share >= 0 && share <= 1) {
				return fmt.Errorf("a share is a number from 0 to 1, not %v", share)
			}
		}
		if delay < 0 || t.Rate < 0 || t.Queue < 0 {
			return fmt.Errorf("a time, a rate or a queue can't be below 0")
		}
		t.In = mockdesk.Way{Lose: lose, Double: double, Reorder: reorder, Delay: delay}
		t.Out = t.In
		o.Trouble = t
		return a.mock(c.Context(), words, o)
	}
	return c
}

func (a *app) completeProfile(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return append(a.names("profiles"), profiles.ShippedNames()...), noFiles
}

func (a *app) mock(ctx context.Context, words []string, o mockdesk.Options) error {
	p, err := a.mockProfile(words)
	if err != nil {
		return err
	}
	if o.Listen == "" {
		o.Listen = net.JoinHostPort("127.0.0.1", strconv.Itoa(p.Link.Port))
	}
	talk := &mockTalk{app: a, profile: p}
	o.Watch = talk.happened
	desk, err := mockdesk.Start(p, o)
	if err != nil {
		return err
	}
	defer desk.Close()
	talk.started(desk)
	go talk.hands(desk) // ends with the input, or with the program
	<-ctx.Done()
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
	mu      sync.Mutex // events and replies are printed whole
}

func (m *mockTalk) started(desk *mockdesk.Desk) {
	m.line("started", map[string]any{"event": "started", "desk": m.profile.Name, "address": desk.Addr()},
		fmt.Sprintf("%s, a mock desk, listens on %s; type hand moves, Ctrl-C ends it", m.profile.Name, desk.Addr()))
	host, _, _ := net.SplitHostPort(desk.Addr())
	if ip := net.ParseIP(host); ip == nil || !ip.IsLoopback() {
		fmt.Fprintln(m.app.err, "deskhand: this mock desk listens beyond this machine: anyone on the network can move it")
	}
}

// happened is told of every event at the desk. Questions are too many to print.
func (m *mockTalk) happened(e mockdesk.Event) {
	what := map[mockdesk.EventKind]string{mockdesk.Set: "set", mockdesk.HandMove: "by hand", mockdesk.Restarted: "restarted"}[e.What]
	if what == "" {
		return
	}
	if e.What == mockdesk.Restarted {
		m.line(what, map[string]any{"event": "restarted"}, "restarted: everything is as after switching on")
		return
	}
	control, _ := m.profile.Control(e.Setting.Parameter)
	said := control.Spec.Say(e.Setting.Value)
	note := ""
	if !e.Changed {
		note = " (as it was)"
	}
	m.line(what, map[string]any{
		"event": strings.ReplaceAll(what, " ", "_"), "parameter": e.Setting.Parameter.String(),
		"value": jsonValue(e.Setting.Value), "unit": string(control.Spec.Unit), "changed": e.Changed,
	}, fmt.Sprintf("%-8s %s %s%s", what, e.Setting.Parameter, said, note))
}

func (m *mockTalk) line(_ string, object map[string]any, text string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.app.json {
		m.app.printJSON(object)
		return
	}
	fmt.Fprintln(m.app.out, text)
}

// hands reads hand moves until the input ends, which does not end the desk.
func (m *mockTalk) hands(desk *mockdesk.Desk) {
	lines := bufio.NewScanner(m.app.in)
	for lines.Scan() {
		if err := m.hand(desk, strings.TrimSpace(lines.Text())); err != nil {
			m.mu.Lock()
			fmt.Fprintln(m.app.err, "deskhand: "+err.Error())
			m.mu.Unlock()
		}
	}
}

func (m *mockTalk) hand(desk *mockdesk.Desk, line string) error {
	word, rest, _ := strings.Cut(line, " ")
	switch word {
	case "":
		return nil
	case "restart":
		desk.Restart(0)
		return nil
	}
	q, err := profiles.ParseParameter(word)
	if err != nil {
		return fmt.Errorf("%w; type a setting and its value, as channel.3.fader -4.5", err)
	}
	control, ok := m.profile.Control(q)
	if !ok {
		return fmt.Errorf("%s has no %s%s", m.profile.Name, q, source.DidYouMean(q.Name, m.profile.Names(q.Place.Part)))
	}
	rest = strings.TrimSpace(rest)
	if rest == "" {
		v, _ := desk.Holds(q)
		m.line("holds", map[string]any{"event": "holds", "parameter": q.String(), "value": jsonValue(v), "unit": string(control.Spec.Unit)},
			fmt.Sprintf("%-8s %s %s", "holds", q, control.Spec.Say(v)))
		return nil
	}
	v, err := typedValue(control, rest)
	if err != nil {
		return fmt.Errorf("%s: %w", q, err)
	}
	_, err = desk.Move(q, v)
	return err
}

// typedValue reads a value as a person types it at the mock desk: a number, on or off,
// a word.
func typedValue(control *profiles.Control, text string) (profiles.Value, error) {
	switch control.Spec.Kind {
	case profiles.Toggle:
		i := slices.Index([]string{"off", "on", "false", "true"}, text)
		if i < 0 {
			return profiles.Value{}, fmt.Errorf("%q is not a switch: type on or off", text)
		}
		return profiles.Switch(i%2 == 1), nil
	case profiles.Text, profiles.Choice:
		return profiles.Word(strings.Trim(text, `"`)), nil
	}
	figure, _, _ := strings.Cut(text, " ")
	n, err := strconv.ParseFloat(figure, 64)
	if err != nil {
		return profiles.Value{}, fmt.Errorf("%q is not a number", text)
	}
	return profiles.ValueOf(n)
}
