package tone

import (
	"math"
	"slices"
)

// Kind is what a band of EQ is.
type Kind uint8

// The kinds of band, as the catalogue's words name them.
const (
	Bell Kind = iota
	LowShelf
	HighShelf
	LowPass
	HighPass
	Notch
)

var kindWords = []string{"bell", "low-shelf", "high-shelf", "low-pass", "high-pass", "notch"}

func (k Kind) String() string { return kindWords[k] }

// KindOf finds the kind that a word names. Without a word, and with one that names none,
// a band is a bell.
func KindOf(word string) (kind Kind, ok bool) {
	i := slices.Index(kindWords, word)
	return Kind(max(i, 0)), i >= 0
}

// HasGain reports whether a gain means anything to a band of this kind.
func (k Kind) HasGain() bool { return k <= HighShelf }

// Band is one band of EQ.
type Band struct {
	Kind Kind
	// Frequency is the centre, or the corner, in Hz, above 0.
	Frequency float64
	// Gain is in dB, and of bells and shelves only.
	Gain float64
	// Q is as the desk shows it, above 0; 0 stands for [PlainQ].
	Q float64
}

// PlainQ is the Q of a shelf or pass filter for which no Q is said: a shelf of slope 1, a
// Butterworth pass filter.
const PlainQ = math.Sqrt2 / 2

// LowCut is a Butterworth high-pass filter.
type LowCut struct {
	// Frequency is the corner, 3 dB down, in Hz; 0 where there is no low cut.
	Frequency float64
	// Slope is in dB/octave, 6 for each pole.
	Slope float64
}

// Shape is all that a strip does to the spectrum.
type Shape struct {
	LowCut LowCut
	// Bands are those in use.
	Bands []Band
}

// Grid is a set of frequencies at which curves are worked out for filters that run at one
// sample rate. It does not change and may be shared.
type Grid struct {
	// Hz are the frequencies.
	Hz []float64
	// rate is in Hz; warped are tan^2(pi f / rate), the square of the analogue
	// frequency that the bilinear transform maps to f.
	rate   float64
	warped []float64
}

// NewGrid makes a grid. The frequencies must be above 0; from just below half the sample
// rate upwards, all are treated as one there, which is the end of what a filter does.
func NewGrid(rate float64, hz []float64) *Grid {
	g := &Grid{Hz: hz, rate: rate, warped: make([]float64, len(hz))}
	for i, f := range hz {
		g.warped[i] = warp(f, rate)
	}
	return g
}

// highest is the highest frequency that a filter tells apart, as a part of the sample rate.
const highest = 0.499

func warp(f, rate float64) float64 {
	t := math.Tan(math.Pi * min(f/rate, highest))
	return t * t
}

// floor is the lowest factor of power that a curve goes down to, -300 dB, so that a notch
// has a number at its centre.
const floor = 1e-30

// decibels is 10 log10(e). The natural logarithm is twice as fast as the other.
const decibels = 10 / math.Ln10

// level gives a factor of power in dB.
func level(power float64) float64 { return decibels * math.Log(max(power, floor)) }

func fill(powers []float64) {
	for i := range powers {
		powers[i] = 1
	}
}

// Curve puts what the shape does at each frequency of the grid, in dB, into curve, which
// must be as long as the grid.
func (g *Grid) Curve(curve []float64, d Desk, s Shape) {
	fill(curve)
	if s.LowCut.Frequency > 0 {
		g.lowCut(curve, s.LowCut)
	}
	for _, b := range s.Bands {
		g.band(curve, d, b)
	}
	for i, power := range curve {
		curve[i] = level(power)
	}
}

// lowCut multiplies the powers by the low cut's: with x the frequency over the corner,
// both warped, and n poles, x^2n / (1 + x^2n).
func (g *Grid) lowCut(powers []float64, c LowCut) {
	per := 1 / warp(c.Frequency, g.rate)
	poles := int(math.Round(c.Slope / 6))
	for i, w := range g.warped {
		x, up := w*per, 1.0
		for range poles {
			up *= x
		}
		powers[i] *= up / (1 + up)
	}
}

// band multiplies the powers by those of one band. They are those of the biquads of R.
// Bristow-Johnson, Audio EQ Cookbook (W3C note), written as the squared magnitude of the
// analogue filters from which the cookbook gets them by the bilinear transform: the
// same figures, without the cancellation that the biquads' sums suffer at low frequencies.
// Below, x is the square of the frequency over the band's, both warped.
func (g *Grid) band(powers []float64, d Desk, b Band) {
	if b.Kind.HasGain() && b.Gain == 0 {
		return
	}
	per := 1 / warp(b.Frequency, g.rate)
	a := math.Pow(10, b.Gain/40)
	q := b.Q
	if q == 0 {
		q = PlainQ
	}
	switch b.Kind {
	case Bell:
		q = d.BellQ(b.Gain, q)
		up, down := a*a/(q*q), 1/(a*a*q*q)
		for i, w := range g.warped {
			x := w * per
			off := (1 - x) * (1 - x)
			powers[i] *= (off + up*x) / (off + down*x)
		}
	case LowShelf:
		g.shelf(powers, per, a, q, a*a)
	case HighShelf:
		// A high shelf is the low shelf of the opposite gain, lifted as a whole.
		g.shelf(powers, per, 1/a, q, a*a)
	case LowPass:
		for i, w := range g.warped {
			x := w * per
			powers[i] *= 1 / ((1-x)*(1-x) + x/(q*q))
		}
	case HighPass:
		for i, w := range g.warped {
			x := w * per
			powers[i] *= x * x / ((1-x)*(1-x) + x/(q*q))
		}
	case Notch:
		for i, w := range g.warped {
			x := w * per
			off := (1 - x) * (1 - x)
			powers[i] *= off / (off + x/(q*q))
		}
	}
}

// shelf multiplies the powers by those of a low shelf, of which a is the fourth root of
// its gain as a factor of power and lift the power far above it times a^4.
func (g *Grid) shelf(powers []float64, per, a, q, lift float64) {
	wide := a / (q * q)
	for i, w := range g.warped {
		x := w * per
		powers[i] *= lift * ((a-x)*(a-x) + wide*x) / ((1-a*x)*(1-a*x) + wide*x)
	}
}
