package profiles_test

import (
	"math"
	"testing"

	"deskhand/profiles"
)

func spec(t tb, path string) profiles.Spec {
	t.Helper()
	return quayControl(t, path).Spec
}

func TestValuesAreSaidAsTheTradeSaysThem(t *testing.T) {
	for _, test := range []struct {
		path  string
		value profiles.Value
		want  string
	}{
		{"channel.1.fader", profiles.Number(-6), "-6.0 dB"},
		{"channel.1.fader", profiles.Number(-0.04), "0.0 dB"}, // there is no -0.0
		{"channel.1.fader", profiles.Silence, "-inf dB"},
		{"channel.1.input.gain", profiles.Number(28.5), "28.5 dB"},
		{"channel.1.eq.1.frequency", profiles.Number(2500), "2.5 kHz"},
		{"channel.1.eq.1.frequency", profiles.Number(1000), "1.0 kHz"},
		{"channel.1.eq.1.frequency", profiles.Number(999.4), "999 Hz"},
		{"channel.1.eq.1.frequency", profiles.Number(999.5), "1.0 kHz"}, // and not 1000 Hz
		{"channel.1.eq.1.frequency", profiles.Number(999.7), "1.0 kHz"},
		{"channel.1.eq.1.frequency", profiles.Number(12345), "12.3 kHz"},
		{"channel.1.eq.1.frequency", profiles.Number(16000), "16.0 kHz"},
		{"channel.1.eq.1.frequency", profiles.Number(15.625), "15.6 Hz"},
		{"channel.1.lowcut.frequency", profiles.Number(80), "80 Hz"},
		{"channel.1.lowcut.slope", profiles.Number(12), "12 dB/octave"},
		{"channel.1.gate.attack", profiles.Number(0), "0 ms"},
		{"channel.1.gate.attack", profiles.Number(0.5), "0.5 ms"},
		{"channel.1.gate.hold", profiles.Number(1234.5), "1234 ms"}, // the even neighbour of a half
		{"channel.1.eq.1.q", profiles.Number(1.414), "1.4"},
		{"channel.1.eq.1.q", profiles.Number(0.2549), "0.25"},
		{"channel.1.eq.1.q", profiles.Number(10.64), "10.6"},
		{"channel.1.eq.1.q", profiles.Number(2), "2.0"},
		{"channel.1.eq.1.q", profiles.Number(0.9996), "1.0"},
		{"channel.1.compressor.ratio", profiles.Number(4), "4.0:1"},
		{"channel.1.pan", profiles.Number(-30), "L30"},
		{"channel.1.pan", profiles.Number(100), "R100"},
		{"channel.1.pan", profiles.Number(-0.3), "centre"},
		{"channel.1.source", profiles.Number(17), "17"},
		{"channel.1.mute", profiles.Switch(false), "off"},
		{"channel.1.mute", profiles.Switch(true), "on"},
		{"channel.1.eq.1.kind", profiles.Word("low-shelf"), "low-shelf"},
		{"channel.1.label", profiles.Word("bell founder"), `"bell founder"`},
		{"channel.1.label", profiles.Word(""), `""`},
		{"channel.1.fader", profiles.Value{}, "unknown"},
	} {
		if got := spec(t, test.path).Say(test.value); got != test.want {
			t.Errorf("%s: %v is said %q, not %q", test.path, test.value, got, test.want)
		}
	}
}

