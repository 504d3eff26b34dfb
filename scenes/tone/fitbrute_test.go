package tone_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"sort"
	"testing"

	"deskhand/scenes/tone"
)

// The speech spectrum of shared third-octaves in dB, typed in from D. Byrne et al., JASA
// 96(4), 1994, for the weights of the brute force.
var (
	byrneHz = []float64{63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000,
		6300, 8000, 10000, 12500, 16000}
	byrneLevels = []float64{38.6, 43.5, 54.4, 57.7, 56.8, 60.2, 60.3, 59.0, 62.1, 62.1, 60.5, 56.8, 53.7, 53.0, 52.0, 48.7, 48.1,
		46.8, 45.6, 44.5, 44.3, 43.7, 43.4, 41.3, 40.7}
)

// bruteWeights are the sound pressures of speech at six points an octave, as parts of
// their sum.
func bruteWeights() (hz, weights []float64) {
	var sum float64
	for i := range 49 {
		f := 62.5 * math.Pow(2, float64(i)/6)
		above := min(max(sort.SearchFloat64s(byrneHz, f), 1), len(byrneHz)-1)
		part := math.Log(f/byrneHz[above-1]) / math.Log(byrneHz[above]/byrneHz[above-1])
		part = min(max(part, 0), 1)
		level := byrneLevels[above-1]*(1-part) + byrneLevels[above]*part
		hz, weights = append(hz, f), append(weights, math.Pow(10, level/20))
		sum += weights[i]
	}
	for i := range weights {
		weights[i] /= sum
	}
	return hz, weights
}

// cookbook is the curve in dB of a band of R. Bristow-Johnson's Audio EQ Cookbook, from
// its coefficients, at a sample rate.
func cookbook(b tone.Band, rate float64, hz []float64) []float64 {
	a := math.Pow(10, b.Gain/40)
	w0 := 2 * math.Pi * b.Frequency / rate
	c, alpha := math.Cos(w0), math.Sin(w0)/(2*b.Q)
	r := 2 * math.Sqrt(a) * alpha
	var up, down [3]float64
	switch b.Kind {
	case tone.Bell:
		up, down = [3]float64{1 + alpha*a, -2 * c, 1 - alpha*a}, [3]float64{1 + alpha/a, -2 * c, 1 - alpha/a}
	case tone.LowShelf:
		up = [3]float64{a * (a + 1 - (a-1)*c + r), 2 * a * (a - 1 - (a+1)*c), a * (a + 1 - (a-1)*c - r)}
		down = [3]float64{a + 1 + (a-1)*c + r, -2 * (a - 1 + (a+1)*c), a + 1 + (a-1)*c - r}
	case tone.HighShelf:
		up = [3]float64{a * (a + 1 + (a-1)*c + r), -2 * a * (a - 1 + (a+1)*c), a * (a + 1 + (a-1)*c - r)}
		down = [3]float64{a + 1 - (a-1)*c + r, 2 * (a - 1 - (a+1)*c), a + 1 - (a-1)*c - r}
	}
	curve := make([]float64, len(hz))
	for i, f := range hz {
		z := cmplx.Rect(1, -2*math.Pi*f/rate)
		of := func(k [3]float64) complex128 {
			return complex(k[0], 0) + complex(k[1], 0)*z + complex(k[2], 0)*z*z
		}
		curve[i] = 20 * math.Log10(cmplx.Abs(of(up))/cmplx.Abs(of(down)))
	}
	return curve
}

// brute knows the weighted products of the curves of all that slots can be set to.
type brute struct {
	hz, weights []float64
	curves      [][][]float64 // by slot and setting
}

func newBrute(desk fitDesk) *brute {
	b := &brute{}
	b.hz, b.weights = bruteWeights()
	for _, s := range desk.slots {
		qs := s.Qs
		if len(qs) == 0 {
			qs = []float64{math.Sqrt2 / 2} // a plain shelf: slope 1
		}
		var curves [][]float64
		for _, f := range s.Frequencies {
			for _, g := range s.Gains {
				for _, q := range qs {
					if desk.BellsNarrow && s.Kinds[0] == tone.Bell {
						q *= math.Pow(10, math.Abs(g)/40) // the root of the gain as a factor
					}
					curves = append(curves, cookbook(tone.Band{Kind: s.Kinds[0], Frequency: f, Gain: g, Q: q}, desk.Rate, b.hz))
				}
			}
		}
		b.curves = append(b.curves, curves)
	}
	return b
}

