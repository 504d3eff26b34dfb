package tone_test

import (
	"math"
	"testing"

	"deskhand/scenes/tone"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// channel is what a channel holds, by name.
type channel map[string]any

func (c channel) levels(t testing.TB, mixes int) tone.Levels {
	t.Helper()
	strip := c.strip(t, mixes, 4)
	return strip.Levels(tone.Desk{Rate: 48000, PanLaw: 3}, strip.ArrivesWellSet())
}

var silence = math.Inf(-1)

func TestLevelsAddUp(t *testing.T) {
	for _, c := range []struct {
		name string
		channel
		want tone.Levels
	}{
		{"nothing: no gain is 0 dB", channel{}, tone.Levels{Main: 0, Mixes: map[int]float64{}}},
		// 32.5 + 1.5 - 6
		{"gain, trim and fader", channel{"input.gain": 32.5, "input.trim": 1.5, "fader": -6.0}, tone.Levels{Main: 28, Mixes: map[int]float64{}}},
		// A pad takes off 20 dB: 40 - 20 - 6
		{"pad in", channel{"input.gain": 40.0, "input.pad": true, "fader": -6.0}, tone.Levels{Main: 14, Mixes: map[int]float64{}}},
		{"pad out", channel{"input.gain": 40.0, "input.pad": false, "fader": -6.0}, tone.Levels{Main: 34, Mixes: map[int]float64{}}},
		// Make-up counts with the compressor in: 30 + 4 - 10, and not without: 30 - 10.
		{"make-up", channel{"input.gain": 30.0, "compressor.on": true, "compressor.makeup": 4.0, "fader": -10.0}, tone.Levels{Main: 24, Mixes: map[int]float64{}}},
		{"make-up of a compressor that is off", channel{"input.gain": 30.0, "compressor.on": false, "compressor.makeup": 4.0, "fader": -10.0}, tone.Levels{Main: 20, Mixes: map[int]float64{}}},
		{"make-up of a compressor without a switch", channel{"input.gain": 30.0, "compressor.makeup": 4.0, "fader": -10.0}, tone.Levels{Main: 24, Mixes: map[int]float64{}}},
		{"not to the mains", channel{"input.gain": 30.0, "fader": 0.0, "main": false}, tone.Levels{Main: silence, Mixes: map[int]float64{}}},
		{"fader down", channel{"input.gain": 30.0, "fader": silence}, tone.Levels{Main: silence, Mixes: map[int]float64{}}},
		// Before the fader 30 - 12, behind it 30 - 12 - 8; a send that is off or down is silent.
		{"sends", channel{"input.gain": 30.0, "fader": -8.0,
			"send.1.level": -12.0, "send.1.tap": "pre", "send.1.on": true,
			"send.2.level": -12.0, "send.2.tap": "post", "send.2.on": true,
			"send.3.level": -12.0, "send.3.tap": "pre", "send.3.on": false,
			"send.4.level": silence, "send.4.tap": "pre", "send.4.on": true,
			"send.6.level": 0.0},
			tone.Levels{Main: 22, Mixes: map[int]float64{1: 18, 2: 10, 3: silence, 4: silence, 6: 30}}},
		// Behind a fader that is down, a send is silent; before it, it is heard.
		{"sends of a fader that is down", channel{"input.gain": 30.0, "fader": silence, "send.1.level": 0.0, "send.1.tap": "post", "send.2.level": 0.0, "send.2.tap": "pre"},
			tone.Levels{Main: silence, Mixes: map[int]float64{1: silence, 2: 30}}},
		{"sends of a channel that is not in the mains", channel{"input.gain": 30.0, "fader": 0.0, "main": false, "send.1.level": 0.0}, tone.Levels{Main: silence, Mixes: map[int]float64{1: 30}}},
		{"mute doesn't count", channel{"input.gain": 30.0, "fader": 0.0, "mute": true}, tone.Levels{Main: 30, Mixes: map[int]float64{}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, c.levels(t, 6), cmpopts.EquateApprox(0, 1e-9)); diff != "" {
				t.Errorf("levels (-want +got):\n%s", diff)
			}
		})
	}
}

