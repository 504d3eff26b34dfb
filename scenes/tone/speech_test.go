package tone_test

import (
	"math"
	"testing"

	"deskhand/scenes/tone"

	"pgregory.net/rapid"
)

func TestTheSpectrumOfSpeechIsThatOfTheSource(t *testing.T) {
	var power float64
	for _, dB := range table {
		power += math.Pow(10, dB/10)
	}
	sum := 10 * math.Log10(power)
	if math.Abs(sum-70.03) > 0.005 {
		t.Errorf("the table adds up to %.3f dB, not 70.03 dB", sum)
	}
	centres := []float64{63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800,
		1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000, 6300, 8000, 10000, 12500, 16000}
	grid := tone.ThirdOctaves(48000)
	if len(grid.Hz) != len(centres) {
		t.Fatalf("%d third-octaves, not %d", len(grid.Hz), len(centres))
	}
	for i, dB := range table {
		if grid.Hz[i] != centres[i] {
			t.Errorf("third-octave %d is at %v Hz, not %v Hz", i, grid.Hz[i], centres[i])
		}
		// A curve that leaves only one band leaves that band's part of 70.03 dB.
		only := make([]float64, len(table))
		for other := range only {
			only[other] = math.Inf(-1)
		}
		only[i] = 0
		if got := tone.SpeechChange(only); math.Abs(got-(dB-70.03)) > 0.005 {
			t.Errorf("%v Hz is at %.2f dB of the whole, not %.1f - 70.03 dB", centres[i], got, dB)
		}
	}
}

func TestACurveThatIsFlatChangesSpeechByItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		flat := rapid.Float64Range(-100, 100).Draw(t, "dB")
		curve := make([]float64, len(table))
		for i := range curve {
			curve[i] = flat
		}
		if got := tone.SpeechChange(curve); math.Abs(got-flat) > 1e-9 {
			t.Errorf("%v dB everywhere makes speech %v dB louder", flat, got)
		}
	})
}

// The two ways to weigh a shape agree where filters are wider than a band, such as people
// use on a voice.
func TestSpeechThroughWideFiltersIsTheSumOverThirdOctaves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := desks.Draw(t, "desk")
		d.BellsNarrow = false
		s := tone.Shape{LowCut: tone.LowCut{Frequency: rapid.Float64Range(60, 200).Draw(t, "low cut"), Slope: 12}}
		for range 3 {
			b := bands.Draw(t, "band")
			b.Kind = rapid.SampledFrom([]tone.Kind{tone.Bell, tone.LowShelf, tone.HighShelf}).Draw(t, "kind")
			b.Q = rapid.Float64Range(0.4, 1).Draw(t, "Q")
			b.Gain = rapid.Float64Range(-6, 6).Draw(t, "gain")
			s.Bands = append(s.Bands, b)
		}
		curve := make([]float64, len(table))
		tone.ThirdOctaves(d.Rate).Curve(curve, d, s)
		if fine, coarse := s.SpeechChange(d), tone.SpeechChange(curve); math.Abs(fine-coarse) > 0.1 {
			t.Errorf("%+v: %.3f dB, by the sum %.3f dB", s, fine, coarse)
		}
	})
}

// Whatever a desk's profile makes of a number, a level is one: a limit that is held against
// no number would let anything through.
func TestALevelIsANumberWhateverTheSettings(t *testing.T) {
	number := rapid.OneOf(rapid.Float64Range(-60, 60), rapid.Float64Range(-1e9, 1e9), rapid.SampledFrom([]float64{math.Inf(-1), 0, 1e-300}))
	above := rapid.OneOf(rapid.Float64Range(1, 20000), rapid.Float64Range(1e-300, 1e9), rapid.SampledFrom([]float64{0, 1e-300, 1e9}))
	anyBand := rapid.Custom(func(t *rapid.T) tone.Band {
		return tone.Band{Kind: rapid.SampledFrom(kinds).Draw(t, "kind"), Frequency: above.Draw(t, "frequency"), Gain: number.Draw(t, "gain"), Q: above.Draw(t, "Q")}
	})
	rapid.Check(t, func(t *rapid.T) {
		s := tone.Strip{
			Gain: number.Draw(t, "gain"), Trim: number.Draw(t, "trim"), Main: true, Fader: number.Draw(t, "fader"), Pan: number.Draw(t, "pan"),
			Shape: tone.Shape{
				LowCut: tone.LowCut{Frequency: above.Draw(t, "low cut"), Slope: above.Draw(t, "slope")},
				Bands:  rapid.SliceOfN(anyBand, 0, 8).Draw(t, "bands"),
			},
			Compressor: tone.Compressor{On: rapid.Bool().Draw(t, "compressor"), Threshold: number.Draw(t, "threshold"),
				Ratio: above.Draw(t, "ratio"), Knee: number.Draw(t, "knee"), Makeup: number.Draw(t, "make-up")},
			Sends: map[int]tone.Send{1: {Level: number.Draw(t, "send"), Pan: number.Draw(t, "send's pan"), Post: rapid.Bool().Draw(t, "post")}},
		}
		l := s.Levels(desks.Draw(t, "desk"), s.ArrivesWellSet())
		if math.IsNaN(l.Main) || math.IsNaN(l.Mixes[1]) {
			t.Errorf("%+v: %+v", s, l)
		}
	})
}
