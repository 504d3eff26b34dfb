package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"

	"github.com/spf13/cobra"
)

func (a *app) profileCheckCommand() *cobra.Command {
	var live liveOptions
	c := &cobra.Command{
		Use:   "check FILE",
		Short: "a profile's faults, what it reaches, its messages; with --desk, against the desk",
		Long: `check reads a profile, which is a file, or the name of one of the book or of a shipped
one, and tells every fault. If there is none, it shows what of the catalogue the profile
reaches, and for each parameter an example in words and as bytes, to be held against the
document of the desk.

With --desk it asks the desk itself, and only asks: who it is, which questions it answers,
which answers the profile does not understand, how long they take, and how many it bears.
Questions are harmless, but a desk may be busy: don't do it during a performance.

With --move CHANNEL as well it moves the settings of one muted channel to a few values
and back, one after another, and tells on which steps the desk puts them. This can make
a noise all the same, if the profile or the desk is not what you think: turn the
amplifiers down and take headphones off first. Loudness can harm hearing. Left alone are
  mute
  phantom, pad and source, but for --move-noisy: phantom power can harm some
    microphones, so unplug what does not need it, and they bang in the loudspeakers
  a send, if its mix is not muted: it goes only as far up as it stands
  all other loudness, if a send of the channel is up and its mix is not muted: likewise
  the top quarter of all loudness
  what the desk can't be asked about, and what is for a hand
Each setting is put back before the next one moves, also if you stop it with Ctrl-C.
What the wire does not show, see at the desk: whether full gain is 60 dB there, too.

Exit 0: no fault, and the desk is as the profile says. Exit 1: faults or differences.
Exit 3: the desk is silent or another one. Exit 4: something was not put back.
Exit 5: the channel is not muted; nothing was moved.`,
		Example: "  deskhand profile check quay-24\n  deskhand profile check profiles/ferry.toml --desk 192.168.1.20\n" +
			"  deskhand profile check profiles/ferry.toml --desk 192.168.1.20 --move 24",
		Args:              arguments(1, 1),
		ValidArgsFunction: a.completeProfile,
	}
	f := c.Flags()
	f.IntVar(&live.channel, "move", 0, "move the settings of this muted `CHANNEL` and put them back")
	f.BoolVar(&live.noisy, "move-noisy", false, "with --move: phantom, pad and source too")
	f.BoolVar(&live.all, "all", false, "with --desk: ask for everything, not only the first and last of the channels and mixes")
	f.BoolVar(&live.yes, "yes", false, "with --move: don't ask whether the amplifiers are down")
	a.dryRun(c)
	c.RunE = func(c *cobra.Command, words []string) error {
		live.moving = c.Flags().Changed("move")
		if err := a.fitting(live); err != nil {
			return err
		}
		file, err := a.profileFile(words[0])
		if err != nil {
			return err
		}
		p, err := file.load()
		switch {
		case err != nil:
			return a.faultyProfile(file, err)
		case a.desk != "":
			return a.profileLive(c.Context(), p, live)
		}
		a.sayProfile(p)
		return nil
	}
	return c
}

// faultyProfile tells the faults of a profile.
func (a *app) faultyProfile(file *profileFile, err error) error {
	var faults source.Faults
	if !errors.As(err, &faults) {
		return err
	}
	if a.json {
		a.printJSON(faultyProfileJSON(file.file, faults))
		return ended{exitDiffers}
	}
	for _, f := range faults.Sorted() {
		fmt.Fprintln(a.out, a.paint.bad("fault: ")+f.Error())
	}
	fmt.Fprintf(a.out, "%s: %s\n", file.file, count(len(faults), "fault"))
	return ended{exitDiffers}
}

// sayProfile tells what a profile without faults reaches, with examples.
func (a *app) sayProfile(p *profiles.Profile) {
	reach, kinds := reachOf(p), kindsOf(p)
	if a.json {
		a.printJSON(profileJSON(p, reach, kinds))
		return
	}
	fmt.Fprintf(a.out, "%s: no fault\n", p.File)
	fmt.Fprintln(a.out, a.paint.head(p.Name)+" · "+sayCounts(p))
	fmt.Fprintln(a.out, "  "+sayLink(p))
	for _, line := range sayAbilities(p) {
		fmt.Fprintln(a.out, "  "+line)
	}
	fmt.Fprintln(a.out, "  "+saySound(p))
	a.sayReach(p, reach)
	a.sayExamples(p, kinds)
}

