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
	"unicode"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Kind is what a file of the book describes; it is the folder that the file is in.
type Kind string

// The folders of a book.
const (
	Venues     Kind = "venues"
	Performers Kind = "performers"
	Scenes     Kind = "scenes"
	Profiles   Kind = "profiles"
	Readings   Kind = "readings"
	// RunningOrders are the scenes of an event, in order.
	RunningOrders Kind = "running-orders"
)

// kinds lists the folders of a book in the order in which they build on each other.
var kinds = []Kind{Profiles, Venues, Performers, Scenes, RunningOrders, Readings}

// one is the word for one file of the kind.
func (k Kind) one() string { return strings.ReplaceAll(strings.TrimSuffix(string(k), "s"), "-", " ") }

// Book is a folder of files. It reads a file when it is asked for it and keeps
// nothing of it, so that what it gives is what the folder holds.
type Book struct {
	// Dir is the folder, or "" for a book that is not a folder, as of a revision.
	Dir string
	// Revision is the git revision that the book is read at, "" for the folder.
	Revision string
	// Machine is a folder of this machine's, outside all books, where those lock a desk that
	// have it in common, as two clones of a book do; "" for none. It is made where it isn't
	// there, and where that can't be, only those who share the book are kept apart.
	Machine string
	// EQ is what book.toml says of fitting EQ to a desk.
	EQ EQSettings
	// Remote is what book.toml says of asking the agent over the network.
	Remote RemoteSettings
	files  fs.FS
	// venue is the usual one, which book.toml names on a line.
	venue     string
	venueLine int
	faults    source.Faults // of book.toml
	shelf     shelf
}

// SettingsFile is what makes a folder a book, and has what counts for all of it.
const SettingsFile = "book.toml"

// ErrNoBook says that a folder, and those above it, hold no book.toml.
var ErrNoBook = errors.New("no book here")

// Open opens the book in a folder. Where the error is [source.Faults], the book.toml
// has faults, and the book is given with them: Check can go on.
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
	above, isIn := bookAbove(at)
	if !isIn {
		return nil, fmt.Errorf("%w: neither %s nor a folder above it has a %s: go to a book, give --book DIR, or make one with deskhand new DIR",
			ErrNoBook, dir, SettingsFile)
	}
	return Open(above)
}

func open(b *Book) (*Book, error) {
	b.EQ = usualEQ
	d, err := b.parse(SettingsFile)
	switch {
	case errors.Is(err, fs.ErrNotExist) && b.Dir == "":
		return nil, fmt.Errorf("%w: revision %s has no %s", ErrNoBook, b.Revision, SettingsFile)
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%w: %s has no %s: make a book with deskhand new DIR", ErrNoBook, b.Dir, SettingsFile)
	case errors.As(err, &b.faults):
		return b, err
	case err != nil:
		return nil, err
	}
	root := d.Root()
	readLine(root, "title")
	b.venue, _ = root.Text("venue")
	b.venueLine = root.LineOf("venue")
	b.EQ.read(root)
	b.Remote.read(root)
	b.faults = d.Faults()
	return b, b.faults.Err()
}

// UsualVenue is the venue that book.toml names, or the only one there is.
func (b *Book) UsualVenue() (string, error) {
	names := b.Names(Venues)
	if len(names) == 0 {
		if err := b.Unlisted(Venues); err != nil {
			return "", err
		}
	}
	switch {
	case b.venue != "" && !slices.Contains(names, b.venue):
		return "", source.Faults{b.noUsualVenue()}
	case b.venue != "":
		return b.venue, nil
	case len(names) == 1:
		return names[0], nil
	case len(names) == 0:
		return "", fmt.Errorf("the book has no venue: write %s", File(Venues, "NAME"))
	}
	return "", fmt.Errorf(`which venue? give --venue NAME, or write venue = "..." in %s%s`, SettingsFile, source.DidYouMean("", names))
}

func (b *Book) noUsualVenue() *source.Fault {
	return &source.Fault{File: b.label(SettingsFile), Line: b.venueLine,
		What: b.noVenue(b.venue)}
}

// noVenue says that a name is no venue's, with the nearest that is.
func (b *Book) noVenue(name string) string {
	return fmt.Sprintf("there is no venue %q in the book%s", name, source.DidYouMean(name, b.Names(Venues)))
}

