package agent

import (
	"context"
	"errors"
	"path"
	"slices"
	"strings"
	"time"

	"deskhand/profiles/source"
	"deskhand/scenes"
)

// saved takes in files that changed.
func (a *Agent) saved(ctx context.Context, files []string) {
	a.lookAtMemory(ctx)
	a.book = a.book.After(files)
	defer a.orderSaved(files)
	if touchesVenue(files) {
		a.venueSaved(ctx, files)
		return
	}
	for _, place := range a.places() {
		if s := a.seats[place]; s != nil && s.isTouched(files) {
			a.resolve(place)
			a.settle(ctx, place)
		}
	}
}

// touchesVenue reports whether files say something of the venue or its desk.
func touchesVenue(files []string) bool {
	return slices.ContainsFunc(files, func(file string) bool {
		switch path.Dir(file) {
		case ".", string(scenes.Venues), string(scenes.Profiles):
			return true
		}
		return false
	})
}

// isTouched reports whether files say something of a seat's strip.
func (s *seat) isTouched(files []string) bool {
	return slices.Contains(files, scenes.File(scenes.Performers, s.performer)) ||
		s.scene != "" && slices.ContainsFunc(files, func(file string) bool { return scenes.IsOfScene(file, s.scene) })
}

// venueSaved takes in a venue, or a profile, that may have changed. A position that has
// moved to another channel is new there. Another desk is met as at first.
func (a *Agent) venueSaved(ctx context.Context, files []string) {
	const owner = "venue"
	venue, err := a.readVenue()
	if err != nil {
		a.fault(owner, err)
		a.resolveAll()
		a.settleAll(ctx)
		return
	}
	a.faults.clear(owner)
	a.saveAgreed()
	was := a.venue
	a.venue = venue
	if err := a.recollect(); err != nil {
		a.fault(owner, err)
		a.venue = was
		return
	}
	if !isSameDesk(was, venue, files) {
		a.leave()
	}
	a.reseat()
	a.resolveAll()
	a.settleAll(ctx)
}

func (a *Agent) resolveAll() {
	for _, place := range a.places() {
		a.resolve(place)
	}
}

// isSameDesk reports whether two venues reach the same desk in the same way.
func isSameDesk(was, is *scenes.Venue, files []string) bool {
	return was.Desk.Address == is.Desk.Address && was.Desk.Listen == is.Desk.Listen &&
		was.Desk.Profile.Name == is.Desk.Profile.Name && !slices.Contains(files, scenes.File(scenes.Profiles, is.Desk.Profile.Name))
}

// leave ends all that has to do with the desk of before.
func (a *Agent) leave() {
	a.line.close()
	a.line = line{due: time.Now()}
	clear(a.held)
	clear(a.heard)
	clear(a.away)
	clear(a.lost)
	clear(a.told)
	clear(a.resting)
	clear(a.seats)
}

// seatOwner begins the name of a seat as an owner of faults.
const seatOwner = "seat "

// faults are those that were told, by text, with all who have them: seats, the venue and
// the memory.
type faults map[string]map[string]bool

// replace notes what somebody's faults are now, and gives those that nobody had.
func (f faults) replace(owner string, texts []string) (fresh []string) {
	for _, text := range texts {
		if len(f[text]) == 0 {
			fresh = append(fresh, text)
			f[text] = make(map[string]bool)
		}
		f[text][owner] = true
	}
	for text, owners := range f {
		if !slices.Contains(texts, text) {
			delete(owners, owner)
		}
		if len(owners) == 0 {
			delete(f, text)
		}
	}
	return fresh
}

// clear notes that somebody has no fault any more.
func (f faults) clear(owner string) { f.replace(owner, nil) }

// fault tells the faults of files that somebody's strip is built from, each once for as
// long as it is there.
func (a *Agent) fault(owner string, err error) {
	position, _ := strings.CutPrefix(owner, seatOwner)
	if position == owner {
		position = ""
	}
	var all source.Faults
	if !errors.As(err, &all) {
		if len(a.faults.replace(owner, []string{err.Error()})) > 0 {
			a.trouble(position, err)
		}
		return
	}
	texts := make([]string, len(all))
	for i, f := range all {
		texts[i] = f.Error()
	}
	fresh := a.faults.replace(owner, texts)
	all = slices.DeleteFunc(slices.Clone(all), func(f *source.Fault) bool { return !slices.Contains(fresh, f.Error()) })
	if len(all) > 0 {
		a.tell(Event{Kind: Fault, Position: position, Faults: all})
	}
}
