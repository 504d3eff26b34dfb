package tone

import (
	"math"
	"slices"
)

// thirdOctaves are the nominal centres of the third-octave bands from 63 Hz to 16 kHz, in
// which an ear weighs a spectrum.
var thirdOctaves = [...]float64{63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800,
	1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000, 6300, 8000, 10000, 12500, 16000}

// speech is the long-term average spectrum of speech, of men and women in twelve
// languages and more, in dB a third-octave band at 70 dB overall: D. Byrne et al., "An
// international comparison of long-term average speech spectra", JASA 96(4), 1994.
var speech = [len(thirdOctaves)]float64{38.6, 43.5, 54.4, 57.7, 56.8, 60.2, 60.3, 59.0, 62.1, 62.1, 60.5, 56.8,
	53.7, 53.0, 52.0, 48.7, 48.1, 46.8, 45.6, 44.5, 44.3, 43.7, 43.4, 41.3, 40.7}

// SpeechPeak is how far the highest short-term levels of speech are above its long-term
// level, in dB (the same paper).
const SpeechPeak = 10.0

// shares is the power of speech in each band, as a part of the whole.
var shares = func() (shares [len(speech)]float64) {
	var whole float64
	for i, level := range speech {
		shares[i] = math.Pow(10, level/10)
		whole += shares[i]
	}
	for i := range shares {
		shares[i] /= whole
	}
	return shares
}()

// ThirdOctaves gives the grid on which speech is weighed, for a sample rate in Hz.
func ThirdOctaves(rate float64) *Grid { return NewGrid(rate, thirdOctaves[:]) }

// parts is how many points a band of speech is weighed at where it matters that filters
// are narrower than a band: one point for each would miss a bell of Q 4 and +12 dB between
// two centres, or take it for the whole band, and be wrong by more than 1 dB.
const parts = 8

// finePoints are parts frequencies for each third-octave, evenly on a log axis. The bands
// are those of IEC 61260: of centres 1000 Hz x 10^(n/10), of which the nominal ones are
// rounded.
var finePoints = func() (points [len(speech) * parts]float64) {
	for i := range points {
		within := (float64(i%parts)+0.5)/parts - 0.5
		points[i] = 1000 * math.Pow(10, (float64(i/parts-slices.Index(thirdOctaves[:], 1000))+within)/10)
	}
	return points
}()

// SpeechChange is by how much the shape makes speech louder on a desk, in dB. It is the
// sum of the other [SpeechChange], but weighs each band at several points, so that a filter
// narrower than a band counts with what it does to all of it.
func (s Shape) SpeechChange(d Desk) float64 {
	if s.LowCut.Frequency <= 0 && len(s.Bands) == 0 {
		return 0
	}
	var powers [len(finePoints)]float64
	NewGrid(d.Rate, finePoints[:]).powers(powers[:], d, s)
	var power float64
	for i, p := range powers {
		power += shares[i/parts] / parts * p
	}
	return level(power)
}

// SpeechChange is by how much a curve over [ThirdOctaves], in dB, makes speech louder, in
// dB:
//
//	10 log10(sum 10^((L+H)/10)) - 10 log10(sum 10^(L/10))
//
// with L the spectrum of speech and H the curve.
func SpeechChange(curve []float64) float64 {
	var power float64
	for i, share := range shares {
		power += share * math.Pow(10, curve[i]/10)
	}
	return 10 * math.Log10(power)
}
