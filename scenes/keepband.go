package scenes

import (
	"slices"

	"deskhand/profiles"
)

// needed gives the wish for a value of a band that no file says, and that has to be said now
// that a hand has made another kind of the band: a bell needs the Q that a shelf does
// without.
func (k *keeper) needed(q profiles.Parameter) (Wanted, bool) {
	number, field, isBand := bandField(q.Name)
	wish := k.wanted[k.band(number, "kind")]
	kind, isKind := k.holds[wish.Parameter].Word()
	if !isBand || !isKind || !k.isWantedOn(number) || profiles.Word(kind) == wish.Value || !slices.Contains(bandNeeds(kind), field) {
		return Wanted{}, false
	}
	if w, isWanted := k.wanted[q]; isWanted {
		return w, w.Origin.Layer == ImpliedLayer
	}
	written, _, _ := bandField(wish.Written)
	wish.Parameter, wish.Written, wish.Value, wish.Asked = q, bandName(written, field), profiles.Value{}, profiles.Value{}
	return wish, true
}

// bandFields are the settings of a band.
var bandFields = []string{"on", "kind", "frequency", "gain", "q"}

func (k *keeper) band(number int, field string) profiles.Parameter {
	return profiles.Parameter{Place: k.strip.Position.Place(), Name: bandName(number, field)}
}

// isOn reports whether the desk has a band on; where bands have no switch, one that
// is flat is off.
func (k *keeper) isOn(number int) bool {
	if on, hasSwitch := k.holds[k.band(number, "on")].On(); hasSwitch {
		return on
	}
	gain, _ := k.holds[k.band(number, "gain")].Number()
	return gain != 0
}

// isWantedOn reports whether the layers use a band of the desk.
func (k *keeper) isWantedOn(number int) bool {
	on, isSwitch := k.wanted[k.band(number, "on")].Value.On()
	_, hasFrequency := k.wanted[k.band(number, "frequency")]
	return isSwitch && on || !isSwitch && hasFrequency
}

// goesWithoutSaying reports whether a value of a new band follows from the others once
// they are written: that it is on, and a bell.
func (k *keeper) goesWithoutSaying(q profiles.Parameter, w Wanted) bool {
	number, field, isBand := bandField(q.Name)
	if !isBand || !k.isOn(number) || k.isWantedOn(number) {
		return false
	}
	kind, _ := k.holds[q].Word()
	return field == "on" && (w.Origin.Layer == ImpliedLayer || w.Value.IsZero()) || field == "kind" && w.Value.IsZero() && kind == "bell"
}

// isElsewhere reports whether the performer's band of a number had to move to another of the
// desk's.
func (k *keeper) isElsewhere(number int) bool {
	for q, w := range k.wanted {
		written, _, _ := bandField(w.Written)
		slot, _, isBand := bandField(q.Name)
		if isBand && !w.Room && written == number && slot != number && k.isWantedOn(slot) {
			return true
		}
	}
	return false
}
