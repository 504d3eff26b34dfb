package profiles_test

import (
	"math"
	"testing"

	"deskhand/profiles"
)

// near compares numbers to within a millionth: the figures below are given to six
// decimals.
func near(a, b float64) bool { return a == b || math.Abs(a-b) <= 1e-6*max(1, math.Abs(b)) }

func TestAStepOfACurveIsWorthWhatItsLawSays(t *testing.T) {
	for _, test := range []struct {
		path string
		step int
		want float64
		why  string
	}{
		{"channel.1.input.gain", 0, -6, "linear: the first step is the first end"},
		{"channel.1.input.gain", 69, 28.5, "linear: 66 dB in 132 intervals are half a dB each"},
		{"channel.1.input.gain", 132, 60, "linear: the last step is the other end"},
		{"channel.1.lowcut.frequency", 60, 113.137085, "log: the middle is the geometric mean, sqrt(20 * 640)"},
		{"channel.1.lowcut.frequency", 24, 40, "log: five octaves in 120 intervals are 24 an octave"},
		{"channel.1.eq.1.frequency", 288, 1000, "log: six octaves of 48 above 15.625 Hz"},
		{"channel.1.eq.1.q", 40, 1, "log: two octaves of 20 above 0.25"},
		{"channel.1.gate.attack", 100, 50, "power 2: 200 ms * (1/2)^2"},
		{"channel.1.gate.attack", 1, 0.005, "power 2: 200 ms * (1/200)^2"},
		{"channel.1.gate.hold", 100, 250, "power 3: 2000 ms * (1/2)^3"},
		{"channel.1.fader", 0, math.Inf(-1), "points: the bottom is silence"},
		{"channel.1.fader", 40, -72, "points: position 0.04 is a point"},
		{"channel.1.fader", 20, -78.0206, "points: above silence, half way is half the amplitude, 20 log 2 below -72"},
		{"channel.1.fader", 4, -92, "points: a tenth of the way is a tenth of the amplitude, 20 dB below -72"},
		{"channel.1.fader", 120, -54, "points: half way between -72 and -36"},
		{"channel.1.fader", 650, -6, "points: half way between -12 and 0"},
		{"channel.1.fader", 800, 0, "points: position 0.8 is a point"},
		{"channel.1.fader", 900, 4, "points: half way between 0 and 8"},
		{"channel.1.fader", 1000, 8, "points: the top"},
		{"channel.1.pan", 100, 0, "linear: the middle of 201 steps is centre"},
	} {
		c := quayControl(t, test.path)
		if got, _ := c.Curve.At(test.step).Number(); !near(got, test.want) {
			t.Errorf("%s: step %d is worth %v, not %v (%s)", test.path, test.step, got, test.want, test.why)
		}
		if got, err := c.Curve.Step(profiles.Number(test.want)); err != nil || got != test.step {
			t.Errorf("%s: %v falls on step %d, %v, not on %d (%s)", test.path, test.want, got, err, test.step, test.why)
		}
	}
}

func TestAGridOfHalfDecibelsHoldsHalvesAndNoFloatingDust(t *testing.T) {
	c := quayControl(t, "channel.1.input.gain")
	for step := range c.Curve.Steps() {
		if got, want := c.Curve.At(step), profiles.Number(-6+float64(step)/2); got != want {
			t.Errorf("step %d is %v, not %v", step, got, want)
		}
	}
}

// Between 40 Hz and the next step, 40 * 2^(1/24) = 41.172 Hz, the control is half way
// at their geometric mean, 40.582 Hz, and not at 40.586 Hz.
func TestNearestIsMeantInTravelAsTheDeskMeansIt(t *testing.T) {
	c := quayControl(t, "channel.1.lowcut.frequency")
	for value, step := range map[float64]int{40.581: 24, 40.584: 25} {
		if got, err := c.Curve.Step(profiles.Number(value)); err != nil || got != step {
			t.Errorf("%v Hz falls on step %d, %v, not on %d", value, got, err, step)
		}
	}
}

func TestASteadyFallOfACurveIsACurveToo(t *testing.T) {
	c := control(t, "channel.1.own", "[channel]",
		`own = { label = "own", at = "/f/{channel}", points = [[0, 10], [0.5, 4], [1, 0]], steps = 11 }`)
	for step, want := range []float64{10, 8.8, 7.6, 6.4, 5.2, 4, 3.2, 2.4, 1.6, 0.8, 0} {
		if got := c.Curve.At(step); got != profiles.Number(want) {
			t.Errorf("step %d is %v, not %v", step, got, want)
		}
		if got, err := c.Curve.Step(profiles.Number(want)); err != nil || got != step {
			t.Errorf("%v falls on step %d, %v, not on %d", want, got, err, step)
		}
	}
}

