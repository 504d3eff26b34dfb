package main

import (
	"errors"
	"fmt"
	"strings"

	"deskhand/scenes"
	"deskhand/scenes/recall"

	"github.com/spf13/cobra"
)

func (a *app) undoCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "undo",
		Short: "the desk as it was before the last recall",
		Long: `undo takes everything that the last recall changed back to what the desk held before,
in the same safe order, and says again who was on the position. Once more goes one
recall further back. It may get as loud again as the room had it. Where a hand has
moved something else since, so that it would get louder than that by more than the
venue's limit, it is refused. Where another deskhand recalls at that moment, nothing is
undone (exit 2): say it again if its recall is what you mean.`,
		Args:              noArguments,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	a.dryRun(c)
	a.allowRise(c)
	a.byHand(c)
	c.RunE = func(c *cobra.Command, _ []string) error { return a.undo(c) }
	return c
}

func (a *app) undo(c *cobra.Command) error {
	s, err := a.connectTo(c.Context(), "")
	if err != nil {
		return err
	}
	defer s.close()
	done := s.attempt(c.Context(), aim{}, s.PrepareUndo)
	if errors.Is(done.err, recall.ErrNoUndo) {
		return fmt.Errorf("there is nothing to undo at %s: no recall has changed anything yet", s.Venue.Name)
	}
	return a.sayRecalled(done)
}

// sayUndone says which recall is taken back: a note reads "before lectern: poet".
func sayUndone(before *scenes.Reading) string {
	what, ok := strings.CutPrefix(before.Note, "before ")
	if !ok {
		what = "the last recall"
	}
	return fmt.Sprintf("undoing %s (of %s)", what, before.Taken.Local().Format("2 January, 15:04:05"))
}
