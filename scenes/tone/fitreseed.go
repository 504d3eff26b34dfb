package tone

import (
	"math/rand/v2"
	"slices"
)

const (
	// replants is how many bands are tried in the place of one, and pairReplants how many
	// pairs in the place of two.
	replants     = 6
	pairReplants = 3
	// kicks is how often two bands of a guess are planted by chance, kicked of how many.
	kicked = 2
	kicks  = 60
	// reseedGain is how much less a reseeded guess must leave to be taken, so that the
	// search ends.
	reseedGain = 0.99
	// nothing is what is left in dB^2 where no grid could be nearer.
	nothing = 1e-6
)

// reseed takes away one band at a time, or two, grows others in their place and refines,
// as long as that leaves less of the target. A search downhill may leave a band stranded
// where it does nothing, or two against each other.
func (f *fitter) reseed(g guess) guess {
	for better := true; better; {
		better = false
		for slot := range f.slots {
			for second := range slot + 1 {
				if g.left < nothing {
					return g
				}
				if other := f.replant(g, slot, second); other.left < g.left*reseedGain {
					g, better = other, true
				}
			}
		}
	}
	return g
}

// replant takes two bands away, which may be the same, and gives the best of those
// guesses that others in their place lead to.
func (f *fitter) replant(g guess, slot, second int) guess {
	rest := slices.Clone(g.bands)
	rest[slot], rest[second] = Band{}, Band{}
	left := f.leftBy(rest)
	var tries [][]Band
	if slot == second {
		for _, o := range f.offers(rest, left, replants) {
			tries = append(tries, with(rest, o))
		}
	} else {
		for _, p := range f.pairs(rest, left, pairReplants) {
			tries = append(tries, with(rest, p.first, p.second))
		}
	}
	for _, bands := range tries {
		g = g.or(f.refine(f.grow(bands), coarsely))
	}
	return g
}

// or gives the better of two guesses. One with a low shelf above its high shelf is
// taken only from hints: it does nearly what two shelves apart from each other do, no
// search gets from one to the other, and nobody sets a desk like that.
func (g guess) or(o guess) guess {
	if o.left < g.left && !o.isCrossed() {
		return o
	}
	return g
}

func (g guess) isCrossed() bool {
	for _, low := range g.bands {
		for _, high := range g.bands {
			if low.Kind == LowShelf && high.Kind == HighShelf && low.Frequency > high.Frequency && high.Frequency > 0 {
				return true
			}
		}
	}
	return false
}

// kickOn kicks a guess, and reseeds it if that made it better.
func (f *fitter) kickOn(g guess) guess {
	if k := f.kick(g); k.left < g.left {
		return f.refine(f.reseed(k), finely)
	}
	return g
}

// kick plants two bands by chance, again and again, and keeps what is better. The chance
// is the same each time.
func (f *fitter) kick(g guess) guess {
	random := rand.New(rand.NewPCG(63, 16000))
	for range kicks {
		if g.left < nothing || len(f.atoms) == 0 {
			break
		}
		bands := slices.Clone(g.bands)
		moved := random.Perm(len(bands))[:min(2, len(bands))]
		for _, slot := range moved {
			bands[slot] = Band{}
		}
		for range moved {
			bands = f.plant(bands, random)
		}
		g = g.or(f.refine(f.grow(bands), coarsely))
	}
	return g
}

// plant puts an atom that takes something off what is left into a free slot, if a few
// tries find one.
func (f *fitter) plant(bands []Band, random *rand.Rand) []Band {
	left := f.leftBy(bands)
	for range 10 {
		a := f.atoms[random.IntN(len(f.atoms))]
		if slot := f.free(bands, a); slot >= 0 {
			if band, off := f.best(a, slot, left); off > 0 {
				return with(bands, offer{slot: slot, band: band})
			}
		}
	}
	return bands
}