// Names lists the files of a kind by name, sorted.
func (b *Book) Names(kind Kind) []string {
	if names, ok := b.shelf.names[kind]; ok {
		return names
	}
	entries, err := fs.ReadDir(b.files, string(kind))
	if err != nil {
		return nil // no such folder; Check tells of one that can't be read
	}
	var names []string
	for _, e := range entries {
		if name, ok := strings.CutSuffix(e.Name(), ".toml"); ok && !e.IsDir() && checkName(name) == nil {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	names = slices.Clip(names) // who adds to them gets a copy
	if b.shelf.names != nil {
		b.shelf.names[kind] = names
	}
	return names
}

// has reports whether the book has a file, spelt exactly so.
func (b *Book) has(n Named) bool {
	_, found := slices.BinarySearch(b.Names(n.Kind), n.Name)
	return found
}

// File is the path of a file within the book, with slashes.
func File(kind Kind, name string) string { return path.Join(string(kind), name+".toml") }

// Path is where a file of the book is in the file system.
func (b *Book) Path(file string) string { return filepath.Join(b.Dir, filepath.FromSlash(file)) }

// checkName refuses names that would lead out of the book or could not be a file
// everywhere.
func checkName(name string) error {
	if name == "" || strings.HasPrefix(name, ".") || !fs.ValidPath(name) ||
		strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsPrint(r) || strings.ContainsRune(`/\:*?"<>|`, r) }) {
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

// read gives what a file holds. Only a plain file is opened, since to open a pipe
// could wait for ever.
func (b *Book) read(file string) ([]byte, error) {
	info, err := fs.Stat(b.files, file)
	if err != nil {
		return nil, b.unreadable(file, err)
	}
	if err := source.IsReadable(info, MaxFile); err != nil {
		return nil, fmt.Errorf("%s: %w", b.label(file), err)
	}
	f, err := b.files.Open(file)
	if err != nil {
		return nil, b.unreadable(file, err)
	}
	defer f.Close()
	text, err := source.ReadAll(f, info.Size(), MaxFile)
	if err != nil {
		return nil, b.unreadable(file, err)
	}
	return text, nil
}

// unreadable says why a file can't be read, and which: the path is said once. A link that leads
// nowhere is no missing file, in place of which another could be taken.
func (b *Book) unreadable(file string, err error) error {
	if _, noLink := fs.Lstat(b.files, file); errors.Is(err, fs.ErrNotExist) && noLink == nil {
		return fmt.Errorf("%s: this is a link that leads nowhere: mend it, or remove it", b.label(file))
	}
	return fmt.Errorf("%s: %w", b.label(file), source.Cause(err))
}

// Text gives what a file of the book holds, at most [MaxFile]. The error of a missing one is
// fs.ErrNotExist.
func (b *Book) Text(n Named) ([]byte, error) { return b.read(n.File()) }

// document reads a file of a kind, and says which names there are if it is missing.
func (b *Book) document(kind Kind, name string) (*source.Document, error) {
	if err := checkName(name); err != nil {
		return nil, err
	}
	d, err := b.parse(File(kind, name))
	return d, b.orMissing(kind, name, err)
}

// orMissing says which names there are where a file of a kind is missing.
func (b *Book) orMissing(kind Kind, name string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("there is no %s %q in the book%s", kind.one(), name, source.DidYouMean(name, b.Names(kind)))
	}
	return err
}

// Profile reads a desk profile: the book's own, or else the one shipped.
func (b *Book) Profile(name string) (*profiles.Profile, error) {
	return once(b.shelf.profiles, name, func() (*profiles.Profile, error) { return b.profile(name) })
}

func (b *Book) profile(name string) (*profiles.Profile, error) {
	file, text, err := b.profileText(name)
	if err != nil {
		return nil, err
	}
	p, err := profiles.Library(b.profileText).Load(file, text)
	if err != nil {
		return nil, err
	}
	if p.Name != name {
		return nil, source.Faults{{File: file, Line: 1, What: fmt.Sprintf("the profile calls itself %q: the file and its name must agree", p.Name)}}
	}
	return p, nil
}

// profileText is the library of the book: its own profiles, and those shipped.
func (b *Book) profileText(name string) (string, []byte, error) {
	if err := checkName(name); err != nil {
		return "", nil, err
	}
	file := File(Profiles, name)
	text, err := b.read(file)
	if errors.Is(err, fs.ErrNotExist) {
		if text, err = profiles.Shipped(name); err != nil {
			err = fmt.Errorf("there is no desk profile %q, neither in the book nor shipped%s", name, source.DidYouMean(name, b.profileNames()))
		}
	}
	return b.label(file), text, err
}

// profileNames lists the book's own profiles and those shipped.
func (b *Book) profileNames() []string {
	names := append(b.Names(Profiles), profiles.ShippedNames()...)
	slices.Sort(names)
	return slices.Compact(names)
}

// firstOf gives an error in one line, to be told within another: of several faults
// the first.
func firstOf(err error) string {
	var faults source.Faults
	if !errors.As(err, &faults) || len(faults) == 0 {
		return err.Error()
	}
	first := faults.Sorted()[0].Error()
	if len(faults) == 1 {
		return first
	}
	return fmt.Sprintf("%s (and %d more)", first, len(faults)-1)
}
