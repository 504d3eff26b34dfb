package tone

import (
	"math"
	"slices"
)

// fitPoints are the frequencies at which a fit is judged: six an octave, so that each
// third-octave, which is what an ear tells apart, counts alike.
var fitPoints = func() []float64 {
	hz := make([]float64, 49)
	for i := range hz {
		hz[i] = 62.5 * math.Pow(2, float64(i)/6)
	}
	return hz
}()

// FitGrid gives the frequencies at which a fit is judged, from 63 Hz to 16 kHz, for a
// sample rate in Hz.
func FitGrid(rate float64) *Grid { return NewGrid(rate, fitPoints) }

// fitWeights say how much a difference counts at each point: as the sound pressure of
// speech there, so that the consonants, of little energy, count for something. They are
// whole numbers, the largest about 1000.
var fitWeights = func() []int64 {
	loudest := slices.Max(speech[:])
	weights := make([]int64, len(fitPoints))
	for i, hz := range fitPoints {
		weights[i] = int64(math.Round(1000 * math.Pow(10, (speechAt(hz)-loudest)/20)))
	}
	return weights
}()

// speechAt is the spectrum of speech between its third-octaves, in dB.
func speechAt(hz float64) float64 {
	i, _ := slices.BinarySearch(thirdOctaves[:], hz)
	i = min(max(i, 1), len(thirdOctaves)-1)
	low, high := thirdOctaves[i-1], thirdOctaves[i]
	along := min(max(math.Log(hz/low)/math.Log(high/low), 0), 1)
	return speech[i-1] + along*(speech[i]-speech[i-1])
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

// mostLevel bounds the target of a fit and the curves of single bands, in dB up and down:
// what is below -60 dB is gone, and the centre of a notch, which has no end, must not
// outweigh all else.
const mostLevel = 60

func bound(db float64) float64 { return min(max(db, -mostLevel), mostLevel) }

// bounded gives a target within [mostLevel]. Where it is no number, nothing is wanted.
func bounded(target []float64) []float64 {
	all := make([]float64, len(target))
	for i, t := range target {
		if !math.IsNaN(t) {
			all[i] = bound(t)
		}
	}
	return all
}

// whole gives a level in whole ten-thousandths of a dB.
func whole(db float64) int64 { return int64(math.Round(bound(db) * 1e4)) }

// weigh gives the weighted sum of the squares of differences in ten-thousandths of a dB.
// One of more than 1000 dB, which only many bands on top of each other could make, counts
// as that, so that the sum is below 49 * 1000 * 10^14, half of what 64 bits hold.
func weigh(differences []int64) int64 {
	const most = 1000 * 1e4
	var sum int64
	for i, difference := range differences {
		difference = min(max(difference, -most), most)
		sum += fitWeights[i] * difference * difference
	}
	return sum
}

// weighted is the weighted mean product of two curves.
func weighted(a, b []float64) float64 {
	var sum float64
	for i, share := range fitShares {
		sum += share * a[i] * b[i]
	}
	return sum
}

// Apart says how far a curve over [FitGrid] is from a target: the weighted mean and the
// largest difference in dB, and where in Hz that is. Both count as at most 60 dB up or
// down.
func Apart(curve, target []float64) (mean, largest, at float64) {
	var sum float64
	for i, hz := range fitPoints {
		difference := bound(curve[i]) - bound(target[i])
		sum += fitShares[i] * difference * difference
		if math.Abs(difference) > math.Abs(largest) {
			largest, at = difference, hz
		}
	}
	return math.Sqrt(sum), largest, at
}
