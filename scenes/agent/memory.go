package agent

import (
	"context"
	"maps"
	"slices"

	"deskhand/profiles"
	"deskhand/scenes"
)

// recollect reads what is remembered of the venue's desk, and what file and desk last
// agreed on.
func (a *Agent) recollect() error {
	memory, err := a.book.Memory(a.venue)
	if err != nil {
		return err
	}
	agreed, err := memory.Agreed()
	if err != nil {
		return err
	}
	a.memory, a.remembered, a.agreed = memory, memory.Written(), agreed
	if a.recorded, err = memory.RecordedMoves(); err != nil {
		a.unrecorded(err)
	}
	return nil
}

// agree notes what file and desk agree on.
func (a *Agent) agree(q profiles.Parameter, v profiles.Value) {
	if a.agreed[q] != v {
		a.agreed[q] = v
		a.unsaved = true
	}
	delete(a.away, q)
	delete(a.told, q)
}

// disagree notes that it is not known what file and desk last agreed on.
func (a *Agent) disagree(q profiles.Parameter) {
	if _, known := a.agreed[q]; known {
		delete(a.agreed, q)
		a.unsaved = true
	}
}

func (a *Agent) saveAgreed() {
	if !a.unsaved {
		return
	}
	a.unsaved = false
	if err := a.memory.SaveAgreed(a.agreed, a.now()); err != nil {
		a.trouble("", err)
	}
}

// isBusy reports whether a recall of somebody else's is under way on a position, or has
// not come to its end. What moves there meanwhile is no hand.
func (a *Agent) isBusy(position string) bool {
	_, unfinished := a.memory.Unfinished[position]
	return unfinished && !a.ours[position]
}

// lookAtMemory takes over what another command has done meanwhile: who is where, and what
// it set, which is no hand's.
func (a *Agent) lookAtMemory(ctx context.Context) {
	before := a.memory.Held.Values
	if a.reread() && a.readTheirs(ctx, before) {
		a.settleAll(ctx)
	}
}

// reread reads the memory anew where it was written meanwhile, and reports whether it was.
func (a *Agent) reread() bool {
	written := a.memory.Written()
	if written.Equal(a.remembered) {
		return false
	}
	memory, err := a.book.Memory(a.venue)
	if err != nil {
		a.fault("memory", err)
		return false
	}
	a.faults.clear("memory")
	a.memory, a.remembered = memory, written
	a.takeStep()
	was := maps.Clone(a.seats)
	maps.DeleteFunc(a.ours, func(position string, _ bool) bool { _, still := memory.Unfinished[position]; return !still })
	a.reseat()
	for place, s := range a.seats {
		s.isSwapped = s.isNew && was[place] != s
	}
	return true
}

// readTheirs takes over what another command has set at the places that somebody is on:
// what it remembers otherwise than before and the desk holds, files and desk agree on as
// far as the files say nothing else. Where they do, as after an undo, the value waits for a
// person. It reports whether the desk answered, if it is there.
func (a *Agent) readTheirs(ctx context.Context, before scenes.Values) bool {
	if a.line.desk == nil {
		return true
	}
	for _, place := range a.places() {
		if a.behind[place] == nil {
			a.behind[place] = before
		}
	}
	for _, place := range a.places() {
		if a.isBusy(a.seats[place].position) {
			continue
		}
		set := a.theirs(place)
		if len(set) > 0 || a.lost[place] { // which a recall may have set up as it was
			if !a.readAll(ctx, a.venue.Desk.Profile.At(place)) {
				return false
			}
			for _, q := range set {
				a.takeTheirs(q, a.memory.Held.Values[q])
			}
		}
		delete(a.behind, place)
	}
	return true
}

// theirs lists what is remembered of a place otherwise than when it was last taken over.
func (a *Agent) theirs(place profiles.Place) []profiles.Parameter {
	return slices.DeleteFunc(slices.Clone(a.venue.Desk.Profile.At(place)), func(q profiles.Parameter) bool {
		v, known := a.memory.Held.Values[q]
		return !known || a.behind[place][q] == v || q.Name == "mute"
	})
}

// takeTheirs takes over one value that another command has set. A hand may have moved it
// since, and a file that it wrote may not have been heard of yet.
func (a *Agent) takeTheirs(q profiles.Parameter, set profiles.Value) {
	if a.venue.Same(q, a.agreed[q], set) {
		return
	}
	w, isWanted := a.wanted(q)
	switch {
	case !isWanted, a.venue.Same(q, w.Value, set):
		a.agree(q, set)
	case a.venue.Same(q, a.held[q], set):
		a.away[q] = set
		a.rest(q.Place)
	}
}

// remember writes the memory after we have changed it.
func (a *Agent) remember() {
	if err := a.memory.Save(a.now()); err != nil {
		a.trouble("", err)
	}
	a.remembered = a.memory.Written()
}

// isSeated reports whether the seats are those that the memory has.
func (a *Agent) isSeated() bool {
	on := 0
	for _, performer := range a.memory.On {
		if performer != "" {
			on++
		}
	}
	return on == len(a.seats) && !slices.ContainsFunc(a.places(), func(place profiles.Place) bool {
		s := a.seats[place]
		return a.memory.On[s.position] != s.performer || a.memory.Scenes[s.position] != s.scene
	})
}
