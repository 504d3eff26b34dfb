package tone_test

import (
	"math"
	"math/cmplx"

	"deskhand/scenes/tone"
)

// biquad is a filter that runs in time, the second implementation against which curves
// are held: its coefficients are those of the table in R. Bristow-Johnson's cookbook,
// and it runs as a transposed direct form II.
type biquad struct {
	b0, b1, b2, a1, a2 float64
	s1, s2             float64
}

// through gives the filter's answer to one sample.
func (f *biquad) through(x float64) float64 {
	y := f.b0*x + f.s1
	f.s1 = f.b1*x - f.a1*y + f.s2
	f.s2 = f.b2*x - f.a2*y
	return y
}

// newBiquad is the cookbook's table, row by row. The q is the filter's own.
func newBiquad(kind tone.Kind, rate, frequency, gain, q float64) *biquad {
	A := math.Pow(10, gain/40)
	w0 := 2 * math.Pi * frequency / rate
	c := math.Cos(w0)
	al := math.Sin(w0) / (2 * q)
	r := 2 * math.Sqrt(A) * al
	var b, a [3]float64
	switch kind {
	case tone.Bell:
		b = [3]float64{1 + al*A, -2 * c, 1 - al*A}
		a = [3]float64{1 + al/A, -2 * c, 1 - al/A}
	case tone.LowShelf:
		b = [3]float64{A * ((A + 1) - (A-1)*c + r), 2 * A * ((A - 1) - (A+1)*c), A * ((A + 1) - (A-1)*c - r)}
		a = [3]float64{(A + 1) + (A-1)*c + r, -2 * ((A - 1) + (A+1)*c), (A + 1) + (A-1)*c - r}
	case tone.HighShelf:
		b = [3]float64{A * ((A + 1) + (A-1)*c + r), -2 * A * ((A - 1) + (A+1)*c), A * ((A + 1) + (A-1)*c - r)}
		a = [3]float64{(A + 1) - (A-1)*c + r, 2 * ((A - 1) - (A+1)*c), (A + 1) - (A-1)*c - r}
	case tone.LowPass:
		b = [3]float64{(1 - c) / 2, 1 - c, (1 - c) / 2}
		a = [3]float64{1 + al, -2 * c, 1 - al}
	case tone.HighPass:
		b = [3]float64{(1 + c) / 2, -(1 + c), (1 + c) / 2}
		a = [3]float64{1 + al, -2 * c, 1 - al}
	case tone.Notch:
		b = [3]float64{1, -2 * c, 1}
		a = [3]float64{1 + al, -2 * c, 1 - al}
	}
	return &biquad{b0: b[0] / a[0], b1: b[1] / a[0], b2: b[2] / a[0], a1: a[1] / a[0], a2: a[2] / a[0]}
}

// firstOrderHighPass is s/(s+1) by the bilinear transform, with the corner prewarped.
func firstOrderHighPass(rate, frequency float64) *biquad {
	k := math.Tan(math.Pi * frequency / rate)
	return &biquad{b0: 1 / (1 + k), b1: -1 / (1 + k), a1: (k - 1) / (k + 1)}
}

// chain is filters one after the other.
type chain []*biquad

func (c chain) through(x float64) float64 {
	for _, f := range c {
		x = f.through(x)
	}
	return x
}

// butterworth is a high pass of so many poles as sections: each pair of poles at an angle
// of (2k-1) pi / 2n from the imaginary axis is a section of Q = 1 / (2 sin angle), and a
// pole left over is one of first order.
func butterworth(rate, frequency float64, poles int) chain {
	var c chain
	if poles%2 == 1 {
		c = append(c, firstOrderHighPass(rate, frequency))
	}
	for k := 1; k <= poles/2; k++ {
		angle := float64(2*k-1) * math.Pi / float64(2*poles)
		c = append(c, newBiquad(tone.HighPass, rate, frequency, 0, 1/(2*math.Sin(angle))))
	}
	return c
}

// filters is a whole shape as filters that run.
func filters(d tone.Desk, s tone.Shape) chain {
	var c chain
	if s.LowCut.Frequency > 0 {
		c = butterworth(d.Rate, s.LowCut.Frequency, int(s.LowCut.Slope)/6)
	}
	for _, b := range s.Bands {
		q := b.Q
		if b.Kind == tone.Bell && d.BellsNarrow {
			q *= math.Sqrt(math.Pow(10, math.Abs(b.Gain)/20))
		}
		c = append(c, newBiquad(b.Kind, d.Rate, b.Frequency, b.Gain, q))
	}
	return c
}

// longest is how many samples an impulse is followed at most: 10 seconds and more. The
// longest ring that is tried, Q 34 at 20 Hz, is down by 160 dB in that time.
const longest = 1 << 20

// impulse is the answer to an impulse, until all that is left in the filters is
// 300 dB down and more, for a low pass at 20 Hz brings out little of it at a time.
func (c chain) impulse() []float64 {
	answer := make([]float64, 0, 4096)
	for x := 1.0; len(answer) < longest; x = 0 {
		answer = append(answer, c.through(x))
		var left float64
		for _, f := range c {
			left = max(left, math.Abs(f.s1), math.Abs(f.s2))
		}
		if left < 1e-15 {
			break
		}
	}
	return answer
}

// magnitude is the Fourier sum of an answer at one frequency, in dB.
func magnitude(answer []float64, rate, hz float64) float64 {
	turn := cmplx.Exp(complex(0, -2*math.Pi*hz/rate))
	var sum complex128
	for i := len(answer) - 1; i >= 0; i-- { // Horner's scheme
		sum = sum*turn + complex(answer[i], 0)
	}
	return 20 * math.Log10(cmplx.Abs(sum))
}
