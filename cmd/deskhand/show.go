package main

import (
	"fmt"
	"slices"

	"deskhand/profiles/source"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

func (a *app) showCommand() *cobra.Command {
	var position, plot string
	c := &cobra.Command{
		Use:   "show FILE",
		Short: "a performer, scene, venue or running order, resolved; where each value comes from",
		Long: `show builds up what a file means on the desk of the venue, and says for each value the
file and line that it comes from. A performer is shown as they would be on each
position of the venue; --position limits it to one. A running order is shown scene by
scene: who is where, open or muted, and what stays as it was before.

On a terminal it shows the curve of low cut and EQ, too. --plot draws it: the whole
strip, each band, and where the EQ had to be fitted to this desk what was asked for;
positions below each other.

Where the files say enough, it adds at which level the performer's voice arrives at the
desk's converter; and for a venue, with one microphone open, and for a scene, with those
that it opens, how far the room is from feedback: a free-field estimate.`,
		Example:           "  deskhand show performers/botanist.toml --position lectern\n  deskhand show scenes/opening.toml\n  deskhand show net-loft\n  deskhand show winter-talks\n  deskhand show poet --position lectern --plot poet.svg",
		Args:              arguments(1, 1),
		ValidArgsFunction: a.completeFiles(scenes.Performers, scenes.Scenes, scenes.Venues, scenes.RunningOrders),
	}
	c.Flags().StringVar(&position, "position", "", "show this position `NAME` only")
	_ = c.RegisterFlagCompletionFunc("position", a.completePosition)
	plotFlag(c, &plot, "draw the curves of low cut and EQ")
	c.RunE = func(c *cobra.Command, words []string) error {
		into, err := a.pictureFile(c, plot)
		if err != nil {
			return err
		}
		return a.show(words[0], position, into)
	}
	return c
}

// exhibit is what a file means, strip by strip.
type exhibit struct {
	venue  *scenes.Venue
	strips []*scenes.Resolved
	// open is with how many open microphones the way to feedback is told, 0 for not at all.
	open int
	// fade is how a scene fades.
	fade scenes.Fade
}

// show resolves a file, draws it if into is a file, and prints it.
func (a *app) show(file, position string, into *pictureFile) error {
	b, err := a.book()
	if err != nil {
		return err
	}
	n, err := b.Locate(a.dir, file)
	if err != nil {
		return err
	}
	if n.Kind == scenes.RunningOrders {
		return a.showOrder(b, n.Name, position, into)
	}
	s, err := a.resolveFile(b, n, position)
	if err != nil {
		return err
	}
	var panels []panel
	if into != nil {
		if panels = stripPanels(s.venue, s.strips); len(panels) == 0 {
			return fmt.Errorf("%s: nothing was drawn: %s sets no low cut and no EQ there", into.said, n.File())
		}
		if err := into.draw(panels); err != nil {
			return err
		}
	}
	if n.Kind == scenes.Venues && !a.json && position == "" {
		a.sayVenue(s.venue)
	}
	a.sayResolved(s)
	a.sayPicture(into, panels)
	return nil
}

// resolveFile builds the strips that a file means, or that of one position.
func (a *app) resolveFile(b *scenes.Book, n scenes.Named, position string) (exhibit, error) {
	switch n.Kind {
	case scenes.Performers:
		return a.resolvePerformer(b, n.Name, position)
	case scenes.Scenes:
		return a.resolveScene(b, n.Name, position)
	case scenes.Venues:
		return a.resolveVenue(b, n.Name, position)
	}
	return exhibit{}, fmt.Errorf("%s can't be shown: give a performer, a scene, a venue or a running order", n.File())
}

func (a *app) resolvePerformer(b *scenes.Book, name, position string) (exhibit, error) {
	v, err := a.openVenue(b, "")
	if err != nil {
		return exhibit{}, err
	}
	resolved, err := resolveEach(b, v, positionsFor(v, position), name)
	return exhibit{venue: v, strips: resolved}, err
}

func (a *app) resolveScene(b *scenes.Book, name, position string) (exhibit, error) {
	s, err := b.Scene(name)
	if err != nil {
		return exhibit{}, err
	}
	v, resolved, err := b.ResolveScene(s)
	if err != nil {
		return exhibit{}, err
	}
	all := exhibit{v, resolved, scenes.OpenMicrophones(resolved), s.Fade}
	if position != "" {
		if s.On(position) == nil {
			return exhibit{}, fmt.Errorf("%s has nothing at position %q%s", s.File, position, source.DidYouMean(position, positionsOf(resolved)))
		}
		all.strips = slices.DeleteFunc(resolved, func(r *scenes.Resolved) bool { return r.Position.Name != position })
	}
	return all, nil
}

func (a *app) resolveVenue(b *scenes.Book, name, position string) (exhibit, error) {
	v, err := b.Venue(name)
	if err != nil {
		return exhibit{}, err
	}
	if err := a.aim(v); err != nil {
		return exhibit{}, err
	}
	resolved, err := resolveEach(b, v, positionsFor(v, position), "")
	return exhibit{venue: v, strips: resolved, open: 1}, err
}

// positionsFor is the position that is asked for, or all of the venue's.
func positionsFor(v *scenes.Venue, position string) []string {
	if position != "" {
		return []string{position}
	}
	return v.PositionNames()
}

func positionsOf(resolved []*scenes.Resolved) []string {
	names := make([]string, len(resolved))
	for i, r := range resolved {
		names[i] = r.Position.Name
	}
	return names
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
