package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

// book opens the book that is meant, and sees that it has the venue that is asked for.
func (a *app) book() (*scenes.Book, error) {
	b, err := a.openBook()
	if err != nil || a.venue == "" || slices.Contains(b.Names(scenes.Venues), a.venue) {
		return b, err
	}
	if err := b.Unlisted(scenes.Venues); err != nil {
		return nil, err
	}
	return nil, fmt.Errorf("there is no venue %q in the book%s", a.venue, source.DidYouMean(a.venue, b.Names(scenes.Venues)))
}

func (a *app) openBook() (*scenes.Book, error) {
	b, err := a.findBook()
	if err != nil {
		return nil, err
	}
	b.Machine = machineLocks()
	return b, nil
}

func (a *app) findBook() (*scenes.Book, error) {
	switch {
	case a.bookDir == "":
		return scenes.Find(a.dir)
	case isFile(a.path(a.bookDir)):
		return nil, fmt.Errorf("--book %s: that is a file: name the folder that it is in", a.bookDir)
	}
	return scenes.Open(a.path(a.bookDir))
}

// machineLocks is where books that have a desk in common lock it: with what this user keeps
// on this machine, and may lose. A system without such a place has none.
func machineLocks() string {
	cache, err := os.UserCacheDir()
	if err != nil {
		return ""
	}
	return filepath.Join(cache, "deskhand", "locks")
}

// path is a path that the user gave, as seen from where the program was started.
func (a *app) path(given string) string {
	if filepath.IsAbs(given) {
		return given
	}
	return filepath.Join(a.dir, given)
}

func isFile(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular()
}

// openVenue reads the venue that is meant, with the desk's address as the flag has it.
func (a *app) openVenue(b *scenes.Book, name string) (*scenes.Venue, error) {
	if a.venue != "" {
		name = a.venue
	}
	if name == "" {
		var err error
		if name, err = b.UsualVenue(); err != nil {
			return nil, err
		}
	}
	v, err := b.Venue(name)
	if err != nil {
		return nil, err
	}
	return v, a.aim(v)
}

// aim points a venue at the desk that the flag names, if it names one.
func (a *app) aim(v *scenes.Venue) (err error) {
	if a.desk != "" {
		v.Desk.Address, err = v.Desk.Profile.AddressOf(a.desk)
	}
	return err
}

// bookAndVenue opens the book and the venue that are meant; name is the venue's where the flag
// says none, "" for the usual one.
func (a *app) bookAndVenue(name string) (*scenes.Book, *scenes.Venue, error) {
	b, err := a.book()
	if err != nil {
		return nil, nil, err
	}
	v, err := a.openVenue(b, name)
	return b, v, err
}

// session is a venue with its desk connected.
type session struct {
	*recall.Recaller
	app      *app
	progress *progress
}

// lookUpWithin is how long the name of a desk's host may take to look up.
const lookUpWithin = 2500 * time.Millisecond

// connect opens the link to a venue's desk. Whether it is there shows later.
func (a *app) connect(ctx context.Context, b *scenes.Book, v *scenes.Venue) (*session, error) {
	memory, err := b.Memory(v)
	if err != nil {
		return nil, err
	}
	looking, cancel := context.WithTimeout(ctx, lookUpWithin)
	defer cancel()
	d, err := desk.Open(looking, v.Desk.Profile, v.Desk.Address, desk.Options{Listen: v.Desk.Listen})
	if err != nil {
		return nil, unreached{err}
	}
	s := &session{app: a, progress: newProgress(a.given.err)}
	s.Recaller = &recall.Recaller{
		Book: b, Venue: v, Memory: memory, Desk: d,
		Progress: s.progress.step, Rehearse: a.rehearse, AllowRise: a.rise,
		Command: a.typed,
	}
	s.Waiting = func(holder scenes.Holder) {
		s.progress.end()
		fmt.Fprintf(a.err, "waiting for %s, which is at this desk\n", holder)
	}
	s.Warn = func(err error) {
		s.progress.end()
		fmt.Fprintf(a.err, "note: %v\n", err)
	}
	s.Hand = func(ctx context.Context, changes []scenes.Change) (bool, error) {
		s.progress.end()
		return a.askHand(ctx, changes)
	}
	return s, nil
}

func (s *session) close() {
	s.progress.end()
	_ = s.Desk.Close() // nothing can be lost with it: what counted was confirmed
}

// connectTo opens book, venue and desk in one go.
func (a *app) connectTo(ctx context.Context, venue string) (*session, error) {
	b, v, err := a.bookAndVenue(venue)
	if err != nil {
		return nil, err
	}
	return a.connect(ctx, b, v)
}