// sayCounts says how large a desk is: "24 channels, 8 mixes, 4 bands of EQ".
func sayCounts(p *profiles.Profile) string {
	var parts []string
	for _, c := range []struct {
		n         int
		one, more string
	}{
		{p.Channels, "channel", "channels"}, {p.Mixes, "mix", "mixes"},
		{p.Bands, "band of EQ", "bands of EQ"}, {p.Groups, "group", "groups"},
	} {
		switch c.n {
		case 0:
		case 1:
			parts = append(parts, "1 "+c.one)
		default:
			parts = append(parts, fmt.Sprintf("%d %s", c.n, c.more))
		}
	}
	return strings.Join(parts, ", ")
}

// sayLink says how the desk is reached.
func sayLink(p *profiles.Profile) string {
	over := map[profiles.Over]string{
		profiles.OverUDP:   "UDP",
		profiles.OverSlip:  "TCP, packets framed by SLIP",
		profiles.OverSizes: "TCP, each packet after its size",
	}[p.Link.Over]
	text := fmt.Sprintf("%s, port %d", over, p.Link.Port)
	if p.Link.AnswerPort != 0 {
		text += fmt.Sprintf(", answers to port %d", p.Link.AnswerPort)
	}
	return text + fmt.Sprintf("; %g messages a second, %d at once, %s open", p.Link.Pace, p.Link.Burst, count(p.Link.Window, "question"))
}

// sayAbilities says what the desk can do besides taking settings.
func sayAbilities(p *profiles.Profile) []string {
	if !p.CanAnswer() {
		return []string{"can only be told: nothing sent to it can be confirmed"}
	}
	who := "can be asked what it holds"
	if p.AskWho().Message.Address == "" {
		who += ", but not who it is"
	} else {
		who += fmt.Sprintf(", and who it is: %q", p.Says())
	}
	requests, lapses := p.AskToFollow()
	follow := "can't be asked to tell its changes"
	if len(requests) > 0 {
		follow = fmt.Sprintf("tells its changes for %s after each request", lapses)
	}
	lines := []string{who, follow}
	if p.Link.Bundle > 0 {
		lines = append(lines, fmt.Sprintf("takes several settings in a bundle of up to %d bytes", p.Link.Bundle))
	}
	return lines
}

// saySound says how the desk works out its sound: "EQ at 48 kHz, a bell keeps its width,
// pan law 3.0 dB, full scale 22.0 dBu at gain 0".
func saySound(p *profiles.Profile) string {
	s := p.Sound
	bells := "a bell keeps its width"
	if s.BellsNarrow {
		bells = "a bell narrows as its gain grows"
	}
	full := "full scale not said"
	if s.FullScale != nil {
		full = fmt.Sprintf("full scale %.1f dBu at gain 0", *s.FullScale)
	}
	return fmt.Sprintf("EQ at %s kHz, %s, pan law %.1f dB, %s", strconv.FormatFloat(s.Rate/1000, 'g', 6, 64), bells, s.PanLaw, full)
}

// kind is a group of parameters that the profile says the same of, such as the faders
// of all channels.
type kind struct {
	first profiles.Parameter
	last  profiles.Parameter
	n     int
}

// kindsOf sorts what a desk has by what the profile says of it, in the order in which
// people read a desk.
func kindsOf(p *profiles.Profile) []kind {
	type key struct {
		part    profiles.Part
		control *profiles.Control
	}
	at := make(map[key]int)
	var kinds []kind
	for _, q := range p.Parameters() {
		control, _ := p.Control(q)
		k := key{q.Place.Part, control}
		i, begun := at[k]
		if !begun {
			i = len(kinds)
			at[k], kinds = i, append(kinds, kind{first: q})
		}
		kinds[i].last = q
		kinds[i].n++
	}
	slices.SortStableFunc(kinds, func(x, y kind) int { return int(x.first.Place.Part) - int(y.first.Place.Part) })
	return kinds
}
