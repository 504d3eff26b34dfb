package tone_test

import (
	"math"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes/tone"

	"github.com/google/go-cmp/cmp"
)

func (c channel) strip(t testing.TB, mixes, bands int) tone.Strip {
	t.Helper()
	return tone.StripOf(mixes, bands, func(name string) profiles.Value {
		raw, ok := c[name]
		if !ok {
			return profiles.Value{}
		}
		v, err := profiles.ValueOf(raw)
		if err != nil {
			t.Fatal(err)
		}
		return v
	})
}

func TestAStripIsGatheredFromWhatTheChannelHolds(t *testing.T) {
	silent := math.Inf(-1)
	none := map[int]tone.Send{}
	bell := tone.Band{Kind: tone.Bell, Frequency: 400, Gain: -3, Q: 1.4}
	for _, c := range []struct {
		name string
		channel
		want tone.Strip
	}{
		{"a desk with none of it", channel{}, tone.Strip{Main: true, Sends: none}},
		{"everything", channel{
			"input.gain": 40.0, "input.pad": true, "input.trim": 1.5, "main": true, "fader": -6.0, "pan": -30.0,
			"lowcut.on": true, "lowcut.frequency": 100.0, "lowcut.slope": 18.0,
			"eq.on": true, "eq.1.on": true, "eq.1.kind": "high-shelf", "eq.1.frequency": 8000.0, "eq.1.gain": 2.0, "eq.1.q": 0.7,
			"compressor.on": true, "compressor.threshold": -20.0, "compressor.ratio": 3.0, "compressor.knee": 6.0, "compressor.makeup": 4.0,
			"send.1.level": -10.0, "send.1.on": true, "send.1.tap": "post", "send.1.pan": 20.0,
		}, tone.Strip{
			Gain: 20, Trim: 1.5, Main: true, Fader: -6, Pan: -30,
			Shape: tone.Shape{
				LowCut: tone.LowCut{Frequency: 100, Slope: 18},
				Bands:  []tone.Band{{Kind: tone.HighShelf, Frequency: 8000, Gain: 2, Q: 0.7}},
			},
			Compressor: tone.Compressor{On: true, Threshold: -20, Ratio: 3, Knee: 6, Makeup: 4},
			Sends:      map[int]tone.Send{1: {Level: -10, Pan: 20, Post: true}},
		}},
		{"a low cut that is off", channel{"lowcut.on": false, "lowcut.frequency": 100.0}, tone.Strip{Main: true, Sends: none}},
		{"a low cut of a slope that nobody says", channel{"lowcut.frequency": 100.0},
			tone.Strip{Main: true, Sends: none, Shape: tone.Shape{LowCut: tone.LowCut{Frequency: 100, Slope: 12}}}},
		{"an EQ that is off", channel{"eq.on": false, "eq.1.frequency": 400.0, "eq.1.gain": -3.0, "lowcut.frequency": 80.0, "lowcut.slope": 24.0},
			tone.Strip{Main: true, Sends: none, Shape: tone.Shape{LowCut: tone.LowCut{Frequency: 80, Slope: 24}}}},
		{"a band that is off, one of no kind, and one that the desk hasn't", channel{
			"eq.1.on": false, "eq.1.frequency": 100.0, "eq.1.gain": 6.0,
			"eq.2.frequency": 400.0, "eq.2.gain": -3.0, "eq.2.q": 1.4,
			"eq.4.frequency": 4000.0, "eq.4.gain": 6.0},
			tone.Strip{Main: true, Sends: none, Shape: tone.Shape{Bands: []tone.Band{bell}}}},
		{"a compressor that is off", channel{"compressor.on": false, "compressor.threshold": -20.0},
			tone.Strip{Main: true, Sends: none, Compressor: tone.Compressor{Threshold: -20, Ratio: 1}}},
		{"not in the mains, and a send that is off", channel{"main": false, "send.2.on": false, "send.2.level": -3.0, "send.2.tap": "pre"},
			tone.Strip{Sends: map[int]tone.Send{2: {Level: silent}}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, c.strip(t, 2, 3)); diff != "" {
				t.Errorf("strip (-want +got):\n%s", diff)
			}
		})
	}
}

func TestSpeechThatArrivesWellSetIsAtTheAlignmentLevel(t *testing.T) {
	// -18 - 34 + 1.5: with gain and trim, -18 dB re full scale.
	if got := (tone.Strip{Gain: 34, Trim: -1.5}).ArrivesWellSet(); got != -50.5 {
		t.Errorf("it arrives at %v dB, not -50.5 dB", got)
	}
	if got := (tone.Strip{Gain: 34, Trim: math.Inf(-1)}).ArrivesWellSet(); got != -18 {
		t.Errorf("at a trim of -inf dB it arrives at %v dB, not -18 dB", got)
	}
}

func TestEachWordNamesItsKind(t *testing.T) {
	for word, want := range map[string]tone.Kind{"bell": tone.Bell, "low-shelf": tone.LowShelf, "high-shelf": tone.HighShelf,
		"low-pass": tone.LowPass, "high-pass": tone.HighPass, "notch": tone.Notch} {
		if got, ok := tone.KindOf(word); !ok || got != want || got.String() != word {
			t.Errorf("%q is %v", word, got)
		}
	}
	if got, ok := tone.KindOf("comb"); ok || got != tone.Bell {
		t.Errorf("a word that names no kind is %v, %v", got, ok)
	}
}
