package tone

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// knob is one control of one slot, as an unbounded number that a search may move: the
// control's travel is middle + half * sin(x).
type knob struct {
	slot         int
	of           func(*Band) *float64
	logarithmic  bool
	middle, half float64
}

func (k knob) value(x float64) float64 {
	travel := k.middle + k.half*math.Sin(x)
	if k.logarithmic {
		return math.Exp(travel)
	}
	return travel
}

// turned gives the x of a value. At the very ends of its travel a knob would never
// move, so it starts a little inside.
func (k knob) turned(value float64) float64 {
	if k.logarithmic {
		value = math.Log(value)
	}
	const inside = 0.98
	return math.Asin(min(max((value-k.middle)/k.half, -inside), inside))
}

// knobs lists what can be moved of the bands in use.
func (f *fitter) knobs(bands []Band) []knob {
	var all []knob
	add := func(k knob, travel span) {
		if k.logarithmic && travel.low > 0 {
			travel = span{math.Log(travel.low), math.Log(travel.high)}
		}
		k.middle, k.half = (travel.low+travel.high)/2, (travel.high-travel.low)/2
		if k.half > 0 {
			all = append(all, k)
		}
	}
	for slot, b := range bands {
		if b.Frequency == 0 {
			continue
		}
		add(knob{slot: slot, of: func(b *Band) *float64 { return &b.Frequency }, logarithmic: true}, f.ranges[slot].frequency)
		add(knob{slot: slot, of: func(b *Band) *float64 { return &b.Q }, logarithmic: true}, f.ranges[slot].q)
		if b.Kind.HasGain() {
			add(knob{slot: slot, of: func(b *Band) *float64 { return &b.Gain }}, f.ranges[slot].gain)
		}
	}
	return all
}

// refine moves all bands of a guess together to where the error is least nearby.
func (f *fitter) refine(start guess) guess {
	knobs := f.knobs(start.bands)
	if len(knobs) == 0 {
		return start
	}
	Refines++
	r := f.refining(knobs, start.bands)
	x := make([]float64, len(knobs))
	for i, k := range knobs {
		x[i] = k.turned(*k.of(&r.bands[k.slot]))
	}
	left := r.search(x)
	return guess{bands: slices.Clone(r.set(x)), left: left}
}

