package scenes

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"deskhand/profiles/source"
)

// MaxFile bounds a file of the book, and a reading wherever it lies, in bytes. What people write by hand is far
// smaller.
const MaxFile = 4 << 20

// ErrOutside says that a path in the book leads out of it over a link.
var ErrOutside = errors.New("leads out of the book")

// place is where a file of the book is written: a book that came from somebody else may have links. One that
// stays in the book is followed; one that leads out is read, but nothing is written, made or removed there.
func (b *Book) place(file string) (at string, err error) {
	at, _, err = b.follow(file)
	return at, err
}

// follow gives the place of a file, and the path in the book that its links lead to.
func (b *Book) follow(file string) (at, within string, err error) {
	if at, within, err = placeIn(b.Dir, b.Path(file)); err != nil {
		return "", "", fmt.Errorf("%s %w", file, err)
	}
	return at, within, nil
}

// own is where a file of the tool's own is, which it writes without looking at what is in it: no link leads to it,
// not even to another file of the book.
func (b *Book) own(file string) (string, error) {
	at, within, err := b.follow(file)
	if err != nil {
		return "", err
	}
	if !strings.EqualFold(within, file) {
		return "", fmt.Errorf("%s is reached over a link, to %s, and nothing is written there: remove the link", file, at)
	}
	return at, nil
}

// ownFolder is where a folder of the tool's own is, made where it isn't there yet.
func (b *Book) ownFolder(dir string) (string, error) {
	at, err := b.own(dir)
	if err != nil {
		return "", err
	}
	if err := os.MkdirAll(at, 0o777); err != nil {
		return "", fmt.Errorf("%s can't be made: %w", dir, source.Cause(err))
	}
	return at, nil
}

// placeIn follows the links of a path under a folder, and gives what it leads to: as a whole path, and within the
// folder. What isn't there yet is taken as it is.
func placeIn(dir, path string) (at, within string, err error) {
	root, err := filepath.EvalSymlinks(dir)
	if err != nil {
		return "", "", fmt.Errorf("can't be written: %w", source.Cause(err))
	}
	there, rest := path, ""
	for {
		if _, err = os.Lstat(there); err == nil || !errors.Is(err, fs.ErrNotExist) || there == filepath.Dir(there) {
			break
		}
		there, rest = filepath.Dir(there), filepath.Join(filepath.Base(there), rest)
	}
	at, err = filepath.EvalSymlinks(there)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "", "", errors.New("can't be written: there is a link that leads nowhere: mend it, or remove it")
	case err != nil:
		return "", "", fmt.Errorf("can't be written: %w", source.Cause(err))
	}
	at = filepath.Join(at, rest)
	within, isIn := inside(root, at)
	if !isIn {
		return "", "", fmt.Errorf("%w, to %s, and nothing is written there: put a file or a folder of its own in place of the link", ErrOutside, at)
	}
	return at, within, nil
}

// CheckPlace is nil for a path that a person wants something written to, unless it lies in a book and leads out
// of it: then the error is [ErrOutside].
func CheckPlace(path string) error {
	path, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	dir, isIn := bookAbove(filepath.Dir(path))
	if !isIn {
		return nil
	}
	_, _, err = placeIn(dir, path)
	return err
}

// bookAbove gives the nearest folder with a book.toml: this one, or one above it.
func bookAbove(at string) (string, bool) {
	for {
		if _, err := os.Stat(filepath.Join(at, SettingsFile)); err == nil {
			return at, true
		}
		above := filepath.Dir(at)
		if above == at {
			return "", false
		}
		at = above
	}
}
