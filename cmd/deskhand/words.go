package main

import (
	"errors"
	"fmt"
	"strings"

	"deskhand/profiles/source"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// flagError says which flag is wrong, and which one or what was meant.
func flagError(c *cobra.Command, err error) error {
	var (
		unknown *pflag.NotExistError
		invalid *pflag.InvalidValueError
		missing *pflag.ValueRequiredError
	)
	switch {
	case errors.As(err, &unknown) && len(unknown.GetSpecifiedName()) > 1:
		word := unknown.GetSpecifiedName()
		return fmt.Errorf("%s has no flag --%s%s", c.CommandPath(), word, source.DidYouMean("--"+word, flagNames(c)))
	case errors.As(err, &unknown):
		return fmt.Errorf("%s has no flag -%s (%s --help lists them)", c.CommandPath(), unknown.GetSpecifiedName(), c.CommandPath())
	case errors.As(err, &invalid):
		return fmt.Errorf("--%s %q: write %s", invalid.GetFlag().Name, invalid.GetValue(), expected(invalid))
	case errors.As(err, &missing) && missing.GetFlag() != nil:
		what, _ := pflag.UnquoteUsage(missing.GetFlag())
		return fmt.Errorf("--%s is not complete: write --%s %s", missing.GetFlag().Name, missing.GetFlag().Name, what)
	}
	return fmt.Errorf("%s: %w", c.CommandPath(), err)
}

// expected says what a flag takes.
func expected(invalid *pflag.InvalidValueError) string {
	var takes takesError
	if errors.As(invalid, &takes) {
		return string(takes)
	}
	f := invalid.GetFlag()
	switch f.Value.Type() {
	case "bool":
		return "--" + f.Name + " alone"
	case "duration":
		return "a time, as 20ms or 1.5s"
	case "int", "uint64":
		return "a whole number, not below 0"
	case "float64":
		return "a number"
	}
	what, _ := pflag.UnquoteUsage(f)
	return what
}

// emptyFlag refuses a flag that is given an empty word, as a script with a name that is not
// set does: what is meant by leaving the flag out may be another desk, or the whole room.
func emptyFlag(c *cobra.Command) error {
	var err error
	c.Flags().Visit(func(f *pflag.Flag) {
		if f.Value.Type() == "string" && f.Value.String() == "" && err == nil {
			what, _ := pflag.UnquoteUsage(f)
			err = fmt.Errorf("--%s \"\": write --%s %s, or leave it out", f.Name, f.Name, what)
		}
	})
	return err
}

// takesError is what a flag takes, from a flag that knows it better than its type does.
type takesError string

func (e takesError) Error() string { return "write " + string(e) }

func flagNames(c *cobra.Command) []string {
	var names []string
	add := func(f *pflag.Flag) { names = append(names, "--"+f.Name) }
	c.Flags().VisitAll(add)
	c.InheritedFlags().VisitAll(add)
	return names
}

// noArguments is for commands that take no words, and for the program itself, whose
// first word is a command.
func noArguments(c *cobra.Command, given []string) error {
	switch {
	case len(given) == 0:
		return nil
	case c.HasSubCommands():
		return noCommand(c, given[0])
	}
	return fmt.Errorf("%s takes no %q", c.CommandPath(), given[0])
}

func noCommand(root *cobra.Command, word string) error {
	var names []string
	for _, sub := range root.Commands() {
		names = append(names, sub.Name())
	}
	return fmt.Errorf("there is no command %q%s (deskhand --help lists them)", word, source.DidYouMean(word, names))
}

// arguments checks how many words a command was given, and says what they are.
func arguments(least, most int) cobra.PositionalArgs {
	return func(c *cobra.Command, given []string) error {
		if len(given) >= least && (most < 0 || len(given) <= most) {
			return nil
		}
		_, words, _ := strings.Cut(c.Use, " ")
		return fmt.Errorf("%s takes %s, and was given %s (%s --help says more)", c.CommandPath(), words, count(len(given), "word"), c.CommandPath())
	}
}

// count says how many there are of something.
func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
