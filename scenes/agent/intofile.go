package agent

import (
	"bytes"
	"context"
	"errors"
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"
)

// write puts what a hand did at a place into the performer's file, and tells what is not
// for it. A file that was saved and not heard of yet, or that has a fault, is left alone:
// the watch of files will have the place judged anew.
func (a *Agent) write(ctx context.Context, place profiles.Place, s *seat) {
	if !a.isAsRead(s) {
		return
	}
	lock := a.lockAlone(ctx)
	if lock == nil {
		a.rest(place) // another command is at it
		return
	}
	defer lock.Release()
	st := a.stand(place)
	kept, apart := a.keep(place, s, st)
	if len(kept) > 0 {
		if _, ok := a.writeKept(s, kept); !ok {
			return
		}
		st = a.stand(place)
	}
	a.tellUntold(Event{Kind: Moved, Apart: apart}, s, handMoved, st.hand)
}

// lockAlone takes the desk's lock, so that no other command writes into the memory while we
// do. It is nil where somebody has it, or has written there since we read it.
func (a *Agent) lockAlone(ctx context.Context) *scenes.Lock {
	if _, taken, err := a.book.LockedBy(a.venue); taken || err != nil {
		return nil
	}
	lock, err := a.book.Lock(ctx, a.venue, "watch", nil)
	if err != nil {
		a.fault("lock", err)
		return nil
	}
	a.faults.clear("lock")
	if !a.memory.Written().Equal(a.remembered) {
		lock.Release()
		return nil
	}
	return lock
}

// keep works out what goes into the file. What belongs together is kept together, unless
// the file has changed a part of it, too: then that part waits.
func (a *Agent) keep(place profiles.Place, s *seat, st stand) ([]scenes.Kept, []scenes.Apart) {
	var names []string
	byHand := make(map[profiles.Parameter]bool)
	for _, c := range st.hand {
		names = append(names, a.keptAs(c.Parameter)...)
		byHand[c.Parameter] = true
	}
	holds := make(scenes.Values)
	for _, q := range a.venue.Desk.Profile.At(place) {
		holds[q] = a.held[q]
	}
	kept, apart := a.venue.Keep(s.strip, holds, func(q profiles.Parameter) bool { return byHand[q] }, names)
	waits := slices.Concat(st.file, st.both, st.never)
	kept = slices.DeleteFunc(kept, func(k scenes.Kept) bool {
		return slices.ContainsFunc(waits, func(c scenes.Change) bool {
			return c.Parameter == k.Parameter || isPreamp(c.Parameter) && isPreamp(k.Parameter)
		})
	})
	apart = slices.DeleteFunc(apart, func(o scenes.Apart) bool { return !byHand[o.Parameter] })
	return kept, apart
}

// keptAs gives the names that a value is kept by: a band of EQ as a whole, since what one
// setting means hangs on the others, and gain with trim where the files have both, which
// make up for each other.
func (a *Agent) keptAs(q profiles.Parameter) []string {
	words := strings.Split(q.Name, ".")
	trim := profiles.Parameter{Place: q.Place, Name: "input.trim"}
	switch _, hasTrim := a.wanted(trim); {
	case q == trim || isPreamp(q) && hasTrim:
		return []string{"input.gain", "input.trim"}
	case words[0] == "eq" && len(words) == 3:
		return []string{words[0] + "." + words[1]}
	}
	return []string{q.Name}
}

func isPreamp(q profiles.Parameter) bool { return q.Name == "input.gain" || q.Name == "input.trim" }

// writeKept writes values into the performer's file, if that is as it was judged, and notes
// that they were kept. It gives the event that it has told, and whether that was done.
func (a *Agent) writeKept(s *seat, kept []scenes.Kept) (Event, bool) {
	file := scenes.File(scenes.Performers, s.performer)
	old, text, err := a.book.KeepText(s.strip.Performer, kept)
	if err == nil && !bytes.Equal(old, s.text) {
		return Event{}, false
	}
	if err == nil {
		err = a.book.Write(file, old, text)
	}
	if err != nil {
		if !errors.Is(err, source.ErrChanged) {
			a.fault(seatOwner+s.position, err)
		}
		return Event{}, false
	}
	values := make(scenes.Values)
	a.keptFrom = make(scenes.Values)
	for _, k := range kept {
		a.keptFrom[k.Parameter] = a.agreed[k.Parameter]
		values[k.Parameter] = a.held[k.Parameter]
		a.agree(k.Parameter, a.held[k.Parameter])
	}
	a.memory.Hold(values)
	a.remember()
	wrote := Event{Kind: Wrote, Position: s.position, Performer: s.performer, File: file, Kept: kept, Old: old, New: text}
	a.tell(wrote)
	a.afterWriting(s, text)
	return wrote, true
}

// afterWriting builds anew all strips that a performer's file is a part of. No person has
// saved it: where the same performer is on another position, what differs there now is
// told, and goes to the desk with the next save only. That may have come already.
func (a *Agent) afterWriting(wrote *seat, text []byte) {
	for _, place := range a.places() {
		s := a.seats[place]
		if s.performer == wrote.performer && a.resolve(place) && !s.isNew && bytes.Equal(s.text, text) {
			a.tellUntold(Event{Kind: Saved}, s, fileMoved, a.stand(place).file)
		}
	}
}

// isAsRead reports whether the performer's file is as it was when the strip was built from
// it. If it is not, it was saved just now, and may be half saved.
func (a *Agent) isAsRead(s *seat) bool {
	text, err := a.book.Text(scenes.Named{Kind: scenes.Performers, Name: s.performer})
	return err == nil && bytes.Equal(text, s.text)
}
