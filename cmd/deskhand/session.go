package main

import (
	"context"
	"fmt"

	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

// book opens the book that is meant.
func (a *app) book() (*scenes.Book, error) {
	if a.bookDir != "" {
		return scenes.Open(a.bookDir)
	}
	return scenes.Find(a.dir)
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

// session is a venue with its desk connected.
type session struct {
	*recall.Recaller
	app      *app
	progress *progress
}

// connect opens the link to a venue's desk. Whether it is there shows later.
func (a *app) connect(ctx context.Context, b *scenes.Book, v *scenes.Venue) (*session, error) {
	memory, err := b.Memory(v)
	if err != nil {
		return nil, err
	}
	d, err := desk.Open(ctx, v.Desk.Profile, v.Desk.Address, desk.Options{Listen: v.Desk.Listen})
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errDesk, err)
	}
	s := &session{app: a, progress: newProgress(a.err)}
	s.Recaller = &recall.Recaller{
		Book: b, Venue: v, Memory: memory, Desk: d,
		Progress: s.progress.step, Rehearse: a.rehearse,
	}
	return s, nil
}

func (s *session) close() {
	s.progress.end()
	_ = s.Desk.Close() // nothing can be lost with it: what counted was confirmed
}

// connectTo opens book, venue and desk in one go.
func (a *app) connectTo(ctx context.Context, venue string) (*session, error) {
	b, err := a.book()
	if err != nil {
		return nil, err
	}
	v, err := a.openVenue(b, venue)
	if err != nil {
		return nil, err
	}
	return a.connect(ctx, b, v)
}
