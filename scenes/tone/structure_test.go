package tone_test

import (
	"testing"

	"deskhand/scenes/tone"
)

// 66 dB SPL at 1 m: half the distance is 20 log10 2 = 6.021 dB more, 0.4 m 7.959 dB.
func TestAVoiceGetsLouderAsTheMicrophoneGetsNearer(t *testing.T) {
	near(t, "at 1 m", tone.AtDistance(66, 1, 1), 66, 1e-9)
	near(t, "at 0.5 m", tone.AtDistance(66, 1, 0.5), 72.021, 0.001)
	near(t, "at 0.4 m", tone.AtDistance(66, 1, 0.4), 73.959, 0.001)
	near(t, "at 1 m, measured at 0.5 m", tone.AtDistance(72.021, 0.5, 1), 66, 0.001)
}

func TestArrives(t *testing.T) {
	for _, c := range []struct {
		name                                string
		level, sensitivity, fullScale, want float64
	}{
		// 1 Pa at a microphone that gives 1 V is 0 dBV = 2.218 dBu.
		{"a pascal and a volt", 94, 0, 0, 2.218},
		// 73.96 dB SPL is -20.04 dB re 1 Pa; -34 dB re 1 V/Pa makes it -54.04 dBV =
		// -51.822 dBu; full at 22 dBu: -73.822.
		{"a voice at a gooseneck", 73.96, -34, 22, -73.822},
		// 88.5 - 94 - 54 + 2.218 - 4 = -61.282
		{"a voice at a handheld, on another desk", 88.5, -54, 4, -61.282},
	} {
		near(t, c.name, tone.Arrives(c.level, c.sensitivity, c.fullScale), c.want, 1e-9)
	}
}

// The highest short-term levels are 10 dB above the long-term level.
func TestHowALevelFits(t *testing.T) {
	for _, c := range []struct {
		level, headroom, toWellSet float64
		drive                      tone.Drive
	}{
		{-18, 8, 0, tone.DriveFits},
		{-16, 6, -2, tone.DriveFits}, // -9 + 3 - 10
		{-15.9, 5.9, -2.1, tone.TooHot},
		{2, -12, -20, tone.TooHot},
		{-42, 32, 24, tone.DriveFits}, // -18 - 24
		{-42.1, 32.1, 24.1, tone.TooLow},
	} {
		g := tone.GainStructure{Level: c.level}
		near(t, "the headroom", g.Headroom(), c.headroom, 1e-9)
		near(t, "the gain to well set", g.ToWellSet(), c.toWellSet, 1e-9)
		if g.Drive() != c.drive {
			t.Errorf("%v dB is %v, want %v", c.level, g.Drive(), c.drive)
		}
	}
}