func (b *brute) product(x, y []float64) (sum float64) {
	for i, w := range b.weights {
		sum += w * x[i] * y[i]
	}
	return sum
}

// table gives the products of all settings of one slot with all of another.
func (b *brute) table(slot, other int) [][]float64 {
	table := make([][]float64, len(b.curves[slot]))
	for i, x := range b.curves[slot] {
		table[i] = make([]float64, len(b.curves[other]))
		for j, y := range b.curves[other] {
			table[i][j] = b.product(x, y)
		}
	}
	return table
}

// alone gives, for each setting of a slot, what it adds to the squared error by itself:
// |c|^2 - 2<t,c>.
func (b *brute) alone(slot int, target []float64) []float64 {
	all := make([]float64, len(b.curves[slot]))
	for i, c := range b.curves[slot] {
		all[i] = b.product(c, c) - 2*b.product(target, c)
	}
	return all
}

// bestOfTwo gives the least error in dB of all settings of two slots.
func (b *brute) bestOfTwo(target []float64, table [][]float64) float64 {
	first, second := b.alone(0, target), b.alone(1, target)
	best := 0.0
	for i, row := range table {
		for j, product := range row {
			best = min(best, first[i]+second[j]+2*product)
		}
	}
	return math.Sqrt(max(b.product(target, target)+best, 0))
}

// bestOfThree gives the least error in dB of all settings of three slots.
func (b *brute) bestOfThree(target []float64, t01, t12, t02 [][]float64) float64 {
	first, second, third := b.alone(0, target), b.alone(1, target), b.alone(2, target)
	best := 0.0
	for i := range first {
		for j := range second {
			two := first[i] + second[j] + 2*t01[i][j]
			for k, alone := range third {
				best = min(best, two+alone+2*(t12[j][k]+t02[i][k]))
			}
		}
	}
	return math.Sqrt(max(b.product(target, target)+best, 0))
}

// holdAgainst fits fifty made-up voices and holds the errors against brute force.
func holdAgainst(t *testing.T, desk fitDesk, force func(target []float64) float64) {
	t.Helper()
	hz, _ := bruteWeights()
	random := rand.New(rand.NewPCG(50, 3))
	t.Logf("%s: target, our error and that of brute force in dB, largest difference and where", desk.name)
	for n := range 50 {
		target := make([]float64, len(hz))
		for _, b := range voice(random, 0) {
			for i, c := range cookbook(b, desk.Rate, hz) {
				target[i] += c
			}
		}
		fit := tone.FitEQ(desk.Desk, target, desk.slots, nil)
		want := force(target)
		t.Logf("%2d  %.3f  %.3f  %+.1f dB at %.0f Hz", n, fit.Error, want, fit.Largest, fit.At)
		if fit.Error > want+0.1 {
			t.Errorf("target %d on %s: the error is %.3f dB, but %.3f dB can be had", n, desk.name, fit.Error, want)
		}
		if fit.Error < want-0.001 {
			t.Errorf("target %d on %s: the error of %.4f dB is said to be less than the least there is, %.4f dB", n, desk.name, fit.Error, want)
		}
	}
}

func TestAFitIsAsNearAsBruteForceOnThreeBands(t *testing.T) {
	desk := shippedDesk(t, "raft-8")
	b := newBrute(desk)
	t01, t12, t02 := b.table(0, 1), b.table(1, 2), b.table(0, 2)
	holdAgainst(t, desk, func(target []float64) float64 { return b.bestOfThree(target, t01, t12, t02) })
}

func TestAFitIsAsNearAsBruteForceOnTwoBells(t *testing.T) {
	desk := twoBells()
	b := newBrute(desk)
	table := b.table(0, 1)
	holdAgainst(t, desk, func(target []float64) float64 { return b.bestOfTwo(target, table) })
}
