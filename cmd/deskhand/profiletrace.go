package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/profiles/trace"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

// tracing is what profile trace was asked for.
type tracing struct {
	profile, over, listen string
	follow                []string
	during                time.Duration
	save, from            string
	into                  string
	controls              []string
	yes                   bool
}

func (a *app) profileTraceCommand() *cobra.Command {
	var t tracing
	c := &cobra.Command{
		Use:   "trace",
		Short: "what the desk sends, and what the profile makes of it",
		Long: `trace prints every message that the desk sends, decoded, and beside it what the profile
makes of it. What the profile can't place is marked with "?". It only listens: nothing
on the desk is moved. It runs until Ctrl-C.

Most desks tell their changes to those who ask to be told. What asks is in the profile;
without one, give --follow with the address that the desk's manual names.

With --into FILE it asks you to move one control at a time, works out of the messages
how the control is reached, and writes that into the profile FILE when you have
confirmed it. Keep the amplifiers down while you move controls for it.

--save FILE keeps what is heard and asked as a text, and --from FILE reads such a text
in place of a desk.`,
		Example: "  deskhand profile trace --desk 192.168.1.20\n" +
			"  deskhand profile trace --into profiles/ours.toml --desk 192.168.1.20:9000 --follow /follow\n" +
			"  deskhand profile trace --from moves.trace --profile quay-24",
		Args: noArguments,
	}
	f := c.Flags()
	f.StringVar(&t.profile, "profile", "", "the profile's `NAME` or file (else FILE of --into, else the venue's)")
	f.StringVar(&t.over, "over", "", "what carries the packets: `LINK` is udp, tcp-slip or tcp-sizes (else as the profile says)")
	f.StringVar(&t.listen, "listen", "", "hear the desk on this local `PORT`, or ADDRESS:PORT, where it always sends there")
	f.StringArrayVar(&t.follow, "follow", nil, "ask to be told of changes at this `ADDRESS`; may be given several times")
	f.DurationVar(&t.during, "for", 0, "end when the desk was listened to for this `TIME`, as 10s")
	f.StringVar(&t.save, "save", "", "keep what is heard in this new `FILE`")
	f.StringVar(&t.from, "from", "", "read this trace `FILE` in place of a desk")
	f.StringVar(&t.into, "into", "", "work out entries and write them into this profile `FILE`")
	f.StringArrayVar(&t.controls, "control", nil, "learn this `NAME`, as fader, eq.band.gain or mix.fader; may be given several times")
	f.BoolVar(&t.yes, "yes", false, "write the entries without asking")
	_ = c.RegisterFlagCompletionFunc("profile", a.completeProfile)
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := t.check(); err != nil {
			return err
		}
		return a.profileTrace(c.Context(), t)
	}
	return c
}

// check refuses flags that can't go together.
func (t tracing) check() error {
	if t.from != "" {
		for _, other := range []struct {
			given bool
			name  string
		}{
			{t.save != "", "save"}, {t.listen != "", "listen"}, {t.over != "", "over"},
			{len(t.follow) > 0, "follow"}, {t.during != 0, "for"}, {len(t.controls) > 0, "control"},
		} {
			if other.given {
				return fmt.Errorf("--%s is for a desk, and with --from there is none: leave one of them out", other.name)
			}
		}
	}
	if t.into == "" && (t.yes || len(t.controls) > 0) {
		return errors.New("--control and --yes go with --into FILE")
	}
	if _, err := controlsNamed(t.controls); err != nil {
		return err
	}
	if t.during < 0 {
		return errors.New("--for can't be below 0")
	}
	for _, address := range t.follow {
		if !strings.HasPrefix(address, "/") {
			return fmt.Errorf("--follow %q: an OSC address begins with /", address)
		}
	}
	return nil
}

func (a *app) profileTrace(ctx context.Context, t tracing) error {
	target, err := a.traceTarget(t)
	if err != nil {
		return err
	}
	switch {
	case t.from != "" && t.into != "":
		return a.learnFrom(ctx, t, target)
	case t.from != "":
		return a.sayTrace(t, target)
	}
	return a.traceDesk(ctx, t, target)
}

