package tone_test

import (
	"math"
	"testing"

	"deskhand/scenes/tone"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// The worked example of the design's notes, without the 6 dB of margin: a microphone at
// 1 m, a loudspeaker 4 m from it, 6 m from there to the farthest listener and 7 m from
// the talker: 20 log10(7*4 / (1*6)) = 20 log10(4.6667) = 20*0.66901 = 13.380 dB. With the
// margin, 7.380 dB.
func TestPotentialGainOfTheWorkedExample(t *testing.T) {
	room := tone.Room{Microphone: 1, Loudspeaker: 4, Throw: 6, Listener: 7, Unaided: 7, Open: 1}
	near(t, "the gain without the margin", room.PotentialGain()+tone.FeedbackMargin, 13.4, 0.05)
	near(t, "the potential gain", room.PotentialGain(), 7.380, 0.001)
}

func TestGainBeforeFeedback(t *testing.T) {
	for _, c := range []struct {
		name                      string
		room                      tone.Room
		potential, needed, margin float64
	}{
		// 20 log10(14*5 / (0.4*12)) = 20 log10(14.583) = 23.277; less 6 is 17.277.
		// Needed: 20 log10(14/4) = 10.881.
		{"one microphone", tone.Room{Microphone: 0.4, Listener: 14, Loudspeaker: 5, Throw: 12, Unaided: 4, Open: 1}, 17.277, 10.881, 6.396},
		// Four of them take off 10 log10 4 = 6.021.
		{"four microphones", tone.Room{Microphone: 0.4, Listener: 14, Loudspeaker: 5, Throw: 12, Unaided: 4, Open: 4}, 11.256, 10.881, 0.375},
		// 20 log10(20*2 / (1*10)) = 12.041; less 6 and 10 log10 2 = 3.010 is 3.031.
		// Needed: 20 log10(20/4) = 13.979.
		{"short of it", tone.Room{Microphone: 1, Listener: 20, Loudspeaker: 2, Throw: 10, Unaided: 4, Open: 2}, 3.031, 13.979, -10.948},
		// Everybody sits nearer than 8 m: 20 log10(4/8) = -6.021.
		// 20 log10(4*1 / (0.5*4)) = 6.021; less 6 is 0.021.
		{"near enough", tone.Room{Microphone: 0.5, Listener: 4, Loudspeaker: 1, Throw: 4, Unaided: 8, Open: 1}, 0.021, -6.021, 6.041},
	} {
		near(t, c.name+": potential gain", c.room.PotentialGain(), c.potential, 0.001)
		near(t, c.name+": needed gain", c.room.NeededGain(), c.needed, 0.001)
		near(t, c.name+": margin", c.room.Margin(), c.margin, 0.0015)
	}
}

func TestHelp(t *testing.T) {
	// The margin is 20 log10(1/2) = -6.021 dB: potential 20 log10(8*2/(1*4)) = 12.041 - 6
	// - 10 log10 4 = 6.021 gives 0.021; needed 20 log10(8/u) is 6.042 for u = 3.990.
	room := tone.Room{Microphone: 1, Listener: 8, Loudspeaker: 2, Throw: 4, Open: 4}
	room.Unaided = 8 / math.Pow(10, (room.PotentialGain()+20*math.Log10(2))/20)
	near(t, "the distance at which speech is clear", room.Unaided, 3.990, 0.001)
	// Half the distance to the microphone, twice that to the loudspeaker, and a quarter of
	// the microphones each make up 6.021 dB.
	help := room.Help()
	near(t, "the microphone", help.Microphone, 0.5, 1e-9)
	near(t, "the loudspeaker", help.Loudspeaker, 4, 1e-9)
	if help.Open != 1 {
		t.Errorf("%d microphones may be open, want 1", help.Open)
	}
	room.Open = 3 // 1.249 dB better: -4.771 dB, and 3/10^0.4771 = 1 is left
	if got := room.Help().Open; got != 1 {
		t.Errorf("of three, %d may be open, want 1", got)
	}
	room.Open, room.Unaided = 1, room.Unaided/2
	if got := room.Help().Open; got != 0 {
		t.Errorf("%d microphones may be open where one is too many", got)
	}
}

func TestWhatHelpsBringsTheMarginToZero(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		metres := func(name string) float64 { return rapid.Float64Range(0.05, 100).Draw(t, name) }
		room := tone.Room{Microphone: metres("microphone"), Listener: metres("listener"), Loudspeaker: metres("loudspeaker"),
			Throw: metres("throw"), Unaided: metres("unaided"), Open: rapid.IntRange(1, 48).Draw(t, "open")}
		help := room.Help()
		nearer, farther := room, room
		nearer.Microphone, farther.Loudspeaker = help.Microphone, help.Loudspeaker
		for _, changed := range []tone.Room{nearer, farther} {
			if m := changed.Margin(); math.Abs(m) > 1e-6 {
				t.Fatalf("the margin is %v dB", m)
			}
		}
		fewer, more := room, room
		fewer.Open, more.Open = help.Open, help.Open+1
		if help.Open > 0 && fewer.Margin() < -1e-6 || more.Margin() > 1e-6 {
			t.Fatalf("%d open microphones leave %v dB, one more %v dB", help.Open, fewer.Margin(), more.Margin())
		}
	})
}
