package tone_test

import (
	"fmt"
	"math"
	"testing"

	"deskhand/scenes/tone"

	"pgregory.net/rapid"
)

// logarithmic gives so many frequencies from one to another, evenly on a log axis.
func logarithmic(from, to float64, points int) []float64 {
	hz := make([]float64, points)
	for i := range hz {
		hz[i] = from * math.Pow(to/from, float64(i)/float64(points-1))
	}
	return hz
}

func curveAt(d tone.Desk, s tone.Shape, hz ...float64) []float64 {
	curve := make([]float64, len(hz))
	tone.NewGrid(d.Rate, hz).Curve(curve, d, s)
	return curve
}

// heard is the range of frequencies at which curves are held against filters that run.
var heard = logarithmic(20, 20000, 31)

// reporter is what a rapid test and a plain one share.
type reporter interface {
	Helper()
	Errorf(format string, args ...any)
}

// likeRunning holds the curve of a shape against the Fourier sum of the filters' answer
// to an impulse, where it is above -60 dB.
func likeRunning(t reporter, d tone.Desk, s tone.Shape) {
	t.Helper()
	answer := filters(d, s).impulse()
	hz := heard
	for _, b := range s.Bands {
		hz = append(hz[:len(hz):len(hz)], b.Frequency)
	}
	for i, got := range curveAt(d, s, hz...) {
		want := magnitude(answer, d.Rate, hz[i])
		if (want > -60 || got > -60) && math.Abs(got-want) > 0.01 {
			t.Errorf("%+v, %+v: at %.1f Hz the curve says %.4f dB, the filter that runs %.4f dB", d, s, hz[i], got, want)
		}
	}
}

var (
	rates = []float64{44100, 48000, 96000}
	kinds = []tone.Kind{tone.Bell, tone.LowShelf, tone.HighShelf, tone.LowPass, tone.HighPass, tone.Notch}
)

func TestTheCurveOfEachKindIsThatOfAFilterThatRuns(t *testing.T) {
	for _, kind := range kinds {
		t.Run(kind.String(), func(t *testing.T) {
			gains := []float64{-15, -6, 3, 12}
			if !kind.HasGain() {
				gains = []float64{0}
			}
			for _, rate := range rates {
				for _, frequency := range []float64{40, 250, 1000, 5000, 16000} {
					for _, q := range []float64{0.5, math.Sqrt2 / 2, 2, 8} {
						for _, gain := range gains {
							band := tone.Band{Kind: kind, Frequency: frequency, Gain: gain, Q: q}
							likeRunning(t, tone.Desk{Rate: rate}, tone.Shape{Bands: []tone.Band{band}})
						}
					}
				}
			}
		})
	}
}

func TestTheCurveOfALowCutIsThatOfButterworthSectionsThatRun(t *testing.T) {
	for poles := 1; poles <= 8; poles++ {
		t.Run(fmt.Sprintf("%d dB an octave", 6*poles), func(t *testing.T) {
			for _, rate := range rates {
				for _, frequency := range []float64{20, 80, 120, 400, 2000} {
					likeRunning(t, tone.Desk{Rate: rate}, tone.Shape{LowCut: tone.LowCut{Frequency: frequency, Slope: float64(6 * poles)}})
				}
			}
		})
	}
}

// bands draws bands such as people set, and some that they don't.
var bands = rapid.Custom(func(t *rapid.T) tone.Band {
	return tone.Band{
		Kind:      rapid.SampledFrom(kinds).Draw(t, "kind"),
		Frequency: math.Exp(rapid.Float64Range(math.Log(20), math.Log(20000)).Draw(t, "log frequency")),
		Gain:      rapid.Float64Range(-18, 18).Draw(t, "gain"),
		Q:         math.Exp(rapid.Float64Range(math.Log(0.3), math.Log(12)).Draw(t, "log q")),
	}
})

var desks = rapid.Custom(func(t *rapid.T) tone.Desk {
	return tone.Desk{Rate: rapid.SampledFrom(rates).Draw(t, "rate"), BellsNarrow: rapid.Bool().Draw(t, "bells narrow"), PanLaw: 3}
})

func TestTheCurveOfAWholeStripIsThatOfFiltersThatRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := tone.Shape{Bands: rapid.SliceOfN(bands, 0, 4).Draw(t, "bands")}
		if rapid.Bool().Draw(t, "low cut on") {
			s.LowCut = tone.LowCut{
				Frequency: rapid.Float64Range(20, 600).Draw(t, "low cut"),
				Slope:     float64(6 * rapid.IntRange(1, 8).Draw(t, "poles")),
			}
		}
		likeRunning(t, desks.Draw(t, "desk"), s)
	})
}

