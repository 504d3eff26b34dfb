package main

import (
	"fmt"
	"slices"

	"deskhand/profiles/source"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

func (a *app) showCommand() *cobra.Command {
	var position string
	c := &cobra.Command{
		Use:   "show FILE",
		Short: "a performer, scene or venue, resolved; where each value comes from",
		Long: `show builds up what a file means on the desk of the venue, and says for each value the
file and line that it comes from. A performer is shown as they would be on each
position of the venue; --position limits it to one.

Where the files say enough, it adds at which level the performer's voice arrives at the
desk's converter; and for a venue, with one microphone open, and for a scene, with those
that it opens, how far the room is from feedback: a free-field estimate.`,
		Example:           "  deskhand show performers/botanist.toml --position lectern\n  deskhand show scenes/opening.toml\n  deskhand show net-loft",
		Args:              arguments(1, 1),
		ValidArgsFunction: a.completeFiles(scenes.Performers, scenes.Scenes, scenes.Venues),
	}
	c.Flags().StringVar(&position, "position", "", "show this position `NAME` only")
	_ = c.RegisterFlagCompletionFunc("position", a.completePosition)
	c.RunE = func(_ *cobra.Command, words []string) error { return a.show(words[0], position) }
	return c
}

func (a *app) show(file, position string) error {
	b, err := a.book()
	if err != nil {
		return err
	}
	n, err := b.Locate(a.dir, file)
	if err != nil {
		return err
	}
	switch n.Kind {
	case scenes.Performers:
		return a.showPerformer(b, n.Name, position)
	case scenes.Scenes:
		return a.showScene(b, n.Name, position)
	case scenes.Venues:
		return a.showVenue(b, n.Name, position)
	}
	return fmt.Errorf("%s can't be shown: give a performer, a scene or a venue", n.File())
}

func (a *app) showPerformer(b *scenes.Book, name, position string) error {
	v, err := a.openVenue(b, "")
	if err != nil {
		return err
	}
	positions := v.PositionNames()
	if position != "" {
		positions = []string{position}
	}
	resolved, err := resolveEach(b, v, positions, name)
	if err != nil {
		return err
	}
	a.sayResolved(v, resolved, 0)
	return nil
}

func (a *app) showScene(b *scenes.Book, name, position string) error {
	s, err := b.Scene(name)
	if err != nil {
		return err
	}
	v, resolved, err := b.ResolveScene(s)
	if err != nil {
		return err
	}
	open := scenes.OpenMicrophones(resolved)
	if position != "" {
		if s.On(position) == nil {
			return fmt.Errorf("%s has nothing at position %q%s", s.File, position, source.DidYouMean(position, positionsOf(resolved)))
		}
		resolved = slices.DeleteFunc(resolved, func(r *scenes.Resolved) bool { return r.Position.Name != position })
	}
	a.sayResolved(v, resolved, open)
	return nil
}

func positionsOf(resolved []*scenes.Resolved) []string {
	names := make([]string, len(resolved))
	for i, r := range resolved {
		names[i] = r.Position.Name
	}
	return names
}

func (a *app) showVenue(b *scenes.Book, name, position string) error {
	v, err := b.Venue(name)
	if err != nil {
		return err
	}
	if err := a.aim(v); err != nil {
		return err
	}
	positions := v.PositionNames()
	if position != "" {
		positions = []string{position}
	}
	resolved, err := resolveEach(b, v, positions, "")
	if err != nil {
		return err
	}
	if !a.json && position == "" {
		a.sayVenue(v)
	}
	a.sayResolved(v, resolved, 1)
	return nil
}

// resolveEach builds the strips of some positions, each with the same performer, or
// with nobody.
func resolveEach(b *scenes.Book, v *scenes.Venue, positions []string, performer string) ([]*scenes.Resolved, error) {
	var all []*scenes.Resolved
	for _, position := range positions {
		cast, err := b.CastFor(v, position, performer, nil)
		if err != nil {
			return nil, err
		}
		r, err := v.Resolve(cast)
		if err != nil {
			return nil, err
		}
		all = append(all, r)
	}
	return all, nil
}
