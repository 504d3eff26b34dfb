package main

import (
	"fmt"
	"slices"

	"deskhand/scenes"

	"github.com/spf13/cobra"
)

func (a *app) swapCommand() *cobra.Command {
	var scene string
	c := &cobra.Command{
		Use:   "swap POSITION PERFORMER",
		Short: "the next presenter on",
		Long: `swap puts a performer on a position: it reads the channel, shows what differs from
what the book says for this performer here, mutes the position, sets what differs,
reads all of it back, and opens the position again if it was open. What a hand has
moved since the last recall is told first and kept in a reading. What would get louder
than the venue's limits allow is refused.

The strip is built up from the position's own (the room), the performer's, and the
performer's for this venue; phantom power follows the microphone, and the gain is
carried over to the microphone and distance of the position.`,
		Example:           "  deskhand swap lectern botanist\n  deskhand swap lectern poet --dry-run\n  deskhand swap lectern poet --fade 2s",
		Args:              arguments(2, 2),
		ValidArgsFunction: a.completeSwap,
	}
	c.Flags().StringVar(&scene, "scene", "", "also apply what this scene `NAME` says of the position, and whether it is open")
	_ = c.RegisterFlagCompletionFunc("scene", a.completeScene)
	a.dryRun(c)
	a.allowRise(c)
	a.byHand(c)
	a.fades(c)
	c.RunE = func(c *cobra.Command, words []string) error {
		return a.swap(c, words[0], words[1], scene)
	}
	return c
}

func (a *app) swap(c *cobra.Command, position, performer, sceneName string) error {
	b, err := a.book()
	if err != nil {
		return err
	}
	scene, v, err := a.sceneAndVenue(b, sceneName)
	if err != nil {
		return err
	}
	if isTurned(b, v, position, performer) {
		return fmt.Errorf("%q is a performer and %q a position: write deskhand swap %s %s", position, performer, performer, position)
	}
	cast, err := b.CastFor(v, position, performer, scene)
	if err != nil {
		return err
	}
	resolved, err := v.Resolve(cast)
	if err != nil {
		return err
	}
	s, err := a.connect(c.Context(), b, v)
	if err != nil {
		return err
	}
	defer s.close()
	var fade scenes.Fade
	if scene != nil {
		fade = scene.Fade
	}
	return s.recall(c.Context(), aimAt(resolved).faded(a.fading(fade)))
}

// isTurned reports whether the two words of a swap can only be meant the other way round.
// The performers, of whom a book may have thousands, are listed only where that is likely.
func isTurned(b *scenes.Book, v *scenes.Venue, position, performer string) bool {
	positions := v.PositionNames()
	if slices.Contains(positions, position) || !slices.Contains(positions, performer) {
		return false
	}
	performers := b.Names(scenes.Performers)
	return slices.Contains(performers, position) && !slices.Contains(performers, performer)
}

// sceneAndVenue reads the scene that is named, if one is, and its venue, or else the
// venue that is meant.
func (a *app) sceneAndVenue(b *scenes.Book, name string) (*scenes.Scene, *scenes.Venue, error) {
	if name == "" {
		v, err := a.openVenue(b, "")
		return nil, v, err
	}
	scene, err := b.Scene(name)
	if err != nil {
		return nil, nil, err
	}
	if err := a.sameVenue(scene); err != nil {
		return nil, nil, err
	}
	v, err := a.openVenue(b, scene.Venue)
	return scene, v, err
}

// sameVenue refuses a scene of another venue than the flag says.
func (a *app) sameVenue(scene *scenes.Scene) error {
	if a.venue == "" || a.venue == scene.Venue {
		return nil
	}
	return fmt.Errorf("%s:%d: the scene is at %q, not at %q", scene.File, scene.Line, scene.Venue, a.venue)
}
