package scenes

import (
	"deskhand/profiles"
)

// handWalk goes through the scenes and remembers what a hand has set.
type handWalk struct {
	sheet *Sheet
	holds Values
}

// take adds what a hand sets at a position before a scene.
func (w *handWalk) take(scene int, r *Resolved) {
	v := w.sheet.Venue
	for _, c := range v.Compare(w.holds, w.forHand(r)) {
		if c.Hand == "" || c.Safe != nil || w.isKept(r, c) {
			continue
		}
		w.sheet.Hand = append(w.sheet.Hand, HandSetting{Scene: scene, Position: r.Position.Name, Performer: r.PerformerName(), Change: c})
		w.remember(c)
	}
}

// forHand gives what the strip wants, with phantom power as its switch has to be for all
// microphones on it.
func (w *handWalk) forHand(r *Resolved) []Wanted {
	wanted := make([]Wanted, len(r.Wanted))
	copy(wanted, r.Wanted)
	for i := range wanted {
		if wanted[i].Parameter.Name == phantomName && w.sheet.input(r.Position.Name).Phantom == PhantomShared {
			wanted[i].Value = profiles.Switch(true)
		}
	}
	return wanted
}

// isKept reports whether the hand must leave something as it is: a switch that one
// microphone needs and that harms another.
func (w *handWalk) isKept(r *Resolved, c Change) bool {
	return c.Parameter.Name == phantomName && w.sheet.input(r.Position.Name).Phantom == PhantomConflict
}

// remember keeps what the hand has set, on all channels that the switch is for.
func (w *handWalk) remember(c Change) {
	first, last := profiles.Bank(c.Bank, c.Parameter.Place.Number)
	if c.Bank <= 1 {
		first, last = c.Parameter.Place.Number, c.Parameter.Place.Number
	}
	for n := first; n <= last; n++ {
		q := c.Parameter
		q.Place.Number = n
		w.holds[q] = c.To
	}
}