func TestSilenceBelowACurve(t *testing.T) {
	c := control(t, "channel.1.fader", "[channel]",
		`fader = { at = "/f/{channel}", linear = [-60, 10], steps = 142, silence = true }`)
	for step, want := range map[int]float64{0: math.Inf(-1), 1: -60, 2: -59.5, 141: 10} {
		if got := c.Curve.At(step); got != profiles.Number(want) {
			t.Errorf("step %d is %v, not %v", step, got, want)
		}
	}
	// Half the amplitude of the lowest sound is 6.02 dB below it; what is nearer to
	// nothing than to that sound is nothing.
	for value, want := range map[float64]float64{-66: -60, -66.1: math.Inf(-1), -200: math.Inf(-1), math.Inf(-1): math.Inf(-1)} {
		if got, err := c.Nearest(profiles.Number(value)); err != nil || got != profiles.Number(want) {
			t.Errorf("%v dB becomes %v, %v, not %v", value, got, err, want)
		}
	}
}

func TestAValueThatTheDeskCantTakeIsRefusedWithTheReason(t *testing.T) {
	for _, test := range []struct {
		path  string
		value profiles.Value
		want  string
	}{
		{"channel.1.input.gain", profiles.Number(60.5), "60.5 dB is out of the desk's range, -6.0 dB to 60.0 dB"},
		{"channel.1.input.gain", profiles.Silence, "-inf dB is out of the desk's range, -6.0 dB to 60.0 dB"},
		{"channel.1.input.gain", profiles.Number(math.NaN()), "nothing is not a number"},
		{"channel.1.input.gain", profiles.Word("loud"), `"loud" is not a number`},
		{"channel.1.input.gain", profiles.Value{}, "nothing is not a number"},
		{"channel.1.fader", profiles.Number(math.Inf(1)), "inf dB is out of the desk's range, -inf dB to 8.0 dB"},
		{"channel.1.mute", profiles.Number(1), "1 is not a switch: write true or false"},
		{"channel.1.send.1.tap", profiles.Word("pots"), `"pots" is not one of the desk's choices: did you mean "post"?`},
		{"channel.1.send.1.tap", profiles.Switch(true), "on is not one of the desk's choices: it is one of pre, post"},
		{"channel.1.label", profiles.Number(3), "3 is not a text: write it in quotes"},
		{"channel.1.label", profiles.Word("a\x07b"), `"a\ab" has a control character in it`},
		{"channel.1.label", profiles.Word("a\xffb"), `"a\xffb" has a control character in it`},
	} {
		_, err := quayControl(t, test.path).Nearest(test.value)
		if err == nil || err.Error() != test.want {
			t.Errorf("%s: %v: %v, not %s", test.path, test.value, err, test.want)
		}
	}
}

func TestATextIsCutToTheDesksBytesAndNeverWithinACharacter(t *testing.T) {
	for _, test := range []struct{ text, want string }{ // label holds 12 bytes
		{"", ""},
		{"bell founder", "bell founder"},         // 12 bytes
		{"bell founders", "bell founder"},        // 13 bytes
		{"the pilot of the bay", "the pilot of"}, // cut after 12 bytes
		{"the  botanist", "the  botanis"},
		{"harbour and bay", "harbour and"},     // the 12th byte is a space, which no one would see
		{"Möwenschnabel", "Möwenschnab"},       // ö takes two bytes, so the 12th letter is the 13th byte
		{"abcdefghijkö", "abcdefghijk"},        // ö would be bytes 12 and 13
		{"ééééééé", "éééééé"},                  // two bytes each
		{"日本語日本", "日本語日"},                      // three bytes each
		{"abcdefghij\U0001F514", "abcdefghij"}, // four bytes
		{"abcdefgh\U0001F514", "abcdefgh\U0001F514"},
	} {
		got, err := quayControl(t, "channel.1.label").Nearest(profiles.Word(test.text))
		if err != nil || got != profiles.Word(test.want) {
			t.Errorf("%q becomes %v, %v, not %q", test.text, got, err, test.want)
		}
	}
	one := control(t, "channel.1.label", "[channel]", `label = { at = "/f/{channel}", text = 1 }`)
	if got, err := one.Nearest(profiles.Word("é")); err != nil || got != profiles.Word("") {
		t.Errorf("in one byte é becomes %v, %v, not nothing", got, err)
	}
}

func TestValuesAreTheSameWhenTheyFallOnTheSameStep(t *testing.T) {
	for _, test := range []struct {
		path string
		a, b profiles.Value
		same bool
	}{
		{"channel.1.input.gain", profiles.Number(28.5), profiles.Number(28.7), true},  // steps of half a dB
		{"channel.1.input.gain", profiles.Number(28.5), profiles.Number(28.8), false}, // nearer to 29
		{"channel.1.input.gain", profiles.Number(28.7), profiles.Number(28.8), false}, // close, and yet two steps
		{"channel.1.input.gain", profiles.Number(80), profiles.Number(80), false},     // the desk has no such step
		{"channel.1.input.gain", profiles.Value{}, profiles.Value{}, false},           // nothing known is not the same
		{"channel.1.fader", profiles.Silence, profiles.Silence, true},
		{"channel.1.fader", profiles.Silence, profiles.Number(-110), false}, // step 1 is at -104
		{"channel.1.mute", profiles.Switch(true), profiles.Switch(true), true},
		{"channel.1.mute", profiles.Switch(true), profiles.Switch(false), false},
		{"channel.1.label", profiles.Word("bell founders"), profiles.Word("bell founder"), true},
		{"channel.1.label", profiles.Word("Pilot"), profiles.Word("pilot"), false},
		{"channel.1.label", profiles.Word("1"), profiles.Number(1), false},
	} {
		if got := quayControl(t, test.path).Same(test.a, test.b); got != test.same {
			t.Errorf("%s: Same(%v, %v) = %v", test.path, test.a, test.b, got)
		}
	}
}

