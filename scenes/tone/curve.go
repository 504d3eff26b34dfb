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
	// Gain is in dB, and of bells and shelves only. Beyond 100 dB it counts as 100.
	Gain float64
	// Q is as the desk shows it, above 0; 0 stands for [PlainQ]. It counts as
	// 0.001 at least and as 1000 at most.
	Q float64
}

// PlainQ is the Q of a shelf or pass filter for which no Q is said: a shelf of slope 1, a
// Butterworth pass filter.
const PlainQ = math.Sqrt2 / 2

// LowCut is a Butterworth high-pass filter.
type LowCut struct {
	// Frequency is the corner, 3 dB down, in Hz; 0 where there is no low cut.
	Frequency float64
	// Slope is in dB/octave, 6 for each pole, of which there are up to 16. With less
	// than half a pole there is no low cut.
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

// lowest and highest are the frequencies between which a filter tells them apart, as
// parts of the sample rate.
const lowest, highest = 1e-9, 0.499

func warp(f, rate float64) float64 {
	t := math.Tan(math.Pi * min(max(f/rate, lowest), highest))
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
	g.powers(curve, d, s)
	for i, power := range curve {
		curve[i] = level(power)
	}
}

// powers puts what the shape does to the power at each frequency, as a factor, into powers.
func (g *Grid) powers(powers []float64, d Desk, s Shape) {
	fill(powers)
	if s.LowCut.Frequency > 0 {
		g.lowCut(powers, s.LowCut)
	}
	for _, b := range s.Bands {
		g.band(powers, d, b)
	}
}

// mostPoles is how many poles a low cut has at most: 96 dB/octave.
const mostPoles = 16

// lowCut multiplies the powers by the low cut's: with x the corner over the frequency,
// both warped, and n poles, 1 / (1 + x^2n).
func (g *Grid) lowCut(powers []float64, c LowCut) {
	poles := int(min(max(math.Round(c.Slope/6), 0), mostPoles))
	if poles == 0 {
		return
	}
	corner := warp(c.Frequency, g.rate)
	for i, w := range g.warped {
		x, down := corner/w, 1.0
		for range poles {
			down *= x
		}
		powers[i] *= 1 / (1 + down)
	}
}

// The bounds of a band's gain in dB, up and down, and of its Q. No desk reaches them;
// they keep whatever a profile makes of a number within what can be worked out.
const mostGain, leastQ, mostQ = 100, 1e-3, 1e3

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
	gain := min(max(b.Gain, -mostGain), mostGain)
	a := math.Pow(10, gain/40)
	q := b.Q
	if q == 0 {
		q = PlainQ
	}
	if b.Kind == Bell {
		q = d.BellQ(gain, q)
	}
	q = min(max(q, leastQ), mostQ)
	switch b.Kind {
	case Bell:
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
// its gain as a factor of power and lift the power far above it times a^2.
func (g *Grid) shelf(powers []float64, per, a, q, lift float64) {
	wide := a / (q * q)
	for i, w := range g.warped {
		x := w * per
		powers[i] *= lift * ((a-x)*(a-x) + wide*x) / ((1-a*x)*(1-a*x) + wide*x)
	}
}
