package agent

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"maps"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// seat is a position that somebody is on.
type seat struct {
	position, performer, scene string
	// strip is as the files last said without fault, nil before they first did; wanted are
	// its values by parameter.
	strip  *scenes.Resolved
	wanted map[profiles.Parameter]scenes.Wanted
	// text is what the performer's file was when the strip was built.
	text []byte
	// isNew says that it was not there before: what the desk holds has not been read.
	// isSwapped says that another command has just taken the desk there.
	isNew, isSwapped bool
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

// reseat puts those who are on by the memory onto their places, and builds the strips of
// those who are new there. The others' files may be half saved at any moment: only the
// watch of files knows when they are whole.
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
		if s := a.seats[place]; s.strip == nil {
			a.resolve(place)
		}
		a.assume(place)
	}
}

// settleAll deals with all that differs at all places.
func (a *Agent) settleAll(ctx context.Context) {
	if !a.welcome(ctx) {
		return
	}
	for _, place := range a.places() {
		a.settle(ctx, place)
	}
}

// welcome reads what the desk holds at places that somebody has come to, and reports
// whether the desk answered, if it is there.
func (a *Agent) welcome(ctx context.Context) bool {
	if a.line.desk == nil {
		return true // all is read when it comes
	}
	for _, place := range a.places() {
		s := a.seats[place]
		if !s.isNew || a.isBusy(s.position) {
			continue
		}
		if !a.readAll(ctx, a.venue.Desk.Profile.At(place)) {
			return false
		}
		a.seatIsRead(place, s)
	}
	return true
}

// welcomeRecalled takes in who has come to a place by a recall of our own that is all
// confirmed: what the desk holds there was read before it and proved after it, so that nobody
// has to wait for its being read once more.
func (a *Agent) welcomeRecalled(result *recall.Result) {
	for _, part := range result.Plan.Parts {
		s := a.seats[part.Place]
		if s != nil && s.isNew && a.isRead([]recall.Target{part.Target}) {
			a.seatIsRead(part.Place, s)
		}
	}
}

// seatIsRead notes that all that the desk holds at a place is known.
func (a *Agent) seatIsRead(place profiles.Place, s *seat) {
	s.isNew = false
	delete(a.lost, place)
	a.beginWith(place, s)
	a.rest(place) // a hand may be there already
}

// beginWith notes what file and desk agree on at a place that somebody has come to: what
// the recall that put them there has left, else what the desk holds. What the files don't
// say is nobody's doing, and what they say otherwise waits for a person: it can't be known
// whose the desk's value is.
func (a *Agent) beginWith(place profiles.Place, s *seat) {
	for _, q := range a.venue.Desk.Profile.At(place) {
		base := a.held[q]
		if left, known := a.memory.Held.Values[q]; known && s.isSwapped {
			base = left
		}
		if w, isWanted := s.wanted[q]; isWanted && !a.venue.Same(q, w.Value, base) {
			a.disagree(q)
		} else if !base.IsZero() && q.Name != "mute" {
			a.agree(q, base)
		}
	}
	a.noteMute(place)
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
	strip, text, err := a.readStrip(s)
	if err != nil {
		a.fault(owner, err)
		return false
	}
	a.faults.clear(owner)
	s.strip, s.text = strip, text
	s.wanted = make(map[profiles.Parameter]scenes.Wanted, len(strip.Wanted))
	for _, w := range strip.Wanted {
		s.wanted[w.Parameter] = w
	}
	return true
}

// readStrip builds a strip, and gives the performer's file that it is of. A file that is
// saved just while it is read is read once more: its text and its strip must be of one save.
func (a *Agent) readStrip(s *seat) (strip *scenes.Resolved, text []byte, err error) {
	const tries = 3 // whoever goes on saving is heard of by the watch of files
	for range tries {
		text, err = a.performerText(s)
		if err != nil && !errors.Is(err, fs.ErrNotExist) { // which the book says better
			return nil, nil, err
		}
		strip, err = a.stripOf(s)
		if now, _ := a.performerText(s); bytes.Equal(now, text) {
			break
		}
	}
	return strip, text, err
}

func (a *Agent) performerText(s *seat) ([]byte, error) {
	file := scenes.Named{Kind: scenes.Performers, Name: s.performer}
	text, err := a.book.Text(file)
	if err == nil && len(bytes.TrimSpace(text)) == 0 { // as a file is in the middle of a save
		err = source.Faults{{File: file.File(), What: "the file is empty"}}
	}
	return text, err
}

func (a *Agent) stripOf(s *seat) (*scenes.Resolved, error) {
	var scene *scenes.Scene
	if s.scene != "" {
		var err error
		if scene, err = a.book.SceneCalled(s.scene); err != nil {
			return nil, err
		}
	}
	cast, err := a.book.CastFor(a.venue, s.position, s.performer, scene)
	if err != nil {
		return nil, err
	}
	return a.venue.Resolve(cast)
}
