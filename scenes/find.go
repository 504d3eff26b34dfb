package scenes

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"deskhand/profiles/source"
)

// ErrNoFile says that the book has no such file.
var ErrNoFile = errors.New("no such file in the book")

// Named is a file of the book: its kind and its name.
type Named struct {
	Kind Kind
	Name string
}

// File is the path within the book, such as "scenes/opening.toml".
func (n Named) File() string { return File(n.Kind, n.Name) }

// Locate finds the file of the book that a person means: by its path as seen from
// the folder from, by its path in the book, or by its bare name where only one
// folder has it. The ending .toml may be left out.
func (b *Book) Locate(from, what string) (Named, error) {
	for _, candidate := range []string{b.within(from, what), filepath.ToSlash(what)} {
		if n, ok := split(candidate); ok && b.has(n) {
			return n, nil
		}
	}
	var found []Named
	var all, bare []string
	for _, kind := range kinds {
		for _, name := range b.Names(kind) {
			n := Named{kind, name}
			if name == strings.TrimSuffix(what, ".toml") {
				found = append(found, n)
			}
			all = append(all, n.File())
			bare = append(bare, name)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		if err := b.Unlisted(kinds...); err != nil {
			return Named{}, err
		}
		return Named{}, fmt.Errorf("%w: %q%s", ErrNoFile, what, source.DidYouMean(what, append(all, bare...)))
	}
	return Named{}, fmt.Errorf("%q could be %s or %s: write which", what, found[0].File(), found[1].File())
}

// Unlisted is why the folder of a kind can't be listed, so that files in it look as if they weren't there. A folder
// that isn't there is no trouble.
func (b *Book) Unlisted(kinds ...Kind) error {
	for _, kind := range kinds {
		if _, err := fs.ReadDir(b.files, string(kind)); err != nil {
			if err = b.unreadable(string(kind), err); !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
	}
	return nil
}

// within gives a path as seen from a folder as a path in the book, or "" for one
// that is not in it. Links on the way are followed where it takes that.
func (b *Book) within(from, what string) string {
	if b.Dir == "" {
		return ""
	}
	if !filepath.IsAbs(what) {
		what = filepath.Join(from, what)
	}
	if inside, ok := inside(b.Dir, what); ok {
		return inside
	}
	dir, errDir := filepath.EvalSymlinks(b.Dir)
	folder, errFolder := filepath.EvalSymlinks(filepath.Dir(what))
	if errDir != nil || errFolder != nil {
		return ""
	}
	path, _ := inside(dir, filepath.Join(folder, filepath.Base(what)))
	return path
}

// inside gives a path relative to a folder that it is in, with slashes.
func inside(dir, path string) (string, bool) {
	dir, errDir := filepath.Abs(dir)
	path, errPath := filepath.Abs(path)
	relative, err := filepath.Rel(dir, path)
	ok := errDir == nil && errPath == nil && err == nil && filepath.IsLocal(relative)
	return filepath.ToSlash(relative), ok
}

// split takes a path in the book apart.
func split(file string) (Named, bool) {
	dir, base := path.Split(path.Clean(file))
	n := Named{Kind(strings.TrimSuffix(dir, "/")), strings.TrimSuffix(base, ".toml")}
	return n, slices.Contains(kinds, n.Kind) && checkName(n.Name) == nil
}
