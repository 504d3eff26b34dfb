package tone

import (
	"cmp"
	"slices"
)

// pair is two bands together, and how much they would take off what is left.
type pair struct {
	first, second offer
	off           float64
}

// seat is where an atom may go: the first two free slots that it may be in, -1 for none.
type seat struct{ first, second int }

// seatOf finds where an atom may go. One without gain is no part of a pair.
func (f *fitter) seatOf(bands []Band, a atom) seat {
	s := seat{-1, -1}
	if !a.band.Kind.HasGain() || a.band.Kind != Bell && uses(bands, a.band.Kind) {
		return s
	}
	for _, slot := range a.slots {
		switch {
		case bands[slot].Frequency > 0:
		case s.first < 0:
			s.first = slot
		case s.second < 0:
			s.second = slot
		}
	}
	return s
}

// with gives two atoms different slots.
func (s seat) with(o seat) (int, int, bool) {
	switch {
	case s.first < 0 || o.first < 0:
		return 0, 0, false
	case s.first != o.first:
		return s.first, o.first, true
	case o.second >= 0:
		return s.first, o.second, true
	case s.second >= 0:
		return s.second, o.first, true
	}
	return 0, 0, false
}

// ridge keeps two atoms that are nearly alike from gains against each other.
const ridge = 0.02

// pairs gives the best pairs of bands for the slots that are not used, best first and no
// two much alike.
func (f *fitter) pairs(bands []Band, left []float64, most int) []pair {
	seats, along := make([]seat, len(f.atoms)), make([]float64, len(f.atoms))
	for i, a := range f.atoms {
		seats[i], along[i] = f.seatOf(bands, a), weighted(left, a.curve)
	}
	var all []pair
	for i := range f.atoms {
		if j := f.partner(i, seats, along); j >= 0 {
			all = append(all, f.pairOf(i, j, seats, along))
		}
	}
	slices.SortStableFunc(all, func(a, b pair) int { return cmp.Compare(b.off, a.off) })
	return unlike(all, most, pair.isNear)
}

// partner finds the later atom with which one takes most off what is left, or -1: the
// least squares of two gains, in closed form.
func (f *fitter) partner(i int, seats []seat, along []float64) int {
	if seats[i].first < 0 {
		return -1
	}
	raw := f.products.RawSymmetric()
	row := raw.Data[i*raw.Stride : i*raw.Stride+raw.N]
	kind, own := f.atoms[i].band.Kind, row[i]*(1+ridge)
	most, at := 0.0, -1
	for j := i; j < len(row); j++ {
		if seats[j].first < 0 || kind != Bell && f.atoms[j].band.Kind == kind {
			continue
		}
		other, cross := f.atoms[j].alone*(1+ridge), row[j]
		off := (along[i]*along[i]*other - 2*along[i]*along[j]*cross + along[j]*along[j]*own) / (own*other - cross*cross)
		if off <= most {
			continue
		}
		if _, _, ok := seats[i].with(seats[j]); ok {
			most, at = off, j
		}
	}
	return at
}

// pairOf gives two atoms the gains that take most off together.
func (f *fitter) pairOf(i, j int, seats []seat, along []float64) pair {
	a, b := f.atoms[i], f.atoms[j]
	own, other, cross := a.alone*(1+ridge), b.alone*(1+ridge), f.products.At(i, j)
	det := own*other - cross*cross
	x, y := (along[i]*other-along[j]*cross)/det, (along[j]*own-along[i]*cross)/det
	p := pair{first: offer{band: a.band}, second: offer{band: b.band}, off: x*along[i] + y*along[j]}
	p.first.slot, p.second.slot, _ = seats[i].with(seats[j])
	p.first.band.Gain = f.ranges[p.first.slot].gain.into(atomGain * x)
	p.second.band.Gain = f.ranges[p.second.slot].gain.into(atomGain * y)
	return p
}

func (p pair) isNear(c pair) bool {
	return p.first.isNear(c.first) && p.second.isNear(c.second) || p.first.isNear(c.second) && p.second.isNear(c.first)
}
