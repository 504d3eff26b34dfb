package tone

import "math"

// The levels and units between a mouth and a converter.
const (
	// pascal is the sound pressure of 1 Pa, to which a microphone's sensitivity refers,
	// in dB SPL: 20 log10(1 Pa / 20 uPa) = 93.98, and 94 as calibrators have it (IEC 60942).
	pascal = 94.0
	// voltToDBu is 1 V in dBu, dB re the voltage of 1 mW in 600 ohms, sqrt(0.6) V.
	voltToDBu = 2.218
)

// AtDistance is the level in dB SPL of a voice at a distance in metres, of one that has a
// level at another distance, by the inverse square. Near a mouth it is a rough guide.
func AtDistance(level, measured, distance float64) float64 {
	return level - 20*math.Log10(distance/measured)
}

// Arrives is the level in dB re full scale at which a sound of a level in dB SPL at the
// microphone arrives at the converter of a desk at a gain of 0 dB, for a microphone of a
// sensitivity in dB re 1 V/Pa and a desk whose converter is full at fullScale dBu:
//
//	level - 94 + sensitivity + 2.218 - fullScale
func Arrives(level, sensitivity, fullScale float64) float64 {
	return level - pascal + sensitivity + voltToDBu - fullScale
}

// GainStructure is how speech fits into a converter.
type GainStructure struct {
	// Level is the long-term level of speech at the converter, in dB re full scale.
	Level float64
}

// Headroom is how far the highest short-term levels of speech are below full scale, in dB.
// The peaks of the wave are higher still.
func (g GainStructure) Headroom() float64 { return -(g.Level + SpeechPeak) }

// Between these, in dB re full scale, a long-term level of speech is told as fit.
//
// EBU R 68 lets programme go 9 dB above the alignment level, up to -9 dB re full scale, and
// keeps the rest for what its meters don't show. With SpeechPeak, speech at the alignment
// level, [WellSet], touches that. An expected level is some 3 dB in doubt, as voices are;
// it is too hot where the highest short-term levels are more than that above R 68's -9 dB.
//
// Too low is 24 dB below the alignment level. That is our own figure: as much as a fader's
// 10 dB above its mark and a make-up of 14 dB bring back, and four of the converter's bits.
const (
	permittedMaximum = -9.0
	doubt            = 3.0
	tooHotFrom       = permittedMaximum + doubt - SpeechPeak
	tooLowFrom       = WellSet - 24
)

// Drive says how a level drives a converter.
type Drive uint8

// The ways to drive a converter.
const (
	DriveFits Drive = iota
	TooHot
	TooLow
)

func (d Drive) String() string { return [...]string{"fits", "too hot", "too low"}[d] }

// Drive says whether the level fits.
func (g GainStructure) Drive() Drive {
	switch {
	case g.Level > tooHotFrom:
		return TooHot
	case g.Level < tooLowFrom:
		return TooLow
	}
	return DriveFits
}

// ToWellSet is by how many dB the gain is to be changed for speech to be at [WellSet].
func (g GainStructure) ToWellSet() float64 { return WellSet - g.Level }
