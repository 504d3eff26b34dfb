package scenes

import (
	"maps"
	"path"

	"deskhand/profiles"
)

// shelf holds what has been read already, for going through a whole book: each venue
// and profile is then read once, however many files speak of it. The zero shelf holds
// nothing and reads everything anew.
type shelf struct {
	names    map[Kind][]string
	profiles map[string]outcome[*profiles.Profile]
	venues   map[string]outcome[*Venue]
	mixes    map[string]outcome[[]string]
	words    *vocabulary
}

type outcome[T any] struct {
	value T
	err   error
}

// once gives what is on the shelf under a key, and puts it there if there is a shelf.
func once[K comparable, T any](on map[K]outcome[T], key K, read func() (T, error)) (T, error) {
	if o, ok := on[key]; ok {
		return o.value, o.err
	}
	v, err := read()
	if on != nil {
		on[key] = outcome[T]{v, err}
	}
	return v, err
}

// OnShelf gives the same book, which reads each venue and profile once. It is for one
// goroutine; what changes in the folder it sees only after [Book.After].
func (b *Book) OnShelf() *Book { return b.onShelf() }

// After gives the book on a shelf as it is after some of its files have changed. What
// venues and profiles say is read again only if one of those did.
func (b *Book) After(files []string) *Book {
	for _, file := range files {
		if dir := path.Dir(file); dir == "." || dir == string(Venues) || dir == string(Profiles) {
			fresh := *b
			fresh.shelf = shelf{}
			return fresh.onShelf()
		}
	}
	kept := *b
	kept.shelf.names = make(map[Kind][]string)
	return &kept
}

// another gives the same book on a shelf of its own, with all that is on this one: for another goroutine. What lies there
// changes no more.
func (b *Book) another() *Book {
	other := *b
	other.shelf = shelf{
		names:    maps.Clone(b.shelf.names),
		profiles: maps.Clone(b.shelf.profiles),
		venues:   maps.Clone(b.shelf.venues),
		mixes:    maps.Clone(b.shelf.mixes),
	}
	other.shelf.words = other.words()
	return &other
}

// onShelf gives the same book, which from now on reads each file once. It is for one
// goroutine, and for a moment only: it does not see what changes in the folder.
func (b *Book) onShelf() *Book {
	kept := *b
	kept.shelf = shelf{
		names:    make(map[Kind][]string),
		profiles: make(map[string]outcome[*profiles.Profile]),
		venues:   make(map[string]outcome[*Venue]),
		mixes:    make(map[string]outcome[[]string]),
	}
	kept.shelf.words = kept.words()
	return &kept
}