func TestTwoValuesAreSaidWithTheFiguresThatTellThemApartAndTheirStepToo(t *testing.T) {
	for _, test := range []struct {
		path       string
		a, b       profiles.Value
		x, y, step string
	}{
		{"channel.1.input.gain", profiles.Number(34), profiles.Number(28.5), "34.0 dB", "28.5 dB", "-5.5"},
		{"channel.1.send.1.level", profiles.Number(-12), profiles.Number(-8), "-12.0 dB", "-8.0 dB", "+4.0"},
		{"channel.1.fader", profiles.Number(-0.04), profiles.Number(0), "-0.04 dB", "0.00 dB", "+0.04"},
		{"channel.1.fader", profiles.Number(-11.96), profiles.Number(-12.04), "-11.96 dB", "-12.04 dB", "-0.08"},
		{"channel.1.fader", profiles.Silence, profiles.Number(-10), "-inf dB", "-10.0 dB", ""},
		{"channel.1.fader", profiles.Number(-10), profiles.Number(-10), "-10.0 dB", "-10.0 dB", ""},
		{"channel.1.fader", profiles.Value{}, profiles.Number(-10), "unknown", "-10.0 dB", ""},
		{"channel.1.eq.1.frequency", profiles.Number(2500), profiles.Number(3200), "2.5 kHz", "3.2 kHz", ""},
		{"channel.1.eq.1.frequency", profiles.Number(2501), profiles.Number(2502), "2.501 kHz", "2.502 kHz", ""},
		{"channel.1.eq.1.frequency", profiles.Number(999.96), profiles.Number(1000), "999.96 Hz", "1.0 kHz", ""},
		{"channel.1.pan", profiles.Number(-0.3), profiles.Number(0), "L0.3", "centre", ""},
		{"channel.1.mute", profiles.Switch(true), profiles.Switch(false), "on", "off", ""},
	} {
		s := spec(t, test.path)
		x, y := s.SayBoth(test.a, test.b)
		if x != test.x || y != test.y {
			t.Errorf("%s: said %q and %q, not %q and %q", test.path, x, y, test.x, test.y)
		}
		if step := s.SayStep(test.a, test.b); step != test.step {
			t.Errorf("%s: the step from %s to %s is said %q, not %q", test.path, x, y, step, test.step)
		}
	}
}

// Whatever two steps of a shipped desk are compared, a reader sees that they differ.
func TestNeighbouringStepsAreNeverSaidAlike(t *testing.T) {
	for _, p := range every(t) {
		seen := make(map[*profiles.Control]bool)
		for _, q := range p.Parameters() {
			c, _ := p.Control(q)
			if seen[c] {
				continue
			}
			seen[c] = true
			for step := 1; step < c.Curve.Steps(); step++ {
				a, b := c.Spec.SayBoth(c.Curve.At(step-1), c.Curve.At(step))
				if a == b {
					t.Errorf("%s: steps %d and %d are both said %q", q, step-1, step, a)
				}
			}
		}
	}
}

func TestLabelsAndBoundsAreSaidWithTheirNumbers(t *testing.T) {
	p := quay(t)
	for path, want := range map[string]string{
		"channel.1.eq.2.gain":    "EQ 2 gain",
		"channel.1.send.3.level": "to wedge",
		"channel.1.group.4":      "in group 4",
		"channel.1.input.gain":   "gain",
	} {
		q := parameter(t, path)
		c, _ := p.Control(q)
		wedge := func(int) string { return "wedge" }
		if got := c.Spec.SayLabel(q.Name, wedge); got != want {
			t.Errorf("%s is called %q, not %q", path, got, want)
		}
	}
	if got := spec(t, "channel.1.send.3.level").SayLabel("send.3.level", nil); got != "to 3" {
		t.Errorf("a send without names for mixes is called %q", got)
	}
	for path, want := range map[string]string{
		"channel.1.fader":          "-inf or up to 40.0 dB",
		"channel.1.pan":            "L100 to R100",
		"channel.1.eq.1.frequency": "5 Hz to 40.0 kHz",
	} {
		if got := spec(t, path).SayBounds(); got != want {
			t.Errorf("the bounds of %s are said %q, not %q", path, got, want)
		}
	}
}

func TestTheCatalogueAllowsWhatADeskCouldMean(t *testing.T) {
	for _, test := range []struct {
		path string
		n    float64
		want bool
	}{
		{"channel.1.fader", math.Inf(-1), true},
		{"channel.1.fader", -300, true},
		{"channel.1.fader", 41, false},
		{"channel.1.input.gain", math.Inf(-1), false},
		{"channel.1.input.gain", 60, true},
		{"channel.1.input.gain", 600, false},
		{"channel.1.pan", math.Inf(1), false},
		{"channel.1.pan", math.NaN(), false},
	} {
		if got := spec(t, test.path).Allows(test.n); got != test.want {
			t.Errorf("%s: Allows(%v) = %v", test.path, test.n, got)
		}
	}
}
