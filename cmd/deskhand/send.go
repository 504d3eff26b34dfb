package main

import (
	"fmt"

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
	a.allowRise(c)
	a.byHand(c)
	a.fades(c)
	c.RunE = func(c *cobra.Command, words []string) error { return a.send(c, words[0]) }
	return c
}

func (a *app) send(c *cobra.Command, file string) error {
	b, err := a.book()
	if err != nil {
		return err
	}
	n, r, err := a.locate(b, file)
	switch {
	case err != nil:
		return err
	case r != nil:
		return a.sendReading(c, b, r)
	case n.Kind == scenes.Scenes:
		return a.sendScene(c, b, n.Name)
	}
	return fmt.Errorf("%s is no scene and no reading: a performer goes onto a position with deskhand swap POSITION PERFORMER", n.File())
}

func (a *app) sendScene(c *cobra.Command, b *scenes.Book, name string) error {
	scene, err := b.Scene(name)
	if err != nil {
		return err
	}
	if err := a.sameVenue(scene); err != nil {
		return err
	}
	v, resolved, err := b.ResolveScene(scene)
	if err != nil {
		return err
	}
	if err := a.aim(v); err != nil {
		return err
	}
	s, err := a.connect(c.Context(), b, v)
	if err != nil {
		return err
	}
	defer s.close()
	return s.recall(c.Context(), aimAt(resolved...).faded(a.fading(scene.Fade)))
}

func (a *app) sendReading(c *cobra.Command, b *scenes.Book, r *scenes.Reading) error {
	v, err := a.venueOf(b, r)
	if err != nil {
		return err
	}
	s, err := a.connect(c.Context(), b, v)
	if err != nil {
		return err
	}
	defer s.close()
	return s.recall(c.Context(), aim{targets: recall.ForReading(v, r)}.faded(a.fading(scenes.Fade{})))
}
