package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"deskhand/profiles/source"
	"deskhand/scenes"
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
	if err := scenes.CheckPlace(f.path); err != nil {
		return f, fmt.Errorf("%s %w", said, err)
	}
	old, err := source.ReadFile(f.path, mostReplaced)
	var large *source.TooLarge
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return f, f.canBeMade(file)
	case errors.Is(err, source.ErrNotPlain):
		return f, fmt.Errorf("%s is no plain file: name another", said)
	case errors.As(err, &large):
		return f, fmt.Errorf("%s is there already and has %s: nothing was written; name another file", said, source.Bytes(large.Size))
	case err != nil:
		return f, fmt.Errorf("%s: %w", said, err)
	}
	f.old = old
	return f, nil
}

// mostReplaced bounds what is written over, in bytes, well above the largest picture.
const mostReplaced = 64 << 20

// canBeMade sees that there is a folder for a new file, and that files can be made in it.
func (f outFile) canBeMade(file string) error {
	dir := filepath.Dir(f.path)
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return fmt.Errorf("%s: there is no folder %s: make it, or name another file", f.said, filepath.Dir(file))
	}
	if _, err := os.Lstat(f.path); err == nil {
		return fmt.Errorf("%s is a link that leads nowhere: remove it, or name another file", f.said)
	}
	trial, err := os.CreateTemp(dir, ".deskhand-*")
	if err != nil {
		return fmt.Errorf("%s can't be written: %w", f.said, source.Cause(err))
	}
	return errors.Join(trial.Close(), os.Remove(trial.Name()))
}

// isAnother is the error for a file that holds something else.
func (f outFile) isAnother(than string) error {
	return fmt.Errorf("%s is there already and is no %s: nothing was written; name another file", f.said, than)
}

// write puts a text in place, whole or not at all; what says what it is.
func (f outFile) write(text []byte, what string) error {
	if err := source.Replace(f.path, f.old, text); err != nil {
		return fmt.Errorf("%s: the %s was not written: %w", f.said, what, err)
	}
	return nil
}
