package tone

import (
	"cmp"
	"slices"
)

// guess is a way to use a desk's bands, by slot, between the steps of its grid. A band of
// which the frequency is 0 is not used.
type guess struct {
	bands []Band
	// left is the weighted mean square of what is left of the target, in dB^2.
	left float64
}

const (
	// refined is how many starts are worth being refined, and reseeded how many of those
	// are worth the whole search.
	refined  = 12
	reseeded = 2
	// firsts is how many first bands are tried, pairings how many first pairs, and
	// seconds how many second pairs with each.
	firsts   = 24
	pairings = 6
	seconds  = 3
)

// promising gives guesses worth the whole search, the one from the hints first.
func (f *fitter) promising(hinted []Band) []guess {
	found := []guess{f.refine(f.grow(hinted), coarsely)}
	for _, start := range least(f.starts(), refined) {
		found = append(found, f.refine(start, coarsely))
	}
	return apart(found, reseeded)
}

// starts gives guesses that grow from different first bands, and from different pairs.
func (f *fitter) starts() []guess {
	var starts []guess
	none := make([]Band, len(f.slots))
	for _, o := range f.offers(none, f.target, firsts) {
		starts = append(starts, f.grow(with(none, o)))
	}
	for _, p := range f.pairs(none, f.target, pairings) {
		bands := with(none, p.first, p.second)
		starts = append(starts, f.grow(bands))
		for _, next := range f.pairs(bands, f.leftBy(bands), seconds) {
			starts = append(starts, f.grow(with(bands, next.first, next.second)))
		}
	}
	return starts
}

// with gives bands with others in their slots.
func with(bands []Band, offers ...offer) []Band {
	bands = slices.Clone(bands)
	for _, o := range offers {
		bands[o.slot] = o.band
	}
	return bands
}

// least gives the guesses that leave the least of the target, best first.
func least(guesses []guess, n int) []guess {
	slices.SortStableFunc(guesses, func(a, b guess) int { return cmp.Compare(a.left, b.left) })
	return guesses[:min(n, len(guesses))]
}

// apart gives the best guesses of which no two leave the same, within one in a hundred:
// those are one.
func apart(guesses []guess, n int) []guess {
	var all []guess
	for _, g := range least(guesses, len(guesses)) {
		if len(all) == 0 || g.left > 1.01*all[len(all)-1].left+nothing {
			all = append(all, g)
		}
	}
	return all[:min(n, len(all))]
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
				if band, off := f.best(a, slot, left); off > chosen.off {
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
