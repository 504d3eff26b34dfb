package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/source"
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
a reading: to a file with -o, else to standard output. It changes nothing. A reading
can be held against the desk later (diff), and sent back (send).`,
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
	values, missing, err := s.readDesk(c.Context(), parameters)
	if err != nil {
		return err
	}
	r := &scenes.Reading{Desk: s.Venue.Desk.Profile.Name, Taken: time.Now(), Values: values, On: s.Memory.On}
	s.progress.end()
	if file != "" {
		if err := a.writeReading(s.Venue.Desk.Profile, r, file); err != nil {
			return err
		}
	}
	a.sayReading(s.Venue.Desk.Profile, r, missing, file)
	if len(missing) > 0 {
		return ended{exitNoDesk}
	}
	return nil
}

// readDesk asks the desk who it is, then for parameters.
func (s *session) readDesk(ctx context.Context, parameters []profiles.Parameter) (scenes.Values, []profiles.Parameter, error) {
	if err := s.Desk.Identify(ctx); err != nil {
		return nil, nil, err
	}
	values, missing, err := s.Desk.Read(ctx, parameters, func(done, of int) { s.progress.step("reading", done, of) })
	switch {
	case err != nil:
		return nil, nil, fmt.Errorf("%w: %w", errDesk, err)
	case len(values) == 0 && len(missing) > 0:
		return nil, nil, desk.ErrSilent
	}
	return values, missing, nil
}

// writeReading writes a reading into a file that is new, or that holds an older one.
func (a *app) writeReading(p *profiles.Profile, r *scenes.Reading, file string) error {
	path := file
	if !filepath.IsAbs(path) {
		path = filepath.Join(a.dir, path)
	}
	old, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		old, err = nil, nil
	}
	if err == nil {
		err = source.Replace(path, old, r.Text(p))
	}
	if err != nil {
		return fmt.Errorf("the reading was not written: %w", err)
	}
	return nil
}

func (a *app) sayReading(p *profiles.Profile, r *scenes.Reading, missing []profiles.Parameter, file string) {
	switch {
	case a.json:
		a.printJSON(readingJSON(p, r, missing, file))
	case file == "":
		_, _ = a.out.Write(r.Text(p))
	default:
		fmt.Fprintf(a.out, "%d settings of %s read into %s\n", len(r.Values), r.Desk, file)
	}
	for _, q := range missing {
		fmt.Fprintf(a.err, "deskhand: the desk did not answer for %s\n", q)
	}
}
