package main

import (
	"fmt"
	"io"
	"os"
	"strconv"
	"time"

	"deskhand/scenes"

	"github.com/spf13/cobra"
)

// app is one run of the program: its console and what is asked for by the flags that
// every command has.
type app struct {
	in       io.Reader
	out, err *output
	// given is the console as it was given, for what draws on a terminal.
	given console
	paint paint
	// curves says that small curves are shown: on a terminal only.
	curves bool

	// dir is the folder that the program was started in.
	dir      string
	bookDir  string
	venue    string
	desk     string
	json     bool
	rehearse bool // --dry-run
	handDone bool // --by-hand-done
	// fade is what --fade says, 0 without it.
	fade time.Duration
	// rise is what --allow-rise allows in dB, 0 without it.
	rise float64

	// typed is the command line, as others are told of it who wait for the desk.
	typed string

	// sent says that something was sent to the desk.
	sent bool
}

func newApp(c console) *app {
	a := &app{in: c.in, given: c, paint: paintFor(c.out), curves: isTerminal(c.out)}
	a.out = &output{to: c.out, colours: a.paint.on}
	a.err = &output{to: c.err, colours: a.paint.on}
	return a
}

// commands makes the command tree.
func (a *app) commands() *cobra.Command {
	asked := false // for the version; cobra's own way reads a template at each start
	root := &cobra.Command{
		Use:   "deskhand",
		Short: "keeps the sound of performers and rooms, and takes the desk there",
		Long: `deskhand keeps the settings of each performer and each room in a book of text
files, shows what would change on the desk, takes the desk there over OSC in a
safe order, and reads it back to prove it.

Each such act is a recall: it mutes what it changes, tells and keeps what a hand has
moved since the last one, and can be undone.

Start with deskhand demo. Then: deskhand new DIR makes a book, deskhand mock
starts a desk to rehearse on, deskhand swap lectern botanist puts a performer on.

It moves real loudspeakers: loudness can harm hearing, and phantom power some
microphones. Keep the amplifiers down when you try a profile for the first time,
and follow the local rules on sound levels and electrical safety.

Exit codes:
  0  done, and confirmed where there was something to confirm; diff: no difference
  1  diff: differences; check: faults
  2  the command or a file is wrong, or a hand or another deskhand moved
     something between reading and sending; nothing was sent
  3  the desk did not answer, or is another desk; nothing was sent
  4  sent, but not all of it confirmed
  5  refused by a limit or a safe; nothing was sent`,
		Args:          noArguments,
		SilenceErrors: true,
		SilenceUsage:  true,
		RunE: func(c *cobra.Command, _ []string) error {
			if asked {
				fmt.Fprintln(a.out, version())
				return nil
			}
			return c.Help()
		},
		PersistentPreRunE: func(c *cobra.Command, _ []string) (err error) {
			if a.json {
				a.paint = paint{}
				a.out.colours, a.err.colours = false, false
			}
			if err := emptyFlag(c); err != nil {
				return err
			}
			if a.given.catch != nil && c.HasParent() { // without a command nothing is done that could be broken off
				c.SetContext(a.given.catch(c.Context()))
			}
			a.dir, err = os.Getwd()
			return err
		},
	}
	root.SetFlagErrorFunc(flagError)
	root.Flags().BoolVarP(&asked, "version", "v", false, "version for deskhand")
	flags := root.PersistentFlags()
	flags.StringVar(&a.bookDir, "book", "", "the book's folder `DIR` (else this folder or the nearest above it with a book.toml)")
	flags.StringVar(&a.venue, "venue", "", "the venue's `NAME` (else the one that book.toml says)")
	flags.StringVar(&a.desk, "desk", "", "the desk's address `HOST[:PORT]` (else the one that the venue says)")
	flags.BoolVar(&a.json, "json", false, "print for programs: one JSON object, or one a line for what goes on")
	root.AddCommand(
		a.demoCommand(), a.newCommand(), a.checkCommand(), a.showCommand(), a.diffCommand(), a.readCommand(),
		a.sendCommand(), a.swapCommand(), a.keepCommand(), a.undoCommand(), a.runCommand(), a.logCommand(), a.sheetCommand(), a.watchCommand(), a.mockCommand(),
		a.profileCommand(),
	)
	root.SetHelpCommand(helpCommand())
	a.completeFlags(root)
	return root
}

// helpCommand is "deskhand help COMMAND", for those who don't think of --help.
func helpCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "help [COMMAND]",
		Short: "what a command does, and its flags",
		Args:  arguments(0, 1),
	}
	c.ValidArgsFunction = func(c *cobra.Command, words []string, _ string) ([]string, cobra.ShellCompDirective) {
		var names []string
		for _, sub := range c.Root().Commands() {
			if len(words) == 0 && sub.IsAvailableCommand() {
				names = append(names, sub.Name()+"\t"+sub.Short)
			}
		}
		return names, noFiles
	}
	c.RunE = func(c *cobra.Command, words []string) error {
		for _, sub := range append(c.Root().Commands(), c.Root()) {
			if len(words) == 0 && !sub.HasParent() || len(words) == 1 && sub.Name() == words[0] {
				sub.InitDefaultHelpFlag()
				return sub.Help()
			}
		}
		return noCommand(c.Root(), words[0])
	}
	return c
}

// dryRun adds --dry-run to a command that would move something.
func (a *app) dryRun(c *cobra.Command) {
	c.Flags().BoolVar(&a.rehearse, "dry-run", false, "show what would happen, and do none of it")
}

// mostRise is what --allow-rise takes at most, in dB; more is a slip, and would be heard
// as one.
const mostRise = 40

// allowRise adds --allow-rise to a command that may make something louder.
func (a *app) allowRise(c *cobra.Command) {
	c.Flags().Func("allow-rise", "let this one make a position louder by up to so many `DB` (at most 40), over the venue's limit", func(word string) error {
		rise, err := strconv.ParseFloat(word, 64)
		if err != nil || !(rise > 0 && rise <= mostRise) {
			return takesError(fmt.Sprintf("how many dB it may be, above 0 and up to %d, as 6 or 4.5", mostRise))
		}
		a.rise = rise
		return nil
	})
}

// fades adds --fade to a command that recalls.
func (a *app) fades(c *cobra.Command) {
	c.Flags().Func("fade", "move open levels in this `TIME`, as 2s or 500ms (0.1s to 60s), down before up; in place of what a scene says", func(word string) error {
		d, err := scenes.ParseFade(word)
		if err != nil {
			return takesError("how long it may take, from 0.1s to 60s, as 2s or 500ms")
		}
		a.fade = d
		return nil
	})
}

// fading is how a recall fades: as the flag says, or else as the scene.
func (a *app) fading(scene scenes.Fade) scenes.Fade {
	if a.fade > 0 {
		scene.Time = a.fade
	}
	return scene
}

// byHand adds --by-hand-done to a command that recalls.
func (a *app) byHand(c *cobra.Command) {
	c.Flags().BoolVar(&a.handDone, "by-hand-done", false, "what a hand has to do on this desk is done already: don't ask")
}
