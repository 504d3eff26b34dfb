package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"deskhand/profiles/source"
	"deskhand/scenes"
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
		return fmt.Errorf("%s: %w", dir, source.Cause(err))
	case len(entries) > 0:
		return fmt.Errorf("%s is not empty: nothing was written; name a new folder", dir)
	}
	made, err := copyBook(dir, testdata.Book())
	if err == nil {
		return nil
	}
	for _, path := range slices.Backward(made) {
		_ = os.Remove(path) // what stays is told of by the next try
	}
	return fmt.Errorf("%s: no book was made: %w", dir, source.Cause(err))
}

// copyBook copies a book into a folder, book.toml last: without it, it is no book yet. It lists what it has made, also
// with an error.
func copyBook(dir string, book fs.FS) (made []string, err error) {
	for above := dir; ; above = filepath.Dir(above) {
		if _, err := os.Lstat(above); err == nil || above == filepath.Dir(above) {
			break
		}
		made = append([]string{above}, made...)
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return made, err
	}
	err = fs.WalkDir(book, ".", func(path string, e fs.DirEntry, err error) error {
		if err != nil || path == "." || path == scenes.SettingsFile {
			return err
		}
		return makeLike(book, dir, path, e.IsDir(), &made)
	})
	if err == nil {
		err = makeLike(book, dir, scenes.SettingsFile, false, &made)
	}
	return made, err
}

// makeLike makes one folder or file as a book has it, where there is none.
func makeLike(book fs.FS, dir, path string, isFolder bool, made *[]string) error {
	at := filepath.Join(dir, filepath.FromSlash(path))
	if isFolder {
		if err := os.Mkdir(at, 0o777); err != nil {
			return err
		}
		*made = append(*made, at)
		return nil
	}
	text, err := fs.ReadFile(book, path)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(at, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	*made = append(*made, at)
	_, err = f.Write(text)
	return errors.Join(err, f.Close())
}
