package scenes

import (
	"math"

	"deskhand/profiles"
	"deskhand/scenes/tone"
)

// A bell whose Q the file means as another desk shows it keeps its width in the file, not
// the figure that this desk shows; and as a bell's width may hang on its gain, it is its
// width with the gain and the kind that the desk holds.

// heldQ is the Q of a band that the desk holds, beside a file that means Q as another desk
// shows it.
type heldQ struct {
	control *profiles.Control
	file    tone.Desk
	desk    tone.Desk
	// bell says that the band is one; gain is the one in dB that the file will say, with
	// which the Q will be translated again.
	bell bool
	gain float64
}

// heldQ gathers it for a parameter that goes into a table of the file. It is false for all
// other parameters, and where the file means by Q what this desk does.
func (k *keeper) heldQ(q profiles.Parameter, table []string) (h heldQ, differs bool) {
	number, field, _ := bandField(q.Name)
	if field != "q" || k.strip.Performer == nil {
		return h, false
	}
	h.file, h.desk = k.strip.dialledOn(layerOf(table), k.venue), tone.DeskOf(k.venue.Desk.Profile)
	h.control, _ = k.venue.Desk.Profile.Control(q)
	kind, hasKind := k.holds[k.band(number, "kind")].Word()
	h.bell = !hasKind || kind == tone.Bell.String()
	h.gain = k.fileGain(k.band(number, "gain"))
	return h, h.file.BellsNarrow != h.desk.BellsNarrow
}

// fileGain is the gain that the file will say of a band: its own where the desk holds that,
// and else what is kept.
func (k *keeper) fileGain(q profiles.Parameter) float64 {
	control, ok := k.venue.Desk.Profile.Control(q)
	if !ok {
		return 0
	}
	said := k.wanted[q].Asked
	if !control.Same(k.wanted[q].Value, k.holds[q]) {
		said = control.Tidy(k.holds[q])
	}
	gain, _ := said.Number()
	return gain
}

// shown is the Q that the desk shows for one of the file.
func (h heldQ) shown(q float64) float64 {
	if !h.bell {
		return q
	}
	return h.desk.ShownQ(h.gain, h.file.BellQ(h.gain, q))
}

// back is the Q for the file, with the fewest figures that lead to the step that the desk
// holds.
func (h heldQ) back(held profiles.Value) profiles.Value {
	exact, _ := held.Number()
	if h.bell {
		exact = h.file.ShownQ(h.gain, h.desk.BellQ(h.gain, exact))
	}
	for decimals := 1; decimals < 9; decimals++ {
		scale := math.Pow10(decimals)
		short := math.Round(exact*scale) / scale
		if h.control.Same(profiles.Number(h.shown(short)), held) {
			return profiles.Number(short)
		}
	}
	return profiles.Number(exact)
}

// asksForHeld reports whether resolving the file again asks for what the desk holds of a
// parameter, if nothing is kept of it.
func (k *keeper) asksForHeld(q profiles.Parameter, w Wanted, held profiles.Value) bool {
	control, _ := k.venue.Desk.Profile.Control(q)
	layer := w.Origin.Layer
	h, differs := k.heldQ(q, k.tableFor(q, w, true))
	if !differs || layer != PerformerLayer && layer != PerformerHereLayer {
		return control.Same(w.Value, held)
	}
	said, _ := w.Asked.Number()
	if w.meant != nil {
		said = w.meant.q
	}
	return control.Same(profiles.Number(h.shown(said)), held)
}