func TestClosedForms(t *testing.T) {
	plain := tone.Desk{Rate: 48000}
	narrow := tone.Desk{Rate: 48000, BellsNarrow: true}
	half := 10 * math.Log10(0.5) // -3.0103 dB
	band := func(kind tone.Kind, frequency, gain, q float64) tone.Shape {
		return tone.Shape{Bands: []tone.Band{{Kind: kind, Frequency: frequency, Gain: gain, Q: q}}}
	}
	cut := func(slope float64) tone.Shape {
		return tone.Shape{LowCut: tone.LowCut{Frequency: 100, Slope: slope}}
	}
	for _, c := range []struct {
		name string
		desk tone.Desk
		tone.Shape
		hz, want float64
	}{
		{"nothing does nothing", plain, tone.Shape{}, 1000, 0},
		{"a bell of 0 dB does nothing", plain, band(tone.Bell, 1000, 0, 1), 1000, 0},
		{"a bell has its gain at the centre", plain, band(tone.Bell, 1000, 7.5, 2), 1000, 7.5},
		{"a bell cuts by its gain at the centre", plain, band(tone.Bell, 12500, -11, 0.7), 12500, -11},
		// Between the two points of half the gain lies f0/Q: with f0 100 Hz and Q 2
		// they are 50 Hz apart with a product of 100^2, so at 78.08 and 128.08 Hz.
		{"half of a bell's gain below the centre", plain, band(tone.Bell, 100, 6, 2), 78.078, 3},
		{"half of a bell's gain above the centre", plain, band(tone.Bell, 100, 6, 2), 128.078, 3},
		// A bell that narrows with 12 dB has 10^(12/40) = 1.9953 times the Q: 3.9905. The
		// points are 25.060 Hz apart: 88.248 and 113.317 Hz.
		{"half of the gain of a bell that narrows", narrow, band(tone.Bell, 100, 12, 2), 113.317, 6},
		{"half of the cut of a bell that narrows", narrow, band(tone.Bell, 100, -12, 2), 88.248, -6},
		{"only bells narrow", narrow, band(tone.LowShelf, 200, 12, 1.4), 200, 6},
		{"a low shelf has half its gain at the corner", plain, band(tone.LowShelf, 200, 9, 0.9), 200, 4.5},
		{"a low shelf has its gain far below", plain, band(tone.LowShelf, 2000, 9, 0.9), 1, 9},
		{"a low shelf does nothing far above", plain, band(tone.LowShelf, 20, 9, 0.9), 20000, 0},
		{"a high shelf has half its cut at the corner", plain, band(tone.HighShelf, 5000, -9, 0.5), 5000, -4.5},
		{"a high shelf has its cut far above", plain, band(tone.HighShelf, 20, -9, 0.7), 20000, -9},
		{"a high shelf does nothing far below", plain, band(tone.HighShelf, 5000, -9, 0.7), 1, 0},
		{"a low pass is 3 dB down at the corner", plain, band(tone.LowPass, 8000, 0, math.Sqrt2/2), 8000, half},
		{"without a Q, too", plain, band(tone.LowPass, 8000, 0, 0), 8000, half},
		{"a high pass is 3 dB down at the corner", plain, band(tone.HighPass, 80, 0, math.Sqrt2/2), 80, half},
		// 20 log 2 = 6.0206 dB
		{"a high pass of Q 2 rises at the corner", plain, band(tone.HighPass, 80, 0, 2), 80, 6.0206},
		{"a gain means nothing to a pass filter", plain, band(tone.HighPass, 80, 12, math.Sqrt2/2), 80, half},
		{"a notch does nothing far below", plain, band(tone.Notch, 1000, 0, 4), 1, 0},
		// f0/Q = 25 Hz apart around 100: 88.278 and 113.278 Hz.
		{"a notch is 3 dB down at its edges", plain, band(tone.Notch, 100, 0, 4), 113.278, half},
		{"a low cut is 3 dB down at the corner", plain, cut(18), 100, half},
		// 10 log(1 + 2^2n) an octave below, for n = 1, 2, 3, 4 and 8.
		{"6 dB an octave", plain, cut(6), 50, -6.990},
		{"12 dB an octave", plain, cut(12), 50, -12.304},
		{"18 dB an octave", plain, cut(18), 50, -18.129},
		{"24 dB an octave", plain, cut(24), 50, -24.099},
		{"48 dB an octave", plain, cut(48), 50, -48.165},
		{"a low cut of no slope does nothing", plain, cut(0), 50, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := curveAt(c.desk, c.Shape, c.hz)[0]; math.Abs(got-c.want) > 0.003 {
				t.Errorf("at %v Hz: %.4f dB, not %.4f dB", c.hz, got, c.want)
			}
		})
	}
}

