package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

// deskWord stands for the desk where a file could be named.
const deskWord = "desk"

func (a *app) diffCommand() *cobra.Command {
	var position, plot string
	c := &cobra.Command{
		Use:   "diff A B",
		Short: "what differs between two files, two revisions, or a file and the desk",
		Long: `diff shows what differs, in the trade's units. A and B are each a file of the book, a
file at a revision that git knows (FILE@REVISION), or the word desk. Two performers
are compared as written; with --position, as they would be on that position. A scene
or a reading is compared on the desk's own steps, with --position for one channel.
A reading and the desk differ only in what both speak of.

--plot draws the curve of low cut and EQ before and after, for each strip where it differs.

Exit 0: no difference. Exit 1: differences.`,
		Example: `  deskhand diff performers/poet.toml performers/botanist.toml
  deskhand diff performers/poet.toml@HEAD~1 performers/poet.toml
  deskhand diff scenes/opening.toml desk
  deskhand diff desk performers/poet.toml --position lectern
  deskhand diff poet@HEAD poet --plot poet.svg`,
		Args:              arguments(2, 2),
		ValidArgsFunction: a.completeSides,
	}
	c.Flags().StringVar(&position, "position", "", "compare only this position `NAME`, performers as they would be there")
	_ = c.RegisterFlagCompletionFunc("position", a.completePosition)
	plotFlag(c, &plot, "draw the curves of low cut and EQ that differ")
	c.RunE = func(c *cobra.Command, words []string) error {
		into, err := a.pictureFile(c, plot)
		if err != nil {
			return err
		}
		return a.diff(c.Context(), words[0], words[1], position, into)
	}
	return c
}

// side is one side of a comparison.
type side struct {
	scenes.Statement
	kind scenes.Kind // "" for the desk
	// venue is whose desk the parameters are on; nil for a strip as it is written.
	venue *scenes.Venue
	// arrivals are how loud speech arrives at places where that is known, see
	// [scenes.Resolved].
	arrivals map[profiles.Place]*float64
}

// stripSide is the side of strips on a venue's desk.
func stripSide(v *scenes.Venue, resolved ...*scenes.Resolved) *side {
	s := &side{venue: v, arrivals: make(map[profiles.Place]*float64)}
	for _, r := range resolved {
		s.Entries = append(s.Entries, v.State(r)...)
		s.arrivals[r.Position.Place()] = r.Arrival
	}
	return s
}

func (a *app) diff(ctx context.Context, first, second, position string, into *pictureFile) error {
	if first == deskWord && second == deskWord {
		return errors.New("diff desk desk: one of the two must be a file")
	}
	b, err := a.book()
	if err != nil {
		return err
	}
	sides := make([]*side, 2)
	for i, word := range []string{first, second} {
		if word == deskWord {
			continue
		}
		if sides[i], err = a.fileSide(ctx, b, word, position); err != nil {
			return err
		}
	}
	for i := range sides {
		if sides[i] == nil {
			if sides[i], err = a.deskSide(ctx, b, sides[1-i]); err != nil {
				return err
			}
		}
	}
	changes, err := compare(sides[0], sides[1])
	if err != nil {
		return err
	}
	var panels []panel
	if into != nil {
		if panels, err = into.drawDifferences(sides[0], sides[1]); err != nil {
			return err
		}
	}
	code := exitDone
	if len(changes) > 0 {
		code = exitDiffers
	}
	if a.json {
		a.printJSON(jsonDiff{sides[0].Title, sides[1].Title, jsonChanges(changes), levelsJSON(sides[0], sides[1], changes), code})
	} else {
		a.sayDifferences(sides[0], sides[1], changes)
	}
	a.sayPicture(into, panels)
	if code != exitDone {
		return ended{code}
	}
	return nil
}

// fileSide reads FILE or FILE@REVISION.
func (a *app) fileSide(ctx context.Context, b *scenes.Book, word, position string) (*side, error) {
	file, revision, dated := strings.Cut(word, "@")
	if _, err := b.Locate(a.dir, word); err == nil || !dated { // a file's own name may have an @ in it
		n, r, err := a.locate(b, word)
		if err != nil {
			return nil, err
		}
		return a.namedSide(b, n, r, word, position)
	}
	then, err := b.At(ctx, revision)
	if err != nil {
		return nil, err
	}
	n, err := b.Locate(a.dir, file)
	if errors.Is(err, scenes.ErrNoFile) { // it may have been there then and be gone now
		n, err = then.Locate(a.dir, file)
	}
	if err != nil {
		return nil, err
	}
	var r *scenes.Reading
	if n.Kind == scenes.Readings {
		if r, err = then.Reading(n.Name); err != nil {
			return nil, err
		}
	}
	return a.namedSide(then, n, r, word, position)
}

