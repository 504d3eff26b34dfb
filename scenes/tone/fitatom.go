package tone

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// atom is a band that a slot could be, and its curve in dB. A band with gain has
// [atomGain], from which other gains are scaled.
type atom struct {
	// slots are those that can be this band, with any gain.
	slots []int
	band  Band
	curve []float64
	// alone is the weighted mean square of the curve.
	alone float64
}

const atomGain = 6.0

// atomQs are the widths that are tried first.
var atomQs = []float64{0.5, 1, 2, 4, 8}

// allAtoms lists the bands to begin with: of each kind, three an octave, and some widths.
func (f *fitter) allAtoms() []atom {
	var all []atom
	at := make(map[Band]int)
	for slot, s := range f.slots {
		for _, kind := range s.Kinds {
			for _, hz := range tryAll(s.Frequencies, corners(kind)) {
				for _, q := range tryAll(s.Qs, atomQs) {
					b := Band{Kind: kind, Frequency: hz, Q: q}
					if kind.HasGain() {
						b.Gain = atomGain
					}
					i, known := at[b]
					if !known {
						i = len(all)
						at[b] = i
						all = append(all, f.atomOf(b))
					}
					all[i].slots = append(all[i].slots, slot)
				}
			}
		}
	}
	return all
}

// corners are the frequencies that are tried first: of a low shelf the lower ones, of a high
// shelf the higher. Two shelves that cross do together what two others do apart from each
// other, nearly, and no search gets from one to the other.
func corners(kind Kind) []float64 {
	const middle = 12 // 1 kHz
	switch kind {
	case LowShelf:
		return thirdOctaves[:middle+1]
	case HighShelf:
		return thirdOctaves[middle:]
	}
	return thirdOctaves[:]
}

func (f *fitter) atomOf(b Band) atom {
	a := atom{band: b, curve: make([]float64, len(f.target))}
	f.one(a.curve, a.band)
	a.alone = weighted(a.curve, a.curve)
	return a
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

// allProducts gives the weighted mean products of the atoms' curves with each other.
func (f *fitter) allProducts() *mat.SymDense {
	if len(f.atoms) == 0 {
		return nil
	}
	all := mat.NewDense(len(f.atoms), len(f.target), nil)
	for i, a := range f.atoms {
		row := all.RawRowView(i)
		for j, c := range a.curve {
			row[j] = fitRoots[j] * c
		}
	}
	var products mat.SymDense
	products.SymOuterK(1, all)
	return &products
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
			if band, off := f.best(a, slot, left); off > 0 {
				all = append(all, offer{slot, band, off})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b offer) int { return cmp.Compare(b.off, a.off) })
	return unlike(all, most, offer.isNear)
}

// unlike gives the first few of which none is near another.
func unlike[T any](all []T, most int, isNear func(a, b T) bool) []T {
	var chosen []T
	for _, one := range all {
		if len(chosen) == most {
			break
		}
		if !slices.ContainsFunc(chosen, func(c T) bool { return isNear(one, c) }) {
			chosen = append(chosen, one)
		}
	}
	return chosen
}

func (o offer) isNear(c offer) bool {
	return c.band.Kind == o.band.Kind && math.Abs(math.Log2(c.band.Frequency/o.band.Frequency)) < 1
}

// free finds a slot that is not used and can be the atom, or -1.
func (f *fitter) free(bands []Band, a atom) int {
	if a.band.Kind != Bell && uses(bands, a.band.Kind) {
		return -1
	}
	for _, slot := range a.slots {
		if bands[slot].Frequency == 0 {
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

// best scales an atom to the gain that takes most off a curve, within its slot's range,
// as if its curve grew in proportion with its gain, and gives what that takes off.
func (f *fitter) best(a atom, slot int, left []float64) (Band, float64) {
	along := weighted(left, a.curve)
	if a.alone == 0 {
		return a.band, 0
	}
	scale := 1.0
	if a.band.Kind.HasGain() {
		a.band.Gain = f.ranges[slot].gain.into(atomGain * along / a.alone)
		scale = a.band.Gain / atomGain
	}
	return a.band, scale*2*along - scale*scale*a.alone
}
