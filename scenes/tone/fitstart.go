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
	// left is the weighted square of what is left of the target.
	left float64
}

// atom is a band that a slot could be, and its curve in dB. A band with gain has
// [atomGain], from which other gains are scaled.
type atom struct {
	slot  int
	band  Band
	curve []float64
}

const atomGain = 6.0

// atomQs are the widths that are tried first.
var atomQs = []float64{0.5, 1, 2, 4, 8}

// atoms lists the bands to begin with: of each kind, three an octave, and some widths.
func (f *fitter) atoms(slot int) []atom {
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
	low, high := slices.Min(grid), slices.Max(grid)
	within := slices.DeleteFunc(slices.Clone(values), func(v float64) bool { return v < low || v > high })
	if len(within) == 0 {
		return slices.Compact([]float64{low, high})
	}
	return within
}

// one puts the curve of one band alone into curve.
func (f *fitter) one(curve []float64, b Band) {
	f.grid.Curve(curve, f.desk, Shape{Bands: []Band{b}})
}

// allAtoms lists those of all slots.
func (f *fitter) allAtoms() []atom {
	var atoms []atom
	for slot := range f.slots {
		if same := f.sameSlot(slot); same < slot {
			atoms = append(atoms, ofSlot(atoms, same, slot)...)
			continue
		}
		atoms = append(atoms, f.atoms(slot)...)
	}
	return atoms
}

// starts gives the guesses to begin with: the hints as they are, as far as there are
// slots, and guesses that grow band by band from different first ones.
func (f *fitter) starts(hints []Band, atoms []atom) []guess {
	starts := []guess{f.grow(f.fromHints(hints), atoms)}
	for _, first := range f.firsts(atoms) {
		starts = append(starts, f.grow(first, atoms))
	}
	return starts
}

// sameSlot gives the first slot that can be set to the same as this one.
func (f *fitter) sameSlot(slot int) int {
	return slices.IndexFunc(f.slots, func(o Slot) bool {
		s := f.slots[slot]
		return slices.Equal(s.Kinds, o.Kinds) && slices.Equal(s.Frequencies, o.Frequencies) &&
			slices.Equal(s.Gains, o.Gains) && slices.Equal(s.Qs, o.Qs)
	})
}

func ofSlot(atoms []atom, from, to int) []atom {
	var all []atom
	for _, a := range atoms {
		if a.slot == from {
			a.slot = to
			all = append(all, a)
		}
	}
	return all
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

// does is the weighted square of what a band does.
func (f *fitter) does(b Band) float64 {
	curve := make([]float64, len(f.target))
	f.one(curve, b)
	return weighted(curve, curve)
}

// inRange moves a band's values into the range of a slot.
func (f *fitter) inRange(slot int, b Band) Band {
	r := f.ranges[slot]
	b.Frequency, b.Gain, b.Q = r.frequency.into(b.Frequency), r.gain.into(b.Gain), r.q.into(cmp.Or(b.Q, PlainQ))
	return b
}

// firsts gives the first bands from which different guesses grow: of each kind and
// slot, the ones that take most off the target, an octave apart.
func (f *fitter) firsts(atoms []atom) [][]Band {
	type first struct {
		band Band
		slot int
		off  float64
	}
	var ranked []first
	for _, a := range atoms {
		if f.sameSlot(a.slot) < a.slot {
			continue
		}
		band, off := f.best(a, f.target)
		ranked = append(ranked, first{band, a.slot, off})
	}
	slices.SortStableFunc(ranked, func(a, b first) int { return cmp.Compare(b.off, a.off) })
	var chosen []first
	for _, r := range ranked {
		near := slices.ContainsFunc(chosen, func(c first) bool {
			return c.slot == r.slot && c.band.Kind == r.band.Kind && math.Abs(math.Log2(c.band.Frequency/r.band.Frequency)) < 1
		})
		if !near && r.off > 0 {
			chosen = append(chosen, r)
		}
	}
	var all [][]Band
	for _, c := range chosen[:min(len(chosen), tried)] {
		bands := make([]Band, len(f.slots))
		bands[c.slot] = c.band
		all = append(all, bands)
	}
	return all
}

// tried is how many first bands are tried.
const tried = 24

// grow fills the slots that are not used, each time with the atom that takes most off
// what is left of the target.
func (f *fitter) grow(bands []Band, atoms []atom) guess {
	left := slices.Clone(f.target)
	curve := make([]float64, len(left))
	for slot := range bands {
		if bands[slot].Frequency > 0 {
			f.one(curve, bands[slot])
			subtract(left, curve)
		}
	}
	for range bands {
		most, chosen, at := 0.0, Band{}, -1
		for _, a := range atoms {
			if bands[a.slot].Frequency > 0 || a.band.Kind != Bell && uses(bands, a.band.Kind) {
				continue
			}
			if band, off := f.best(a, left); off > most {
				most, chosen, at = off, band, a.slot
			}
		}
		if at < 0 {
			break
		}
		bands[at] = chosen
		f.one(curve, chosen)
		subtract(left, curve)
	}
	return guess{bands: bands, left: weighted(left, left) / weightSum}
}

// uses reports whether a band is of a kind. Two shelves of a kind against each other are
// hardly ever what is wanted, and a place where a search gets stuck.
func uses(bands []Band, kind Kind) bool {
	return slices.ContainsFunc(bands, func(b Band) bool { return b.Frequency > 0 && b.Kind == kind })
}

func subtract(from, curve []float64) {
	for i, c := range curve {
		from[i] -= c
	}
}

// best scales an atom to the gain that takes most off a curve, within its slot's range,
// as if its curve grew in proportion with its gain, and gives what that takes off.
func (f *fitter) best(a atom, left []float64) (Band, float64) {
	along, alone := weighted(left, a.curve), weighted(a.curve, a.curve)
	if alone == 0 {
		return a.band, 0
	}
	scale := 1.0
	if a.band.Kind.HasGain() {
		a.band.Gain = f.ranges[a.slot].gain.into(atomGain * along / alone)
		scale = a.band.Gain / atomGain
	}
	return a.band, scale*2*along - scale*scale*alone
}

// weighted is the weighted product of two curves.
func weighted(a, b []float64) float64 {
	var sum float64
	for i := range a {
		sum += float64(fitWeights[i]) * a[i] * b[i]
	}
	return sum
}
