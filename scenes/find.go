package scenes

import (
	"errors"
	"fmt"
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
	var all []string
	for _, kind := range kinds {
		for _, name := range b.Names(kind) {
			n := Named{kind, name}
			if name == strings.TrimSuffix(what, ".toml") {
				found = append(found, n)
			}
			all = append(all, n.File(), name)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return Named{}, fmt.Errorf("%w: %q%s", ErrNoFile, what, source.DidYouMean(what, all))
	}
	return Named{}, fmt.Errorf("%q could be %s or %s: write which", what, found[0].File(), found[1].File())
}

// within gives a path as seen from a folder as a path in the book.
func (b *Book) within(from, what string) string {
	if b.Dir == "" {
		return ""
	}
	if !filepath.IsAbs(what) {
		what = filepath.Join(from, what)
	}
	dir, err := filepath.Abs(b.Dir)
	if err != nil {
		return ""
	}
	relative, err := filepath.Rel(dir, what)
	if err != nil {
		return ""
	}
	return filepath.ToSlash(relative)
}

// split takes a path in the book apart.
func split(file string) (Named, bool) {
	dir, base := path.Split(path.Clean(file))
	n := Named{Kind(strings.TrimSuffix(dir, "/")), strings.TrimSuffix(base, ".toml")}
	return n, slices.Contains(kinds, n.Kind) && checkName(n.Name) == nil
}

func (b *Book) has(n Named) bool { return slices.Contains(b.Names(n.Kind), n.Name) }