func TestRises(t *testing.T) {
	usual := 20.0
	for _, c := range []struct {
		name          string
		before, after tone.Levels
		usual         *float64
		want          []tone.Rise
	}{
		{"none", tone.Levels{Main: 20}, tone.Levels{Main: 20}, &usual, nil},
		{"softer is no rise", tone.Levels{Main: 20}, tone.Levels{Main: 10}, &usual, nil},
		{"to silence is no rise", tone.Levels{Main: 20}, tone.Levels{Main: silence}, &usual, nil},
		{"in the mains", tone.Levels{Main: 16.5}, tone.Levels{Main: 26.5}, &usual, []tone.Rise{{Mix: 0, By: 10}}},
		{"from silence it counts from the usual level", tone.Levels{Main: silence}, tone.Levels{Main: 26.5}, &usual, []tone.Rise{{Mix: 0, By: 6.5, FromSilence: true}}},
		{"from silence to below the usual level", tone.Levels{Main: silence}, tone.Levels{Main: 12}, &usual, nil},
		{"from silence where none is stated", tone.Levels{Main: silence}, tone.Levels{Main: 60}, nil, nil},
		{"from silence to silence", tone.Levels{Main: silence}, tone.Levels{Main: silence}, &usual, nil},
		{"loudest first, then by number", tone.Levels{Main: 10, Mixes: map[int]float64{1: 10, 2: 10, 3: 10}}, tone.Levels{Main: 12, Mixes: map[int]float64{1: 11, 2: 19, 3: 12}}, &usual,
			[]tone.Rise{{Mix: 2, By: 9}, {Mix: 0, By: 2}, {Mix: 3, By: 2}, {Mix: 1, By: 1}}},
		{"a mix that was not there", tone.Levels{}, tone.Levels{Mixes: map[int]float64{4: 25}}, &usual, []tone.Rise{{Mix: 4, By: 5, FromSilence: true}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, tone.Rises(c.before, c.after, c.usual), cmpopts.EquateApprox(0, 1e-9)); diff != "" {
				t.Errorf("rises (-want +got):\n%s", diff)
			}
		})
	}
}

func TestStepsTellLouderAndSofterMainsFirst(t *testing.T) {
	for _, c := range []struct {
		name          string
		before, after tone.Levels
		want          []tone.Step
	}{
		{"none", tone.Levels{Main: 20}, tone.Levels{Main: 20.04}, []tone.Step{}},
		// 19.2 - 20 = -0.8 and 12 - 8 = 4
		{"both ways", tone.Levels{Main: 20, Mixes: map[int]float64{2: 3, 1: 8}}, tone.Levels{Main: 19.2, Mixes: map[int]float64{2: 3, 1: 12}},
			[]tone.Step{{0, 20, 19.2}, {1, 8, 12}}},
		{"silence stays silence", tone.Levels{Main: silence}, tone.Levels{Main: silence, Mixes: map[int]float64{1: silence}}, []tone.Step{}},
		{"from silence and to it", tone.Levels{Main: silence, Mixes: map[int]float64{3: 5}}, tone.Levels{Main: 20, Mixes: map[int]float64{4: 7}},
			[]tone.Step{{0, silence, 20}, {3, 5, silence}, {4, silence, 7}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, tone.Steps(c.before, c.after)); diff != "" {
				t.Errorf("steps (-want +got):\n%s", diff)
			}
		})
	}
}

func TestARiseThereIsAFallBack(t *testing.T) {
	levels := rapid.Custom(func(t *rapid.T) tone.Levels {
		level := rapid.Float64Range(-60, 60)
		l := tone.Levels{Main: level.Draw(t, "main"), Mixes: make(map[int]float64)}
		for m := range 4 {
			l.Mixes[m+1] = level.Draw(t, "mix")
		}
		return l
	})
	rapid.Check(t, func(t *rapid.T) {
		a, b := levels.Draw(t, "before"), levels.Draw(t, "after")
		up, down := tone.Rises(a, b, nil), tone.Rises(b, a, nil)
		for _, u := range up {
			for _, d := range down {
				if u.Mix == d.Mix {
					t.Errorf("mix %d rises both ways, by %v and %v", u.Mix, u.By, d.By)
				}
			}
			from, to := a.Main, b.Main
			if u.Mix > 0 {
				from, to = a.Mixes[u.Mix], b.Mixes[u.Mix]
			}
			if u.By != to-from {
				t.Errorf("mix %d: from %v to %v is no rise by %v", u.Mix, from, to, u.By)
			}
		}
	})
}