// reseed takes away one band at a time, or two, grows others in their place and refines,
// as long as that leaves less of the target. A search downhill may leave a band stranded
// where it does nothing, or two against each other.
func (f *fitter) reseed(g guess) guess {
	for better := true; better && g.left > nothing; {
		better = false
		for slot := range f.slots {
			for second := range slot + 1 {
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
	for _, o := range f.offers(rest, f.leftBy(rest), Replants) {
		bands := slices.Clone(rest)
		bands[o.slot] = o.band
		if other := f.refine(f.grow(bands)); other.left < g.left {
			g = other
		}
	}
	return g
}

var Replants = 6

// nothing is what is left in dB^2 where no grid could be nearer.
const nothing = 1e-6

// reseedGain is how much less a reseeded guess must leave to be taken, so that the search
// ends.
const reseedGain = 0.99

// refining is one search by [fitter.refine].
type refining struct {
	*fitter
	knobs []knob
	bands []Band
	// powers are the factors of power of each band alone.
	powers [][]float64
	// left is what is left of the target, and slopes are, by knob, how the curve changes
	// as it is turned; both times the roots of the weights.
	left   *mat.VecDense
	slopes *mat.Dense
	// square is the product of the slopes with each other, along that with what is left.
	square, damped *mat.SymDense
	along, turn    *mat.VecDense
}

func (f *fitter) refining(knobs []knob, bands []Band) *refining {
	n, points := len(knobs), len(f.target)
	return &refining{fitter: f, knobs: knobs, bands: slices.Clone(bands),
		powers: rows(len(bands), points), left: mat.NewVecDense(points, nil), slopes: mat.NewDense(n, points, nil),
		square: mat.NewSymDense(n, nil), damped: mat.NewSymDense(n, nil),
		along: mat.NewVecDense(n, nil), turn: mat.NewVecDense(n, nil)}
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
func (r *refining) search(x []float64) float64 {
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
			next[i] = x[i] + r.turn.AtVec(i)
		}
		found := r.error(next)
		if !(found < error) {
			damping *= 6
			continue
		}
		settled := error-found < 1e-5*error
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
// back by damping.
func (r *refining) solve(damping float64) bool {
	r.damped.CopySym(r.square)
	for i := range r.knobs {
		const still = 1e-9 // a knob that moves nothing, as the Q of a band without gain, stays
		r.damped.SetSym(i, i, r.square.At(i, i)*(1+damping)+still)
	}
	root, ok := lapack64.Potrf(r.damped.RawSymmetric())
	if !ok {
		return false
	}
	r.turn.CopyVec(r.along)
	lapack64.Potrs(root, blas64.General{Rows: len(r.knobs), Cols: 1, Stride: 1, Data: r.turn.RawVector().Data})
	return true
}

func (r *refining) set(x []float64) []Band {
	for i, k := range r.knobs {
		*k.of(&r.bands[k.slot]) = k.value(x[i])
	}
	return r.bands
}

// error gives the weighted mean square of what is left of the target, in dB^2.
func (r *refining) error(x []float64) float64 {
	left := r.left.RawVector().Data
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
	var sum float64
	for i, power := range left {
		left[i] = fitRoots[i] * (r.target[i] - level(power))
		sum += left[i] * left[i]
	}
	return sum
}

// linear works out the slopes at x, where error has just been worked out, and their
// products. A small change of a power, as a part of it, is one of its logarithm.
var Refines, Linears int

func (r *refining) linear(x []float64) {
	Linears++
	const turn = 1e-6
	for i, k := range r.knobs {
		b := r.bands[k.slot]
		*k.of(&b) = k.value(x[i] + turn)
		slope := r.slopes.RawRowView(i)
		fill(slope)
		r.grid.band(slope, r.desk, b)
		for j, moved := range slope {
			slope[j] = fitRoots[j] * decibels / turn * (moved/max(r.powers[k.slot][j], floor) - 1)
		}
	}
	r.square.SymOuterK(1, r.slopes)
	r.along.MulVec(r.slopes, r.left)
}

// fitShares are the weights as parts of their sum, and fitRoots the roots of those.
var fitShares, fitRoots = func() (shares, roots []float64) {
	var sum float64
	for _, w := range fitWeights {
		sum += float64(w)
	}
	for _, w := range fitWeights {
		shares = append(shares, float64(w)/sum)
		roots = append(roots, math.Sqrt(float64(w)/sum))
	}
	return shares, roots
}()

// steps is where one band stands on its slot's grid.
type steps struct {
	kind               int
	frequency, gain, q int
	off                bool
}

// snap puts a guess on the grid.
func (f *fitter) snap(g guess) []steps {
	all := make([]steps, len(f.slots))
	for slot, b := range g.bands {
		s := f.slots[slot]
		all[slot] = steps{
			kind:      max(slices.Index(s.Kinds, b.Kind), 0),
			frequency: nearest(s.Frequencies, b.Frequency, logDistance),
			gain:      nearest(s.Gains, b.Gain, distance),
			q:         nearest(s.Qs, b.Q, logDistance),
			off:       b.Frequency == 0,
		}
	}
	return all
}

func nearest(grid []float64, v float64, apart func(a, b float64) float64) int {
	best := 0
	for i := range grid {
		if cmp.Less(apart(grid[i], v), apart(grid[best], v)) {
			best = i
		}
	}
	return best
}

func distance(a, b float64) float64    { return math.Abs(a - b) }
func logDistance(a, b float64) float64 { return math.Abs(math.Log(a / b)) }