func (a *app) namedSide(b *scenes.Book, n scenes.Named, r *scenes.Reading, word, position string) (*side, error) {
	s, err := a.sideOf(b, n, r, position)
	if err != nil {
		return nil, err
	}
	s.Title, s.kind = word, n.Kind
	if position == "" {
		return s, nil
	}
	return s, s.limitTo(position)
}

// limitTo leaves of a side what it says of one position.
func (s *side) limitTo(position string) error {
	if s.venue == nil {
		return fmt.Errorf("%s is compared as it is written, not on the desk: leave out --position", s.Title)
	}
	p, err := s.venue.Position(position)
	if err != nil {
		return err
	}
	s.Entries = slices.DeleteFunc(s.Entries, func(e scenes.Stated) bool { return e.Parameter.Place != p.Place() })
	return nil
}

func (a *app) sideOf(b *scenes.Book, n scenes.Named, r *scenes.Reading, position string) (*side, error) {
	switch n.Kind {
	case scenes.Performers:
		return a.performerSide(b, n.Name, position)
	case scenes.Venues:
		v, err := b.Venue(n.Name)
		if err != nil {
			return nil, err
		}
		return &side{Statement: scenes.Statement{Entries: b.StateVenue(v)}}, nil
	case scenes.Scenes:
		return a.sceneSide(b, n.Name)
	case scenes.Readings:
		return a.readingSide(b, r)
	case scenes.RunningOrders:
		return nil, fmt.Errorf("%s can't be compared: it has no settings of its own; compare its scenes, or give a performer, venue or reading", n.File())
	}
	return nil, fmt.Errorf("%s can't be compared: give a performer, scene, venue or reading", n.File())
}

func (a *app) performerSide(b *scenes.Book, name, position string) (*side, error) {
	if position == "" {
		p, err := b.Performer(name)
		if err != nil {
			return nil, err
		}
		return &side{Statement: scenes.Statement{Entries: b.State(p)}}, nil
	}
	v, err := a.openVenue(b, "")
	if err != nil {
		return nil, err
	}
	cast, err := b.CastFor(v, position, name, nil)
	if err != nil {
		return nil, err
	}
	r, err := v.Resolve(cast)
	if err != nil {
		return nil, err
	}
	return stripSide(v, r), nil
}

func (a *app) sceneSide(b *scenes.Book, name string) (*side, error) {
	scene, err := b.Scene(name)
	if err != nil {
		return nil, err
	}
	v, resolved, err := b.ResolveScene(scene)
	if err != nil {
		return nil, err
	}
	return stripSide(v, resolved...), nil
}

func (a *app) readingSide(b *scenes.Book, r *scenes.Reading) (*side, error) {
	v, err := a.venueOf(b, r)
	if err != nil {
		return nil, err
	}
	return &side{Statement: scenes.Statement{Partial: true, Entries: v.StateReading(r)}, venue: v}, nil
}

// deskSide reads from the desk what the other side speaks of.
func (a *app) deskSide(ctx context.Context, b *scenes.Book, other *side) (*side, error) {
	if other.venue == nil {
		return nil, fmt.Errorf("%s is on no channel yet: give --position NAME to hold it against the desk", other.Title)
	}
	if err := a.aim(other.venue); err != nil {
		return nil, err
	}
	s, err := a.connect(ctx, b, other.venue)
	if err != nil {
		return nil, err
	}
	defer s.close()
	var wanted []profiles.Parameter
	for _, e := range other.Entries {
		wanted = append(wanted, e.Parameter)
	}
	values, missing, err := s.readDesk(ctx, wanted)
	if err != nil {
		return nil, err
	}
	if len(missing) > 0 {
		return nil, unanswered(missing)
	}
	return &side{
		Statement: scenes.Statement{Title: deskWord, Partial: true, Entries: other.venue.StateValues(values)},
		venue:     other.venue,
	}, nil
}

// compare holds two sides against each other: on the desk's grid where they are on
// one, else as they are written.
func compare(x, y *side) ([]scenes.Change, error) {
	switch {
	case (x.venue == nil) != (y.venue == nil):
		return nil, fmt.Errorf("%s and %s can't be compared: one is on a desk, the other is a strip as it is written; give --position NAME", x.Title, y.Title)
	case x.venue == nil && x.kind != y.kind:
		return nil, fmt.Errorf("%s and %s can't be compared: one is of %s, the other of %s", x.Title, y.Title, x.kind, y.kind)
	case x.venue == nil:
		return scenes.Differences(x.Statement, y.Statement, func(_ profiles.Parameter, v, w profiles.Value) bool { return v == w }), nil
	case x.venue.Desk.Profile.Name != y.venue.Desk.Profile.Name:
		return nil, fmt.Errorf("%s is for a %s and %s for a %s: two desks can't be compared setting by setting", x.Title, x.venue.Desk.Profile.Name, y.Title, y.venue.Desk.Profile.Name)
	}
	changes := scenes.Differences(x.Statement, y.Statement, x.venue.Same)
	x.venue.InDeskOrder(changes)
	return changes, nil
}
