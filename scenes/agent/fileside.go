package agent

import (
	"context"
	"errors"
	"path"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"
)

// saved takes in files that changed.
func (a *Agent) saved(ctx context.Context, files []string) {
	a.lookAtMemory(ctx)
	a.book = a.book.After(files)
	if touchesVenue(files) {
		if err := a.readVenue(); err != nil {
			a.fault(err)
			return
		}
	}
	for _, file := range files {
		delete(a.faults, file)
	}
	for place, s := range a.seats {
		if s.isTouched(files) {
			a.resolve(place)
			a.settle(ctx, place)
		}
	}
}

// touchesVenue reports whether files say something of the venue or its desk.
func touchesVenue(files []string) bool {
	for _, file := range files {
		switch path.Dir(file) {
		case ".", "venues", "profiles":
			return true
		}
	}
	return false
}

// isTouched reports whether files say something of a seat's strip.
func (s *seat) isTouched(files []string) bool {
	for _, file := range files {
		name := strings.TrimSuffix(path.Base(file), ".toml")
		switch path.Dir(file) {
		case ".", "venues", "profiles":
			return true
		case "performers":
			if name == s.performer {
				return true
			}
		case "scenes":
			if name == s.scene {
				return true
			}
		}
	}
	return false
}

// fault tells the faults of files, each file's once until it changes.
func (a *Agent) fault(err error) {
	var faults source.Faults
	if !errors.As(err, &faults) {
		a.trouble("", err)
		return
	}
	var fresh source.Faults
	for _, f := range faults {
		if a.faults[f.File] != err.Error() {
			fresh = append(fresh, f)
		}
	}
	for _, f := range faults {
		a.faults[f.File] = err.Error()
	}
	if len(fresh) > 0 {
		a.tell(Event{Kind: Fault, Faults: fresh})
	}
}

// change is a value as it stands, for a list of changes from one side to the other.
func (a *Agent) change(q profiles.Parameter, from, to profiles.Value, w scenes.Wanted) scenes.Change {
	control, _ := a.venue.Desk.Profile.Control(q)
	return scenes.Change{Parameter: q, Spec: control.Spec, From: from, To: to, Asked: to, Origin: w.Origin, Note: w.Note}
}
