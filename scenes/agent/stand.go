package agent

import (
	"slices"

	"deskhand/profiles"
	"deskhand/scenes"
)

// standing is how one value stands between the file and the desk.
type standing uint8

const (
	unknown standing = iota
	agrees
	fileMoved
	handMoved
	bothMoved
)

// judge says how a value stands. Wanted is what the file says, no value where it says
// nothing; held is what the desk holds and agreed what both last agreed on, no value where
// that isn't known.
func judge(c *profiles.Control, wanted, held, agreed profiles.Value) standing {
	switch {
	case held.IsZero():
		return unknown
	case !wanted.IsZero() && c.Same(wanted, held):
		return agrees
	case agreed.IsZero() && wanted.IsZero():
		return agrees
	case agreed.IsZero():
		return bothMoved
	case c.Same(agreed, held) && !wanted.IsZero():
		return fileMoved
	case c.Same(agreed, held):
		return agrees
	case wanted.IsZero() || c.Same(agreed, wanted):
		return handMoved
	}
	return bothMoved
}

// stand is how the values at one place stand, apart from those that agree.
type stand struct {
	// file leads from what the desk holds to what the file says, and so do both and
	// never; hand leads from what was agreed to what the desk holds. Never is what the
	// agent does not send: what is safe here, or for a hand.
	file, hand, both, never []scenes.Change
}

// stand judges each value at a place. Whether it is open is for the scene and the hand.
func (a *Agent) stand(place profiles.Place) stand {
	var st stand
	for _, q := range a.venue.Desk.Profile.At(place) {
		if control, _ := a.venue.Desk.Profile.Control(q); q.Name != "mute" && control.Reach() != profiles.Fixed {
			a.standOne(&st, q, control)
		}
	}
	a.fitStands(&st)
	return st
}

func (a *Agent) standOne(st *stand, q profiles.Parameter, control *profiles.Control) {
	w, held, agreed := a.seats[q.Place].wanted[q], a.held[q], a.agreed[q]
	as := judge(control, w.Value, held, agreed)
	if found, away := a.away[q]; away && as == handMoved && !w.Value.IsZero() && control.Same(found, held) {
		as = bothMoved
	}
	if as == fileMoved || as == bothMoved {
		if c := a.changeTo(w, held); c.Safe != nil || control.Reach() == profiles.ByHand {
			st.never = append(st.never, c)
			return
		}
	}
	switch as {
	case agrees:
		a.agree(q, held)
	case fileMoved:
		st.file = append(st.file, a.changeTo(w, held))
	case handMoved:
		st.hand = append(st.hand, a.change(q, agreed, held))
	case bothMoved:
		st.both = append(st.both, a.changeTo(w, held))
	}
}

// fitStands keeps bands that are fitted to each other together: where a hand has moved one
// of them, what a file changes of the others waits for a person, too.
func (a *Agent) fitStands(st *stand) {
	isFitted := func(c scenes.Change) bool { w, _ := a.wanted(c.Parameter); return w.Fitted }
	if !slices.ContainsFunc(slices.Concat(st.hand, st.both), isFitted) {
		return
	}
	var file []scenes.Change
	for _, c := range st.file {
		if isFitted(c) {
			st.both = append(st.both, c)
		} else {
			file = append(file, c)
		}
	}
	st.file = file
}

// change is what a value was and is.
func (a *Agent) change(q profiles.Parameter, from, to profiles.Value) scenes.Change {
	control, _ := a.venue.Desk.Profile.Control(q)
	return scenes.Change{Parameter: q, Spec: control.Spec, From: from, To: to, Asked: to}
}

// changeTo leads from what the desk holds to what the files say.
func (a *Agent) changeTo(w scenes.Wanted, held profiles.Value) scenes.Change {
	c := a.change(w.Parameter, held, w.Value)
	control, _ := a.venue.Desk.Profile.Control(w.Parameter)
	c.Asked, c.Origin, c.Note, c.Hand, c.Bank = w.Asked, w.Origin, w.Note, control.Hand, control.Bank
	if safe, isSafe := a.venue.SafeFor(w.Parameter); isSafe {
		c.Safe = &safe
	}
	return c
}
