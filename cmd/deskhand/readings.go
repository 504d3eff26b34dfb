package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"
)

// locate finds the file that a person means: one of the book, or a reading, which may
// lie anywhere. A reading is read; it is nil for every other file.
func (a *app) locate(b *scenes.Book, word string) (scenes.Named, *scenes.Reading, error) {
	n, err := b.Locate(a.dir, word)
	switch {
	case errors.Is(err, scenes.ErrNoFile) && isFile(a.path(word)):
		r, err := a.readingAt(b, word)
		return scenes.Named{Kind: scenes.Readings}, r, err
	case err != nil || n.Kind != scenes.Readings:
		return n, nil, err
	}
	r, err := b.Reading(n.Name)
	return n, r, err
}

// readingAt reads a reading that lies outside the book.
func (a *app) readingAt(b *scenes.Book, file string) (*scenes.Reading, error) {
	text, err := source.ReadFile(a.path(file), scenes.MaxFile)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return b.ParseReading(strings.TrimPrefix(filepath.ToSlash(file), "./"), text)
}

// venueOf opens the venue that is meant, which must have the desk that a reading is of.
func (a *app) venueOf(b *scenes.Book, r *scenes.Reading) (*scenes.Venue, error) {
	v, err := a.openVenue(b, "")
	if err != nil {
		return nil, err
	}
	return v, sameModel(v, r)
}

func sameModel(v *scenes.Venue, r *scenes.Reading) error {
	if r.Desk == v.Desk.Profile.Name {
		return nil
	}
	return fmt.Errorf("%s is a reading of a %s, and %s has a %s: give --venue NAME, or another reading", r.File, r.Desk, v.Name, v.Desk.Profile.Name)
}

// readingFile is a file that a reading will be written into: a new one, or one that
// holds an older reading.
type readingFile struct{ outFile }

// readingFile sees, before the desk is asked, that a reading can go into a file and
// that nothing else is lost by it. The book's folder of readings need not be there yet.
func (a *app) readingFile(b *scenes.Book, file string) (*readingFile, error) {
	path := a.path(file)
	folder := filepath.Dir(path)
	if folder == filepath.Dir(b.Path(scenes.File(scenes.Readings, "any"))) {
		if filepath.Ext(path) != ".toml" {
			return nil, fmt.Errorf("%s: a file of the book ends in .toml: write %s.toml", file, file)
		}
		if err := scenes.CheckPlace(path); err != nil {
			return nil, fmt.Errorf("%s %w", file, err)
		}
		if err := os.MkdirAll(folder, 0o777); err != nil {
			return nil, fmt.Errorf("%s: %w", file, source.Cause(err))
		}
	}
	out, err := a.outFile(file, file)
	if err != nil {
		return nil, err
	}
	if _, err := b.ParseReading(file, out.old); err != nil && len(out.old) > 0 {
		return nil, out.isAnother("reading")
	}
	return &readingFile{out}, nil
}

func (f *readingFile) write(p *profiles.Profile, r *scenes.Reading) error {
	return f.outFile.write(r.Text(p), "reading")
}
