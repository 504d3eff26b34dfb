package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"

	"github.com/spf13/cobra"
)

func (a *app) readCommand() *cobra.Command {
	var file, position string
	c := &cobra.Command{
		Use:   "read",
		Short: "the desk into a reading",
		Long: `read asks the desk for everything that its profile says can be asked, and writes it as
a reading: to a file with -o, else to standard output. It changes nothing on the desk.
A reading can be held against the desk later (diff), and sent back (send). -o writes a
new file or over an older reading, and over nothing else.`,
		Example:           "  deskhand read -o readings/before-doors.toml\n  deskhand read --position lectern",
		Args:              noArguments,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	c.Flags().StringVarP(&file, "output", "o", "", "write the reading to this `FILE`")
	c.Flags().StringVar(&position, "position", "", "read only the channel of this position `NAME`")
	_ = c.RegisterFlagCompletionFunc("position", a.completePosition)
	c.RunE = func(c *cobra.Command, _ []string) error { return a.read(c, file, position) }
	return c
}

func (a *app) read(c *cobra.Command, file, position string) error {
	s, err := a.connectTo(c.Context(), "")
	if err != nil {
		return err
	}
	defer s.close()
	parameters := s.Venue.Desk.Profile.Parameters()
	if position != "" {
		p, err := s.Venue.Position(position)
		if err != nil {
			return err
		}
		parameters = s.Venue.Desk.Profile.At(p.Place())
	}
	var into *readingFile
	if file != "" {
		if into, err = a.readingFile(s.Book, file); err != nil {
			return err
		}
	}
	values, missing, err := s.readDesk(c.Context(), parameters)
	if err != nil {
		return err
	}
	r := &scenes.Reading{Desk: s.Venue.Desk.Profile.Name, Taken: time.Now(), Values: values, On: s.Memory.On, Scenes: s.Memory.Scenes}
	if into != nil {
		if err := into.write(s.Venue.Desk.Profile, r); err != nil {
			return err
		}
	}
	s.progress.end()
	a.sayReading(s.Venue, r, missing, file)
	if len(missing) > 0 {
		return ended{exitNoDesk}
	}
	return nil
}

// readDesk asks the desk who it is, then for parameters. A desk that can only be told is
// an error.
func (s *session) readDesk(ctx context.Context, parameters []profiles.Parameter) (scenes.Values, []profiles.Parameter, error) {
	if p := s.Venue.Desk.Profile; !p.CanAnswer() {
		return nil, nil, fmt.Errorf("a %s can only be told: what it holds can't be read", p.Name)
	}
	if err := s.Desk.Identify(ctx); err != nil {
		return nil, nil, err
	}
	vigil := desk.KeepVigil(desk.VigilOptions{Least: s.LeastGap})
	defer vigil.End()
	values, missing, err := s.Desk.Read(ctx, parameters, func(done, of int) { s.progress.step("reading", done, of) })
	switch away := vigil.Err(); {
	case away != nil: // half of it is of another time
		return nil, nil, unreached{away}
	case err != nil:
		return nil, nil, unreached{err}
	case len(values) == 0 && len(missing) > 0:
		return nil, nil, fmt.Errorf("%w any more", desk.ErrSilent)
	}
	return values, missing, nil
}

func (a *app) sayReading(v *scenes.Venue, r *scenes.Reading, missing []profiles.Parameter, file string) {
	switch {
	case a.json:
		a.printJSON(readingJSON(v, r, missing, file))
	case file == "":
		_, _ = a.out.Write(r.Text(v.Desk.Profile))
	default:
		fmt.Fprintf(a.out, "%s of %s read into %s\n", count(len(r.Values), "setting"), r.Desk, file)
	}
	a.sayUnanswered(missing)
}

// sayUnanswered names what the desk did not answer for, a few by name.
func (a *app) sayUnanswered(missing []profiles.Parameter) {
	if len(missing) > 0 {
		a.complain(unanswered(missing))
	}
}

// unanswered is the error for settings that the desk says nothing about.
func unanswered(missing []profiles.Parameter) error {
	const named = 3
	var names []string
	for _, q := range missing[:min(len(missing), named)] {
		names = append(names, q.String())
	}
	more := ""
	if len(missing) > named {
		more = fmt.Sprintf(" and %d more", len(missing)-named)
	}
	return fmt.Errorf("%w for %s%s: try again, and if it stays so, hold the profile against the desk", desk.ErrSilent, strings.Join(names, ", "), more)
}
