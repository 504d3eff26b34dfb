package scenes

import (
	"math"

	"deskhand/profiles"
)

// gainBack gives the gain as the file keeps it, under the microphone and distance
// that it was dialled in with, so that it carries over to the step that the desk
// holds. Where the file doesn't say how its gain was dialled in, it is today's.
func (k *keeper) gainBack(held profiles.Value, table []string) (profiles.Value, *Dialled) {
	layer := layerOf(table)
	p, _ := k.venue.preampAt(k.strip.Position.Place())
	gain, _ := held.Number()
	from, today := k.strip.dialled(layer, k.venue.Name), k.strip.Position.dialled()
	switch {
	case today == nil || from == nil && layer == PerformerHereLayer:
		return p.shortest(gain, 0), nil
	case from == nil:
		return p.shortest(gain, 0), today
	}
	return p.shortest(gain, carry(*from, *today)), nil
}

// shortest gives the gain with the fewest decimals, one at least, that comes out where
// total does on this desk after so many dB are added to it.
func (p preamp) shortest(total, added float64) profiles.Value {
	exact := total - added
	for decimals := 1; decimals < 9; decimals++ {
		scale := math.Pow10(decimals)
		for _, round := range []func(float64) float64{math.Round, math.Ceil, math.Floor} {
			short := round(exact*scale) / scale
			if p.same(short+added, total) {
				return profiles.Number(short)
			}
		}
	}
	return profiles.Number(exact)
}

// same reports whether two gains that are asked for come out the same on this desk,
// neither of them out of its range.
func (p preamp) same(a, b float64) bool {
	gainA, restA := p.split(a)
	gainB, restB := p.split(b)
	_, outside := p.gain.Within(profiles.Number(a))
	if outside != 0 || !p.gain.Same(profiles.Number(gainA), profiles.Number(gainB)) {
		return false
	}
	if p.trim == nil {
		return true
	}
	return p.trim.Same(profiles.Number(restA), profiles.Number(restB))
}

// inSplit reports whether a value is a gain or a trim that belong together, as the
// desk's gain has coarse steps and a layer sets it.
func (k *keeper) inSplit(q profiles.Parameter) bool {
	if q.Name != gainName && q.Name != trimName || k.strip.Performer == nil {
		return false
	}
	p, ok := k.venue.preampAt(q.Place)
	gain, isWanted := k.wanted[profiles.Parameter{Place: q.Place, Name: gainName}]
	return ok && isWanted && p.trim != nil && p.isCoarse(gain.Value)
}

// isCoarse reports whether the desk's gain has coarse steps around one of them.
func (p preamp) isCoarse(step profiles.Value) bool {
	const aside = 0.01 // dB, so that what is asked for lies between two steps
	n, _ := step.Number()
	_, above := p.split(n + aside)
	_, below := p.split(n - aside)
	return above > 0 || below > 0
}

// keepSplit keeps gain and trim together: what the trim makes up for goes into the
// gain, and the trim that the layers ask for beside that stays. It is done once, at the
// gain.
func (k *keeper) keepSplit(q profiles.Parameter) {
	gainAt := profiles.Parameter{Place: q.Place, Name: gainName}
	trimAt := profiles.Parameter{Place: q.Place, Name: trimName}
	p, _ := k.venue.preampAt(q.Place)
	gain, trim := k.wanted[gainAt], k.wanted[trimAt]
	heldGain, knowsGain := k.holds[gainAt].Number()
	heldTrim, knowsTrim := k.holds[trimAt].Number()
	moved := !p.gain.Same(gain.Value, k.holds[gainAt])
	if trim.Value.IsZero() {
		moved = moved || k.moved(trimAt)
	} else {
		moved = moved || !p.trim.Same(trim.Value, k.holds[trimAt])
	}
	if q != gainAt || !knowsGain || !knowsTrim || !moved || k.splitApart(gain, trim) {
		return
	}
	asked, _ := trim.Asked.Number()
	beside := asked - trim.rest
	total := heldGain + heldTrim - beside
	if split, rest := p.split(total); split != heldGain || !p.trim.Same(profiles.Number(beside+rest), k.holds[trimAt]) {
		isSet := !trim.Value.IsZero() && trim.Origin.Layer != ImpliedLayer
		k.add(trimAt, k.tableFor(trimAt, trim, isSet), trimName, k.holds[trimAt])
		total = heldGain
	}
	k.add(gainAt, k.tableFor(gainAt, gain, true), gainName, profiles.Number(total))
}

// splitApart notes a gain and its trim as apart where one of them is not for the
// performer's file.
func (k *keeper) splitApart(both ...Wanted) bool {
	for _, w := range both {
		if w.Value.IsZero() {
			continue
		}
		if why := k.whyApart(w.Parameter, w, true); why != "" {
			control, _ := k.venue.Desk.Profile.Control(w.Parameter)
			k.apart = append(k.apart, Apart{w.Parameter, control.Spec, w.Value, k.holds[w.Parameter], why})
			return true
		}
	}
	return false
}
