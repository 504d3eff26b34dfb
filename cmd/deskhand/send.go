package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/recall"

	"github.com/spf13/cobra"
)

func (a *app) sendCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "send FILE",
		Short: "a scene or a reading to the desk",
		Long: `send takes the desk to what a file says: a scene (who is where), or a reading (what
a desk held at a time). Only what differs is sent, in a safe order, each channel muted
while it changes; then all of it is read back.`,
		Example:           "  deskhand send scenes/opening.toml\n  deskhand send readings/before-doors.toml --dry-run",
		Args:              arguments(1, 1),
		ValidArgsFunction: a.completeFiles(scenes.Scenes, scenes.Readings),
	}
	a.dryRun(c)
	c.RunE = func(c *cobra.Command, words []string) error { return a.send(c, words[0]) }
	return c
}

func (a *app) send(c *cobra.Command, file string) error {
	b, err := a.book()
	if err != nil {
		return err
	}
	n, err := b.Locate(a.dir, file)
	switch {
	case errors.Is(err, scenes.ErrNoFile) && isFile(filepath.Join(a.dir, file)):
		return a.sendReadingFile(c, b, file)
	case err != nil:
		return err
	case n.Kind == scenes.Scenes:
		return a.sendScene(c, b, n.Name)
	case n.Kind == scenes.Readings:
		r, err := b.Reading(n.Name)
		if err != nil {
			return err
		}
		return a.sendReading(c, b, r)
	}
	return fmt.Errorf("%s is no scene and no reading: a performer goes onto a position with deskhand swap POSITION PERFORMER", n.File())
}

func isFile(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular()
}

func (a *app) sendScene(c *cobra.Command, b *scenes.Book, name string) error {
	scene, err := b.Scene(name)
	if err != nil {
		return err
	}
	if a.venue != "" && a.venue != scene.Venue {
		return fmt.Errorf("%s:%d: the scene is at %q, not at %q", scene.File, scene.Line, scene.Venue, a.venue)
	}
	v, resolved, err := b.ResolveScene(scene)
	if err != nil {
		return err
	}
	if err := a.aim(v); err != nil {
		return err
	}
	var targets []recall.Target
	var warnings source.Faults
	var notes []string
	for _, r := range resolved {
		targets = append(targets, recall.ForPosition(r))
		warnings = append(warnings, r.Warnings...)
		notes = append(notes, leftOut(r)...)
	}
	s, err := a.connect(c.Context(), b, v)
	if err != nil {
		return err
	}
	defer s.close()
	return s.recall(c.Context(), targets, warnings, notes)
}

// sendReadingFile sends a reading that lies outside the book.
func (a *app) sendReadingFile(c *cobra.Command, b *scenes.Book, file string) error {
	r, err := a.readingFile(b, file)
	if err != nil {
		return err
	}
	return a.sendReading(c, b, r)
}

func (a *app) readingFile(b *scenes.Book, file string) (*scenes.Reading, error) {
	text, err := os.ReadFile(filepath.Join(a.dir, file))
	if err != nil {
		return nil, err
	}
	return b.ParseReading(strings.TrimPrefix(filepath.ToSlash(file), "./"), text)
}

func (a *app) sendReading(c *cobra.Command, b *scenes.Book, r *scenes.Reading) error {
	v, err := a.openVenue(b, "")
	if err != nil {
		return err
	}
	if r.Desk != v.Desk.Profile.Name {
		return fmt.Errorf("%s is a reading of a %s, and %s has a %s", r.File, r.Desk, v.Name, v.Desk.Profile.Name)
	}
	s, err := a.connect(c.Context(), b, v)
	if err != nil {
		return err
	}
	defer s.close()
	return s.recall(c.Context(), recall.ForReading(v, r), nil, nil)
}
