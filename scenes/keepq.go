package scenes

import (
	"math"

	"deskhand/profiles"
	"deskhand/scenes/tone"
)

// A bell whose Q the file means as another desk shows it keeps its width in the file, not
// the figure that this desk shows; and as a bell's width may hang on its gain, it is its
// width with the gain that the desk holds.

// meansHeld reports whether the file's Q, with the gain that the desk holds, is the Q that
// it holds.
func (k *keeper) meansHeld(w Wanted, held profiles.Value) bool {
	control, _ := k.venue.Desk.Profile.Control(w.Parameter)
	return control.Same(profiles.Number(k.shown(w, w.meant.q)), held)
}

// shown is the Q that this desk shows for one of the file, with the gain that it holds.
func (k *keeper) shown(w Wanted, q float64) float64 {
	gain := k.heldGain(w)
	return k.desk().ShownQ(gain, w.meant.on.BellQ(gain, q))
}

// qBack is the Q for the file, with the fewest figures that lead to the step that the desk
// holds.
func (k *keeper) qBack(w Wanted, held profiles.Value) profiles.Value {
	control, _ := k.venue.Desk.Profile.Control(w.Parameter)
	q, _ := held.Number()
	gain := k.heldGain(w)
	exact := w.meant.on.ShownQ(gain, k.desk().BellQ(gain, q))
	for decimals := 1; decimals < 9; decimals++ {
		scale := math.Pow10(decimals)
		short := math.Round(exact*scale) / scale
		if control.Same(profiles.Number(k.shown(w, short)), held) {
			return profiles.Number(short)
		}
	}
	return profiles.Number(exact)
}

func (k *keeper) desk() tone.Desk { return tone.DeskOf(k.venue.Desk.Profile) }

// heldGain is the gain of a Q's band that the desk holds.
func (k *keeper) heldGain(w Wanted) float64 {
	number, _, _ := bandField(w.Parameter.Name)
	gain, _ := k.holds[k.band(number, "gain")].Number()
	return gain
}
