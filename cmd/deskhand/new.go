package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"deskhand/testdata"

	"github.com/spf13/cobra"
)

func (a *app) newCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "new DIR",
		Short: "a new book, with the example in it",
		Long: `new makes a folder with the example book: a lecture series in a harbour town, with two
venues, four performers and two scenes, to try things on and to change into your own.
Its desks are mock desks, which deskhand mock starts on this machine.`,
		Args: arguments(1, 1),
	}
	c.RunE = func(_ *cobra.Command, words []string) error {
		if err := writeExample(words[0]); err != nil {
			return err
		}
		if a.json {
			a.printJSON(struct {
				Book string `json:"book"`
				Exit int    `json:"exit"`
			}{words[0], exitDone})
			return nil
		}
		fmt.Fprintf(a.out, `%s is a book now. Go there, and:
  git init && git add . && git commit -m "The book begins"
  deskhand mock                     a desk to rehearse on, in another terminal
  deskhand swap lectern botanist    the botanist on, confirmed
`, words[0])
		return nil
	}
	return c
}

// writeExample writes the example book into a folder that is new or empty.
func writeExample(dir string) error {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return fmt.Errorf("%s: %w", dir, causeOf(err))
	case len(entries) > 0:
		return fmt.Errorf("%s is not empty: nothing was written; name a new folder", dir)
	}
	if err := os.CopyFS(dir, testdata.Book()); err != nil {
		return fmt.Errorf("%s: the book was not written whole: %w", dir, causeOf(err))
	}
	return nil
}