func TestWithinMovesANumberIntoTheDesksRange(t *testing.T) {
	for _, test := range []struct {
		path        string
		value, want profiles.Value
		moved       float64
	}{
		{"channel.1.input.gain", profiles.Number(28.7), profiles.Number(28.7), 0},
		{"channel.1.input.gain", profiles.Number(70), profiles.Number(60), -10},
		{"channel.1.input.gain", profiles.Number(-9), profiles.Number(-6), 3},
		{"channel.1.input.gain", profiles.Number(60.00000000001), profiles.Number(60.00000000001), 0}, // a rounding of floats
		{"channel.1.fader", profiles.Number(12), profiles.Number(8), -4},
		{"channel.1.fader", profiles.Number(-200), profiles.Number(-200), 0},
		{"channel.1.fader", profiles.Silence, profiles.Silence, 0},
		{"channel.1.mute", profiles.Switch(true), profiles.Switch(true), 0},
		{"channel.1.label", profiles.Word("bell founders"), profiles.Word("bell founders"), 0},
		{"channel.1.pan", profiles.Value{}, profiles.Value{}, 0},
	} {
		if got, moved := quayControl(t, test.path).Within(test.value); got != test.want || moved != test.moved {
			t.Errorf("%s: Within(%v) = %v, %v, not %v, %v", test.path, test.value, got, moved, test.want, test.moved)
		}
	}
	silent := control(t, "channel.1.fader", "[channel]",
		`fader = { at = "/f/{channel}", linear = [-60, 10], steps = 142, silence = true }`)
	if got, moved := silent.Within(profiles.Number(-90)); moved != 0 || got != profiles.Number(-90) {
		t.Errorf("-90 dB was moved by %v to %v on a desk that has silence", moved, got)
	}
}

func TestTidyGivesTheNumberThatAPersonWouldWrite(t *testing.T) {
	for _, test := range []struct {
		path        string
		value, want profiles.Value
	}{
		// 48 steps an octave: step 63 above 1000 Hz is at 1000 * 2^(63/48) = 2483.7 Hz and
		// reaches half a step up to 2501.7 Hz.
		{"channel.1.eq.1.frequency", profiles.Number(2483.702), profiles.Number(2500)},
		{"channel.1.eq.1.frequency", profiles.Number(1000), profiles.Number(1000)},
		{"channel.1.lowcut.frequency", profiles.Number(79.7), profiles.Number(80)},
		{"channel.1.fader", profiles.Number(-11.99), profiles.Number(-12)}, // steps of 0.04 dB
		{"channel.1.fader", profiles.Number(-11.96), profiles.Number(-11.96)},
		{"channel.1.fader", profiles.Number(-6.01), profiles.Number(-6)},
		{"channel.1.fader", profiles.Number(9.96), profiles.Number(9.96)}, // out of range: it stays
		{"channel.1.fader", profiles.Silence, profiles.Silence},
		{"channel.1.input.gain", profiles.Number(28.51234), profiles.Number(28.5)},
		{"channel.1.eq.1.gain", profiles.Number(9.96), profiles.Number(10)}, // quarters: nearest 10
		{"channel.1.eq.1.gain", profiles.Number(0.04), profiles.Number(0)},
		{"channel.1.pan", profiles.Number(-30.2), profiles.Number(-30)},
		{"channel.1.mute", profiles.Switch(true), profiles.Switch(true)},
		{"channel.1.label", profiles.Word("bell"), profiles.Word("bell")},
	} {
		if got := quayControl(t, test.path).Tidy(test.value); got != test.want {
			t.Errorf("%s: Tidy(%v) = %v, not %v", test.path, test.value, got, test.want)
		}
	}
}

func TestNoNumberIsNoValue(t *testing.T) {
	if v := profiles.Number(math.NaN()); !v.IsZero() {
		t.Errorf("NaN is the value %v, which isn't even equal to itself", v)
	}
	if _, err := profiles.ValueOf(math.NaN()); err == nil {
		t.Error("a file's nan was taken")
	}
	if profiles.Number(math.Copysign(0, -1)) != profiles.Number(0) {
		t.Error("-0 dB and 0 dB are two values")
	}
}
