package agent

import (
	"context"
	"maps"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
)

// seat is a position that somebody is on.
type seat struct {
	position, performer, scene string
	// strip is as the files last said without fault, nil before they first did; wanted are
	// its values by parameter.
	strip  *scenes.Resolved
	wanted map[profiles.Parameter]scenes.Wanted
	// isNew says that it was not there before: what the desk holds has not been read.
	isNew bool
}

func (s *seat) isAs(other *seat) bool {
	return other != nil && s.position == other.position && s.performer == other.performer && s.scene == other.scene
}

// wanted is what the files ask for, if they do.
func (a *Agent) wanted(q profiles.Parameter) (scenes.Wanted, bool) {
	s := a.seats[q.Place]
	if s == nil {
		return scenes.Wanted{}, false
	}
	w, ok := s.wanted[q]
	return w, ok
}

// reseat puts those who are on by the memory onto their places, and builds all strips anew.
func (a *Agent) reseat() {
	seats := make(map[profiles.Place]*seat)
	for _, position := range slices.Sorted(maps.Keys(a.memory.On)) {
		performer := a.memory.On[position]
		if performer == "" {
			continue
		}
		p, err := a.venue.Position(position)
		if err != nil {
			a.fault(seatOwner+position, err)
			continue
		}
		s := &seat{position: position, performer: performer, scene: a.memory.Scenes[position], isNew: true}
		if old := a.seats[p.Place()]; s.isAs(old) {
			s = old
		}
		seats[p.Place()] = s
	}
	maps.DeleteFunc(a.resting, func(place profiles.Place, _ time.Time) bool { return seats[place] == nil })
	a.seats = seats
	for _, place := range a.places() {
		a.resolve(place)
		a.assume(place)
	}
}

// seat takes over who is on, and deals with all that differs at their places.
func (a *Agent) seat(ctx context.Context) {
	a.reseat()
	a.settleAll(ctx)
}

func (a *Agent) settleAll(ctx context.Context) {
	if !a.welcome(ctx) {
		return
	}
	for _, place := range a.places() {
		a.settle(ctx, place)
	}
}

// welcome reads what the desk holds at places that somebody has come to. What the files
// don't say there is nobody's doing, and what they say otherwise waits for a person: it
// can't be known whose the desk's value is.
func (a *Agent) welcome(ctx context.Context) bool {
	if a.line.desk == nil {
		return true // all is read when it comes
	}
	for _, place := range a.places() {
		s := a.seats[place]
		if !s.isNew || a.isBusy(s.position) {
			continue
		}
		parameters := a.venue.Desk.Profile.At(place)
		if !a.read(ctx, parameters) {
			return false
		}
		s.isNew = false
		for _, q := range parameters {
			held := a.held[q]
			if w, isWanted := s.wanted[q]; isWanted && !a.venue.Same(q, w.Value, held) {
				a.disagree(q)
			} else if !held.IsZero() {
				a.agree(q, held)
			}
		}
		delete(a.resting, place)
		delete(a.lost, place)
	}
	return true
}

// assume takes what the desk can't be asked about as it was set last, by us or by a hand
// that said so.
func (a *Agent) assume(place profiles.Place) {
	for _, q := range a.venue.Desk.Profile.At(place) {
		if v, known := a.memory.Held.Values[q]; known && !a.venue.Desk.Profile.Askable(q) {
			a.held[q], a.agreed[q] = v, v
		}
	}
}

// resolve builds a seat's strip anew, and reports whether that could be done. Where the
// files have faults, the strip stays as it was, and they are told.
func (a *Agent) resolve(place profiles.Place) bool {
	s := a.seats[place]
	owner := seatOwner + s.position
	strip, err := a.stripOf(s)
	if err != nil {
		a.fault(owner, err)
		return false
	}
	a.faults.clear(owner)
	s.strip = strip
	s.wanted = make(map[profiles.Parameter]scenes.Wanted, len(strip.Wanted))
	for _, w := range strip.Wanted {
		s.wanted[w.Parameter] = w
	}
	return true
}

func (a *Agent) stripOf(s *seat) (*scenes.Resolved, error) {
	var scene *scenes.Scene
	if s.scene != "" {
		var err error
		if scene, err = a.book.Scene(s.scene); err != nil {
			return nil, err
		}
	}
	cast, err := a.book.CastFor(a.venue, s.position, s.performer, scene)
	if err != nil {
		return nil, err
	}
	return a.venue.Resolve(cast)
}
