package main

import (
	"fmt"
	"os"
	"strings"

	"deskhand/profiles/source"

	"github.com/spf13/cobra"
)

// app is one run of the program: its console and what is asked for by the flags that
// every command has.
type app struct {
	console
	paint paint

	// dir is the folder that the program was started in.
	dir      string
	bookDir  string
	venue    string
	desk     string
	json     bool
	rehearse bool // --dry-run
}

func newApp(c console) *app {
	return &app{console: c, paint: paintFor(c.out)}
}

// commands makes the command tree.
func (a *app) commands() *cobra.Command {
	root := &cobra.Command{
		Use:   "deskhand",
		Short: "keeps the sound of performers and rooms, and takes the desk there",
		Long: `deskhand keeps the settings of each performer and each room in a book of text
files, shows what would change on the desk, takes the desk there over OSC in a
safe order, and reads it back to prove it.

Start with deskhand demo. Then: deskhand new DIR makes a book, deskhand mock
starts a desk to rehearse on, deskhand swap lectern botanist puts a performer on.

It moves real loudspeakers: loudness can harm hearing, and phantom power some
microphones. Keep the amplifiers down when you try a profile for the first time,
and follow the local rules on sound levels and electrical safety.`,
		Args:          noArguments,
		SilenceErrors: true,
		SilenceUsage:  true,
		Version:       version(),
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
		PersistentPreRunE: func(*cobra.Command, []string) (err error) {
			if a.json {
				a.paint = paint{}
			}
			a.dir, err = os.Getwd()
			return err
		},
	}
	root.SetVersionTemplate("{{.Version}}\n")
	root.SetFlagErrorFunc(flagError)
	flags := root.PersistentFlags()
	flags.StringVar(&a.bookDir, "book", "", "the book's folder `DIR` (else this folder or the nearest above it with a book.toml)")
	flags.StringVar(&a.venue, "venue", "", "the venue's `NAME` (else the one that book.toml says)")
	flags.StringVar(&a.desk, "desk", "", "the desk's address `HOST[:PORT]` (else the one that the venue says)")
	flags.BoolVar(&a.json, "json", false, "print for programs: one JSON object, or one a line for what goes on")
	root.AddCommand(
		a.demoCommand(), a.newCommand(), a.checkCommand(), a.showCommand(), a.diffCommand(), a.readCommand(),
		a.sendCommand(), a.swapCommand(), a.keepCommand(), a.undoCommand(), a.mockCommand(),
	)
	a.completeFlags(root)
	return root
}

// dryRun adds --dry-run to a command that would move something.
func (a *app) dryRun(c *cobra.Command) {
	c.Flags().BoolVar(&a.rehearse, "dry-run", false, "show what would happen, and do none of it")
}

// flagError says which flag is wrong and which one was meant.
func flagError(c *cobra.Command, err error) error {
	text := err.Error()
	if word, ok := strings.CutPrefix(text, "unknown flag: --"); ok {
		return fmt.Errorf("%s has no flag --%s%s", c.CommandPath(), word, source.DidYouMean(word, flagNames(c)))
	}
	return fmt.Errorf("%s: %s", c.CommandPath(), text)
}

func noArguments(c *cobra.Command, given []string) error {
	if len(given) == 0 {
		return nil
	}
	if c.HasSubCommands() {
		var names []string
		for _, sub := range c.Commands() {
			names = append(names, sub.Name())
		}
		return fmt.Errorf("there is no command %q%s (deskhand --help lists them)", given[0], source.DidYouMean(given[0], names))
	}
	return fmt.Errorf("%s takes no %q", c.CommandPath(), given[0])
}

// arguments checks how many words a command was given, and says what they are.
func arguments(least, most int) cobra.PositionalArgs {
	return func(c *cobra.Command, given []string) error {
		if len(given) >= least && (most < 0 || len(given) <= most) {
			return nil
		}
		return fmt.Errorf("%d words were given: %s", len(given), c.UseLine())
	}
}