// target is the desk that is traced, and what is known of it.
type target struct {
	// profile is nil where none is known.
	profile *profiles.Profile
	address string
	// file is that of --into, if there is one already.
	file *profileFile
}

// traceTarget finds the profile and the desk's address.
func (a *app) traceTarget(t tracing) (to target, err error) {
	if t.into != "" {
		to.file, err = profileAt(a.path(t.into), t.into)
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			return to, err
		}
	}
	if err = a.traceProfile(t, &to); err != nil || t.from != "" {
		return to, err
	}
	switch {
	case a.desk != "" && to.profile != nil:
		to.address, err = to.profile.AddressOf(a.desk)
	case a.desk != "":
		to.address = a.desk
	case to.address == "":
		err = errors.New("which desk? give --desk HOST:PORT, or --from FILE to read a trace")
	}
	return to, err
}

// traceProfile finds the profile: the one named, that of --into, or the venue's.
func (a *app) traceProfile(t tracing, to *target) (err error) {
	file := to.file
	if t.profile != "" {
		if file, err = a.profileFile(t.profile); err != nil {
			return err
		}
	}
	if file != nil || t.into != "" {
		if file != nil {
			to.profile, err = loadBegun(file)
		}
		return err
	}
	b, err := a.book()
	if errors.Is(err, scenes.ErrNoBook) && a.bookDir == "" {
		return nil // nothing will be placed
	}
	if err != nil {
		return err
	}
	v, err := a.openVenue(b, "")
	if err != nil {
		return err
	}
	to.profile, to.address = v.Desk.Profile, v.Desk.Address
	return nil
}

// loadBegun reads a profile, which may have no entries yet: those are to be worked out.
// For the rest to be read, one stands in that no message reaches.
func loadBegun(file *profileFile) (*profiles.Profile, error) {
	known, err := trace.ReadKnown(file.library, file.text)
	if err != nil || !known.Empty() {
		return file.load()
	}
	standIn := trace.Findings{Entries: []trace.Entry{{Part: profiles.Main, Name: "mute", Fields: []trace.Field{{Key: "by-hand", TOML: `"press it"`}}}}}
	begun := *file
	if begun.text, err = standIn.Into(file.file, file.text); err != nil {
		return nil, err
	}
	return begun.load()
}

// traceDesk listens to a desk until the user ends it.
func (a *app) traceDesk(ctx context.Context, t tracing, to target) (err error) {
	k, err := a.newKeeper(t.save)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, k.end()) }()
	l, err := a.listenTo(ctx, t, to)
	if err != nil {
		k.discard()
		return err
	}
	defer l.end()
	if t.during > 0 {
		var stop context.CancelFunc
		ctx, stop = context.WithTimeout(ctx, t.during)
		defer stop()
	}
	talk := newTraceTalk(a, to.profile)
	talk.started(to, l)
	if t.into != "" {
		return a.learnLive(ctx, t, to, l, k)
	}
	err = l.until(ctx, func(e trace.Event) {
		k.add(e)
		talk.happened(e)
	})
	talk.ended(l.dropped.Load())
	if err == nil && t.during > 0 && talk.messages+talk.malformed == 0 {
		return unreached{fmt.Errorf("nothing was heard from %s: is it on, and does it tell its changes without being asked? (--follow ADDRESS asks)", to.address)}
	}
	return err
}

// sayTrace prints a recorded trace.
func (a *app) sayTrace(t tracing, to target) error {
	r, err := a.readTrace(t.from)
	if err != nil {
		return err
	}
	talk := newTraceTalk(a, to.profile)
	for _, e := range r.Events {
		talk.happened(e)
	}
	talk.ended(0)
	return nil
}

// mostTraced bounds the file of a trace, in bytes: what is in one is bounded by itself, and takes some four times as many
// as hex with what it says beside.
const mostTraced = 256 << 20

// readTrace reads a trace from a file, or with "-" from standard input.
func (a *app) readTrace(file string) (*trace.Recording, error) {
	var from io.Reader = a.in
	if file != "-" {
		f, _, err := source.Open(a.path(file), mostTraced)
		if err != nil {
			return nil, fmt.Errorf("--from %s: %w", file, err)
		}
		defer f.Close()
		from = f
	}
	return trace.Read(file, from)
}
