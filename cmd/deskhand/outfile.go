package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"deskhand/profiles/source"
)

// outFile is a file that something will be written into: a new one, or one that holds an
// older thing of the same sort.
type outFile struct {
	// said is what messages call it.
	said, path string
	old        []byte
}

// outFile sees, before any work is done for it, that a file can be written, and reads what
// is there: nil for a new one. Whether that may be lost is for the caller.
func (a *app) outFile(file, said string) (outFile, error) {
	f := outFile{said: said, path: a.path(file)}
	info, err := os.Stat(f.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if _, err := os.Stat(filepath.Dir(f.path)); err != nil {
			return f, fmt.Errorf("%s: there is no folder %s: make it, or name another file", said, filepath.Dir(file))
		}
		return f, nil
	case err != nil:
		return f, fmt.Errorf("%s: %w", said, causeOf(err))
	case !info.Mode().IsRegular():
		return f, fmt.Errorf("%s is no plain file: name another", said)
	}
	if f.old, err = os.ReadFile(f.path); err != nil {
		return f, fmt.Errorf("%s: %w", said, causeOf(err))
	}
	return f, nil
}

// isAnother is the error for a file that holds something else.
func (f outFile) isAnother(than string) error {
	return fmt.Errorf("%s is there already and is no %s: nothing was written; name another file", f.said, than)
}

// write puts a text in place, whole or not at all; what says what it is.
func (f outFile) write(text []byte, what string) error {
	if err := source.Replace(f.path, f.old, text); err != nil {
		return fmt.Errorf("%s: the %s was not written: %w", f.said, what, causeOf(err))
	}
	return nil
}
