package scenes

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// maxFile bounds a file of the book. What people write by hand is far smaller.
const maxFile = 4 << 20

// Kind is what a file of the book describes; it is the folder that the file is in.
type Kind string

// The folders of a book.
const (
	Venues     Kind = "venues"
	Performers Kind = "performers"
	Scenes     Kind = "scenes"
	Profiles   Kind = "profiles"
	Readings   Kind = "readings"
)

// Kinds lists the folders of a book in the order in which they build on each other.
var kinds = []Kind{Profiles, Venues, Performers, Scenes, Readings}

// one is the word for one file of the kind.
func (k Kind) one() string { return strings.TrimSuffix(string(k), "s") }

// Book is a folder of files. It reads a file when it is asked for it and keeps
// nothing in memory, so that what it gives is what the folder holds.
type Book struct {
	// Dir is the folder, or "" for a book that is not a folder, as of a revision.
	Dir string
	// Revision is the git revision that the book is read at, "" for the folder.
	Revision string
	files    fs.FS
	venue    string // the usual one
}

// Settings is what book.toml says.
const settingsFile = "book.toml"

// ErrNoBook says that a folder, and those above it, hold no book.toml.
var ErrNoBook = errors.New("no book here")

// Open opens the book in a folder.
func Open(dir string) (*Book, error) {
	return open(&Book{Dir: dir, files: os.DirFS(dir)})
}

// OpenFS opens a book in a file system, such as one of a revision. Nothing can be
// written into it.
func OpenFS(files fs.FS, revision string) (*Book, error) {
	return open(&Book{Revision: revision, files: files})
}

// Find opens the book in a folder or in the nearest one above it.
func Find(dir string) (*Book, error) {
	at, err := filepath.Abs(dir)
	if err != nil {
		return nil, fmt.Errorf("book: %w", err)
	}
	for {
		if _, err := os.Stat(filepath.Join(at, settingsFile)); err == nil {
			return Open(at)
		}
		above := filepath.Dir(at)
		if above == at {
			return nil, fmt.Errorf("%w: neither %s nor a folder above it has a %s: go to a book, give --book DIR, or make one with deskhand new DIR",
				ErrNoBook, dir, settingsFile)
		}
		at = above
	}
}

func open(b *Book) (*Book, error) {
	d, err := b.parse(settingsFile)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("%w: %s has no %s: make a book with deskhand new DIR", ErrNoBook, b.where(), settingsFile)
		}
		return nil, err
	}
	root := d.Root()
	root.Text("title")
	b.venue, _ = root.Text("venue")
	return b, d.Faults().Err()
}

func (b *Book) where() string {
	if b.Dir == "" {
		return "revision " + b.Revision
	}
	return b.Dir
}

// UsualVenue is the venue that book.toml names, or the only one there is.
func (b *Book) UsualVenue() (string, error) {
	if b.venue != "" {
		return b.venue, nil
	}
	names := b.Names(Venues)
	if len(names) == 1 {
		return names[0], nil
	}
	return "", fmt.Errorf("which venue? give --venue NAME, or write venue = \"...\" in %s%s", settingsFile, source.DidYouMean("", names))
}

// Names lists the files of a kind by name, sorted.
func (b *Book) Names(kind Kind) []string {
	entries, err := fs.ReadDir(b.files, string(kind))
	if err != nil {
		return nil
	}
	var names []string
	for _, e := range entries {
		if name, ok := strings.CutSuffix(e.Name(), ".toml"); ok && !e.IsDir() && checkName(name) == nil {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

// File is the path of a file within the book, with slashes.
func File(kind Kind, name string) string { return path.Join(string(kind), name+".toml") }

// Path is where a file of the book is in the file system.
func (b *Book) Path(file string) string { return filepath.Join(b.Dir, filepath.FromSlash(file)) }

// checkName refuses names that would lead out of the book or could not be a file
// everywhere.
func checkName(name string) error {
	if name == "" || strings.HasPrefix(name, ".") || !fs.ValidPath(name) ||
		strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0x7f || strings.ContainsRune(`/\:*?"<>|`, r) }) {
		return fmt.Errorf("%q can't be the name of a file in the book: write letters, digits and hyphens", name)
	}
	return nil
}

// parse reads a file of the book as TOML. The error of a missing one is fs.ErrNotExist.
func (b *Book) parse(file string) (*source.Document, error) {
	text, err := b.read(file)
	if err != nil {
		return nil, err
	}
	return source.Parse(b.label(file), text)
}

// label is how messages call a file: its path in the book, with the revision.
func (b *Book) label(file string) string {
	if b.Revision != "" {
		return file + "@" + b.Revision
	}
	return file
}

func (b *Book) read(file string) ([]byte, error) {
	info, err := fs.Stat(b.files, file)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", b.label(file), err)
	}
	if info.Size() > maxFile || !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: this is no file that a person wrote: at most %d MiB are read", b.label(file), maxFile>>20)
	}
	text, err := fs.ReadFile(b.files, file)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", b.label(file), err)
	}
	return text, nil
}

// document reads a file of a kind, and says which names there are if it is missing.
func (b *Book) document(kind Kind, name string) (*source.Document, error) {
	if err := checkName(name); err != nil {
		return nil, err
	}
	d, err := b.parse(File(kind, name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no %s %q in the book%s", kind.one(), name, source.DidYouMean(name, b.Names(kind)))
	}
	return d, err
}

// Profile reads a desk profile: the book's own, or else the one shipped.
func (b *Book) Profile(name string) (*profiles.Profile, error) {
	if err := checkName(name); err != nil {
		return nil, err
	}
	file := File(Profiles, name)
	text, err := b.read(file)
	if errors.Is(err, fs.ErrNotExist) {
		if text, err = profiles.Shipped(name); err != nil {
			all := append(b.Names(Profiles), profiles.ShippedNames()...)
			return nil, fmt.Errorf("there is no desk profile %q, neither in the book nor shipped%s", name, source.DidYouMean(name, all))
		}
	}
	if err != nil {
		return nil, err
	}
	p, err := profiles.Load(b.label(file), text)
	if err != nil {
		return nil, err
	}
	if p.Name != name {
		return nil, source.Faults{{File: b.label(file), Line: 1, What: fmt.Sprintf("the profile calls itself %q: the file and its name must agree", p.Name)}}
	}
	return p, nil
}
