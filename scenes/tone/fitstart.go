package tone

import (
	"cmp"
	"math"
	"slices"
)

// guess is a way to use a desk's bands, by slot, between the steps of its grid. A band of
// which the frequency is 0 is not used.
type guess struct {
	bands []Band
	// left is the weighted mean square of what is left of the target, in dB^2.
	left float64
}

// atom is a band that a slot could be, and its curve in dB. A band with gain has
// [atomGain], from which other gains are scaled.
type atom struct {
	// slot is the first of those that can be this band alike.
	slot  int
	band  Band
	curve []float64
	// alone is the weighted mean square of the curve.
	alone float64
}

const atomGain = 6.0

// atomQs are the widths that are tried first.
var atomQs = []float64{0.5, 1, 2, 4, 8}

// atomsOf lists the bands to begin with for a slot: of each kind, three an octave, and
// some widths.
func (f *fitter) atomsOf(slot int) []atom {
	s := f.slots[slot]
	var all []atom
	for _, kind := range s.Kinds {
		for _, hz := range tryAll(s.Frequencies, thirdOctaves[:]) {
			for _, q := range tryAll(s.Qs, atomQs) {
				a := atom{slot: slot, band: Band{Kind: kind, Frequency: hz, Q: q}, curve: make([]float64, len(f.target))}
				if kind.HasGain() {
					a.band.Gain = atomGain
				}
				f.one(a.curve, a.band)
				a.alone = weighted(a.curve, a.curve)
				all = append(all, a)
			}
		}
	}
	return all
}

// tryAll gives those of the values that are within the range of a grid, or the ends of
// it where none is. Without a grid, there is nothing to choose.
func tryAll(grid, values []float64) []float64 {
	if len(grid) == 0 {
		return []float64{0}
	}
	travel := spanOf(grid)
	within := slices.DeleteFunc(slices.Clone(values), func(v float64) bool { return !travel.has(v) })
	if len(within) == 0 {
		return slices.Compact([]float64{travel.low, travel.high})
	}
	return within
}

// one puts the curve of one band alone into curve.
func (f *fitter) one(curve []float64, b Band) {
	f.grid.Curve(curve, f.desk, Shape{Bands: []Band{b}})
}

// atomsOfAll lists those of all slots, of slots that are alike once.
func (f *fitter) atomsOfAll() []atom {
	var atoms []atom
	for slot := range f.slots {
		if f.alike[slot] == slot {
			atoms = append(atoms, f.atomsOf(slot)...)
		}
	}
	return atoms
}

// fromHints puts each hint, those that do most first, into the first slot that can be
// such a band.
func (f *fitter) fromHints(hints []Band) []Band {
	bands := make([]Band, len(f.slots))
	byWeight := slices.Clone(hints)
	slices.SortStableFunc(byWeight, func(a, b Band) int { return cmp.Compare(f.does(b), f.does(a)) })
	for _, hint := range byWeight {
		for slot, s := range f.slots {
			if bands[slot].Frequency == 0 && slices.Contains(s.Kinds, hint.Kind) && f.ranges[slot].frequency.has(hint.Frequency) {
				hint.Q = cmp.Or(hint.Q, PlainQ)
				if hint.Kind == Bell {
					hint.Q = f.desk.ShownQ(hint.Gain, hint.Q)
				}
				bands[slot] = f.inRange(slot, hint)
				break
			}
		}
	}
	return bands
}

// does is the weighted mean square of what a band does.
func (f *fitter) does(b Band) float64 {
	curve := make([]float64, len(f.target))
	f.one(curve, b)
	return weighted(curve, curve)
}

// inRange moves a band's values into the range of a slot.
func (f *fitter) inRange(slot int, b Band) Band {
	r := f.ranges[slot]
	b.Frequency, b.Gain, b.Q = r.frequency.into(b.Frequency), r.gain.into(b.Gain), r.q.into(b.Q)
	return b
}

// offer is a band for a slot, and how much it would take off what is left.
type offer struct {
	slot int
	band Band
	off  float64
}

// offers gives the best bands for the slots that are not used, best first: of each kind,
// at least an octave from each other.
func (f *fitter) offers(bands []Band, left []float64, most int) []offer {
	var all []offer
	for _, a := range f.atoms {
		if slot := f.free(bands, a); slot >= 0 {
			if band, off := f.best(a, left); off > 0 {
				all = append(all, offer{slot, band, off})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b offer) int { return cmp.Compare(b.off, a.off) })
	var chosen []offer
	for _, o := range all {
		if len(chosen) < most && !slices.ContainsFunc(chosen, o.isNear) {
			chosen = append(chosen, o)
		}
	}
	return chosen
}

func (o offer) isNear(c offer) bool {
	return c.slot == o.slot && c.band.Kind == o.band.Kind && math.Abs(math.Log2(c.band.Frequency/o.band.Frequency)) < 1
}

// free finds a slot that is not used and can be the atom, or -1.
func (f *fitter) free(bands []Band, a atom) int {
	if a.band.Kind != Bell && uses(bands, a.band.Kind) {
		return -1
	}
	for slot := a.slot; slot < len(bands); slot++ {
		if f.alike[slot] == a.slot && bands[slot].Frequency == 0 {
			return slot
		}
	}
	return -1
}

// uses reports whether a band is of a kind. Two shelves of a kind against each other are
// hardly ever what is wanted, and a place where a search gets stuck.
func uses(bands []Band, kind Kind) bool {
	return slices.ContainsFunc(bands, func(b Band) bool { return b.Frequency > 0 && b.Kind == kind })
}

// grow fills the slots that are not used, each time with the atom that takes most off
// what is left of the target.
func (f *fitter) grow(bands []Band) guess {
	bands = slices.Clone(bands)
	left := f.leftBy(bands)
	curve := make([]float64, len(left))
	for range bands {
		chosen := offer{slot: -1}
		for _, a := range f.atoms {
			if slot := f.free(bands, a); slot >= 0 {
				if band, off := f.best(a, left); off > chosen.off {
					chosen = offer{slot, band, off}
				}
			}
		}
		if chosen.slot < 0 {
			break
		}
		bands[chosen.slot] = chosen.band
		f.one(curve, chosen.band)
		subtract(left, curve)
	}
	return guess{bands: bands, left: weighted(left, left)}
}

// leftBy is what bands leave of the target.
func (f *fitter) leftBy(bands []Band) []float64 {
	left, curve := slices.Clone(f.target), make([]float64, len(f.target))
	for _, b := range bands {
		if b.Frequency > 0 {
			f.one(curve, b)
			subtract(left, curve)
		}
	}
	return left
}

func subtract(from, curve []float64) {
	for i, c := range curve {
		from[i] -= c
	}
}

// best scales an atom to the gain that takes most off a curve, within its slot's range,
// as if its curve grew in proportion with its gain, and gives what that takes off.
func (f *fitter) best(a atom, left []float64) (Band, float64) {
	along := weighted(left, a.curve)
	if a.alone == 0 {
		return a.band, 0
	}
	scale := 1.0
	if a.band.Kind.HasGain() {
		a.band.Gain = f.ranges[a.slot].gain.into(atomGain * along / a.alone)
		scale = a.band.Gain / atomGain
	}
	return a.band, scale*2*along - scale*scale*a.alone
}

// weighted is the weighted mean product of two curves.
func weighted(a, b []float64) float64 {
	var sum float64
	for i, share := range fitShares {
		sum += share * a[i] * b[i]
	}
	return sum
}