func TestANotchHasANumberAtItsCentre(t *testing.T) {
	s := tone.Shape{Bands: []tone.Band{{Kind: tone.Notch, Frequency: 1000, Q: 4}}}
	if got := curveAt(tone.Desk{Rate: 48000}, s, 1000)[0]; got > -100 || got < -300 {
		t.Errorf("at its centre the notch is at %v dB", got)
	}
}

func TestACutIsTheMirrorOfABoost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, b := desks.Draw(t, "desk"), bands.Draw(t, "band")
		b.Kind = rapid.SampledFrom([]tone.Kind{tone.Bell, tone.LowShelf, tone.HighShelf}).Draw(t, "kind")
		opposite := b
		opposite.Gain = -b.Gain
		boost := curveAt(d, tone.Shape{Bands: []tone.Band{b}}, heard...)
		cut := curveAt(d, tone.Shape{Bands: []tone.Band{opposite}}, heard...)
		for i := range boost {
			if math.Abs(boost[i]+cut[i]) > 1e-9 {
				t.Errorf("at %v Hz: %v dB and %v dB", heard[i], boost[i], cut[i])
			}
		}
	})
}

func TestTheShownQOfABellIsTheOneToSet(t *testing.T) {
	// 12 dB narrow a bell by 10^(12/40) = 1.99526.
	narrow := tone.Desk{Rate: 48000, BellsNarrow: true}
	if got := narrow.ShownQ(-12, 4); math.Abs(got-2.00475) > 1e-5 {
		t.Errorf("for a bell of Q 4 and -12 dB: Q %v, not 2.00475", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		d, b := desks.Draw(t, "desk"), bands.Draw(t, "band")
		if got := d.ShownQ(b.Gain, d.BellQ(b.Gain, b.Q)); math.Abs(got-b.Q) > 1e-9 {
			t.Errorf("%v dB: Q %v comes back as %v", b.Gain, b.Q, got)
		}
	})
}

func TestBandsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := desks.Draw(t, "desk")
		s := tone.Shape{LowCut: tone.LowCut{Frequency: 100, Slope: 24}, Bands: rapid.SliceOfN(bands, 1, 6).Draw(t, "bands")}
		sum := curveAt(d, tone.Shape{LowCut: s.LowCut}, heard...)
		for _, b := range s.Bands {
			for i, dB := range curveAt(d, tone.Shape{Bands: []tone.Band{b}}, heard...) {
				sum[i] += dB
			}
		}
		for i, got := range curveAt(d, s, heard...) {
			if sum[i] > -250 && math.Abs(got-sum[i]) > 1e-9 {
				t.Errorf("at %v Hz: %v dB, one by one %v dB", heard[i], got, sum[i])
			}
		}
	})
}

// The low cut of a desk is a digital filter, whose corner is where the desk says and whose
// skirt bends a little as frequencies near half the sample rate. The formula of the
// analogue one, |H|^2 = 1 / (1 + (fc/f)^2n), is nearly the same for the corners that
// speech is given.
func TestTheLowCutIsNearlyTheAnalogueOne(t *testing.T) {
	hz := logarithmic(10, 16000, 400)
	for _, c := range []struct{ upTo, within float64 }{{120, 0.002}, {400, 0.02}, {2000, 0.4}} {
		var most, mostAt float64
		for _, frequency := range logarithmic(20, c.upTo, 20) {
			for poles := 1; poles <= 8; poles++ {
				curve := curveAt(tone.Desk{Rate: 48000}, tone.Shape{LowCut: tone.LowCut{Frequency: frequency, Slope: float64(6 * poles)}}, hz...)
				for i, f := range hz {
					analogue := -10 * math.Log10(1+math.Pow(frequency/f, float64(2*poles)))
					if off := math.Abs(curve[i] - analogue); analogue > -60 && off > most {
						most, mostAt = off, f
					}
				}
			}
		}
		t.Logf("corners up to %.0f Hz: at most %.4f dB, at %.0f Hz", c.upTo, most, mostAt)
		if most > c.within {
			t.Errorf("corners up to %.0f Hz: %.4f dB from the analogue formula, over %v dB", c.upTo, most, c.within)
		}
	}
}

func TestACurveNeedsNoMemory(t *testing.T) {
	grid, shape := benchGrid(), benchShape()
	curve := make([]float64, len(grid.Hz))
	if n := testing.AllocsPerRun(100, func() { grid.Curve(curve, tone.Desk{Rate: 48000}, shape) }); n != 0 {
		t.Errorf("%v allocations a curve", n)
	}
}
