package tone

import (
	"cmp"
	"math"
	"slices"
)

// How finely a guess is refined: coarsely to compare it with others, finely before it
// goes onto the grid. See [refining.search].
const (
	coarsely = 1e-3
	finely   = 1e-6
)

// refine moves all bands of a guess together to where the error is least nearby.
func (f *fitter) refine(start guess, settles float64) guess {
	knobs := f.knobs(start.bands)
	if len(knobs) == 0 {
		return start
	}
	r := f.refining(knobs, start.bands)
	x := make([]float64, len(knobs))
	for i, k := range knobs {
		x[i] = k.turned(*k.of(&r.bands[k.slot]))
	}
	left := r.search(x, settles)
	bands := slices.Clone(r.set(x))
	f.sort(bands)
	return guess{bands: bands, left: left}
}

// sort puts the bands of slots that are alike in order of frequency, those not used last:
// how they came to their slots, by the last bits of a sum, must not be seen.
func (f *fitter) sort(bands []Band) {
	for slot, first := range f.alike {
		for other := slot + 1; other < len(bands); other++ {
			if f.alike[other] == first && cmp.Compare(rank(bands[other]), rank(bands[slot])) < 0 {
				bands[slot], bands[other] = bands[other], bands[slot]
			}
		}
	}
}

func rank(b Band) float64 {
	if b.Frequency == 0 {
		return math.Inf(1)
	}
	return b.Frequency
}

// refining is one search by [fitter.refine].
//
// A search is long, and the last bits of its sums would soon lead two machines to different
// places: one has a multiplication and addition in one, or another logarithm. So whatever
// comes from a curve is rounded, far above those bits and far below what can be heard,
// and all that follows is written so that each step is rounded alike everywhere: the
// conversions to float64 keep products and sums apart (The Go Programming Language
// Specification, Floating-point operators). Libraries for matrices don't promise that.
type refining struct {
	*fitter
	knobs []knob
	bands []Band
	// powers are the factors of power of each band alone.
	powers [][]float64
	// left is what is left of the target, and slopes are, by knob, how the curve changes
	// as it is turned; both times the roots of the weights.
	left   []float64
	slopes [][]float64
	// square is the product of the slopes with each other, along that with what is left.
	square, root [][]float64
	along, turn  []float64
}

func (f *fitter) refining(knobs []knob, bands []Band) *refining {
	n, points := len(knobs), len(f.target)
	return &refining{fitter: f, knobs: knobs, bands: slices.Clone(bands),
		powers: rows(len(bands), points), left: make([]float64, points), slopes: rows(n, points),
		square: rows(n, n), root: rows(n, n), along: make([]float64, n), turn: make([]float64, n)}
}

func rows(n, length int) [][]float64 {
	all := make([][]float64, n)
	for i := range all {
		all[i] = make([]float64, length)
	}
	return all
}

// search moves x downhill and gives the error there: least squares after Levenberg and
// Marquardt, which takes the bends of the curves from their slopes (D. W. Marquardt, "An
// algorithm for least-squares estimation of nonlinear parameters", J. SIAM 11(2), 1963).
// It ends where a round takes less than the part settles off the error. BFGS of
// gonum/optimize, which knows no sum of squares, took six times as many rounds.
func (r *refining) search(x []float64, settles float64) float64 {
	const (
		most    = 60   // rounds
		least   = 1e-9 // dB^2, far below what the grid leaves
		careful = 1e8  // where damping has made the steps nothing
	)
	damping, error := 1e-2, r.error(x)
	next := make([]float64, len(x))
	r.linear(x)
	for range most {
		if error < least || damping > careful {
			break
		}
		if !r.solve(damping) {
			damping *= 10
			continue
		}
		for i := range next {
			next[i] = x[i] + r.turn[i]
		}
		found := r.error(next)
		if !(found < error) {
			damping *= 6
			continue
		}
		settled := error-found < settles*error
		copy(x, next)
		error, damping = found, damping/6
		if settled {
			break
		}
		r.linear(x)
	}
	return error
}

// solve gives the turn of each knob that would be right if the curves were straight, held
// back by damping: by the root of the damped square after Cholesky.
func (r *refining) solve(damping float64) bool {
	const still = 1e-9 // a knob that moves nothing, as the Q of a band without gain, stays
	for i, row := range r.root {
		for j := range i + 1 {
			rest := r.square[i][j]
			if i == j {
				rest = float64(rest*(1+damping)) + still
			}
			rest -= dot(row[:j], r.root[j][:j])
			switch {
			case i > j:
				row[j] = rest / r.root[j][j]
			case rest > 0:
				row[i] = math.Sqrt(rest)
			default:
				return false
			}
		}
	}
	for i, row := range r.root {
		r.turn[i] = (r.along[i] - dot(row[:i], r.turn[:i])) / row[i]
	}
	for i := len(r.root) - 1; i >= 0; i-- {
		for j := i + 1; j < len(r.root); j++ {
			r.turn[i] -= float64(r.root[j][i] * r.turn[j])
		}
		r.turn[i] /= r.root[i][i]
	}
	return true
}

// dot is the product of two rows, the same to the bit on every machine. Four sums at a
// time don't wait for each other.
func dot(a, b []float64) float64 {
	var sums [4]float64
	b = b[:len(a)]
	for len(a) >= 4 {
		sums[0] += float64(a[0] * b[0])
		sums[1] += float64(a[1] * b[1])
		sums[2] += float64(a[2] * b[2])
		sums[3] += float64(a[3] * b[3])
		a, b = a[4:], b[4:]
	}
	for i, v := range a {
		sums[0] += float64(v * b[i])
	}
	return sums[0] + sums[1] + (sums[2] + sums[3])
}

// rounded gives a number in millionths.
func rounded(v float64) float64 { return math.RoundToEven(v*1e6) / 1e6 }

func (r *refining) set(x []float64) []Band {
	for i, k := range r.knobs {
		*k.of(&r.bands[k.slot]) = k.value(x[i])
	}
	return r.bands
}

// error gives the weighted mean square of what is left of the target, in dB^2.
func (r *refining) error(x []float64) float64 {
	left := r.left
	fill(left)
	for slot, b := range r.set(x) {
		if b.Frequency == 0 {
			continue
		}
		fill(r.powers[slot])
		r.grid.band(r.powers[slot], r.desk, b)
		for i, power := range r.powers[slot] {
			left[i] *= power
		}
	}
	for i, power := range left {
		left[i] = fitRoots[i] * rounded(r.target[i]-level(power))
	}
	return dot(left, left)
}

// linear works out the slopes at x, where error has just been worked out, and their
// products. The logarithm of a small change p is p - p^2/2 + p^3/3, to p^4/4. A knob
// is turned towards the middle, so that a target upside down is fitted alike.
func (r *refining) linear(x []float64) {
	for i, k := range r.knobs {
		turn := math.Copysign(0.01, -x[i])
		b := r.bands[k.slot]
		*k.of(&b) = k.value(x[i] + turn)
		slope := r.slopes[i]
		fill(slope)
		r.grid.band(slope, r.desk, b)
		for j, moved := range slope {
			part := moved/max(r.powers[k.slot][j], floor) - 1
			slope[j] = fitRoots[j] * (decibels / turn) * rounded(part*(1-part*(1./2-part/3)))
		}
		r.along[i] = dot(slope, r.left)
		for j := range i + 1 {
			r.square[i][j] = dot(slope, r.slopes[j])
		}
	}
}
