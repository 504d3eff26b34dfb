package recall_test

import (
	"context"
	"testing"

	"deskhand/profiles"
)

// loudLectern has the lectern open at 50 + 8 dB, 38 over the usual 20.
func (s *stage) loudLectern() {
	s.move("channel.3.main", profiles.Switch(true))
	s.move("channel.3.input.gain", profiles.Number(50))
	s.move("channel.3.fader", profiles.Number(8))
	s.move("channel.3.mute", profiles.Switch(false))
}

// A microphone that needs phantom power was silent without it, however its gain stood.
func TestPhantomPowerThatComesOnCountsFromSilence(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.loudLectern()
		s.refused(t, s.reading("[channel.3]\ninput.phantom = true\n"), "lectern would get 38.0 dB louder in the mains than a usual one")
	})
}

// What stood on the other source, nobody can tell.
func TestAnotherSourceIsHeldAgainstTheUsual(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.loudLectern()
		s.refused(t, s.reading("[channel.3]\nsource = 9\n"), "lectern would get 38.0 dB louder in the mains than a usual one")
	})
}

// A group's fader may have held it down.
func TestLeavingAGroupIsHeldAgainstTheUsual(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.loudLectern()
		s.move("channel.3.group.2", profiles.Switch(true))
		s.refused(t, s.reading("[channel.3]\ngroup.2 = false\n"), "lectern would get 38.0 dB louder in the mains than a usual one")
	})
}

// Of a setting that changes along, the known rise still counts: from -30 to 8 dB is 38,
// while 20 + 8 is only 8 over the usual.
func TestAKnownRiseCountsBesideWhatIsNotKnown(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.loudLectern()
		s.move("channel.3.input.gain", profiles.Number(20))
		s.move("channel.3.fader", profiles.Number(-30))
		s.refused(t, s.reading("[channel.3]\nsource = 9\nfader = 8.0\n"), "lectern would get 38.0 dB louder in the mains (fader +38.0)")
	})
}

// A mix that was muted and comes up with 8 dB, and 8 dB of a send: 16 dB over what was
// usual of the mix.
func TestAMixThatComesUpFromSilenceAddsToItsChannels(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		s.move("mix.2.fader", profiles.Number(8))
		s.move("mix.2.mute", profiles.Switch(true))
		s.move("channel.3.send.2.level", profiles.Number(-18))
		s.refused(t, append(s.reading("[mix.2]\nmute = false\n"), s.on("lectern", "botanist")), "lectern would get 16.0 dB louder in stream")
	})
}

// The recall took the gain down by 20 dB; a hand brought that back with the fader, so that
// the gain's way back would make it 20 dB louder than the room ever had it.
func TestAnUndoIsNoLouderThanTheRoomHadIt(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		s.move("channel.3.fader", profiles.Number(-20))
		s.must(s.reading("[channel.3]\ninput.gain = 10.0\n")...)
		s.move("channel.3.fader", profiles.Number(0))
		s.again()
		s.heard()
		_, err := s.PrepareUndo(t.Context())
		s.isRefusal(t, err, "lectern would get 20.0 dB louder in the mains (fader +20.0)")
	})
}

// The other source was as loud before, and the room had it.
func TestAnUndoBringsBackALoudSource(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.move("channel.3.source", profiles.Number(9))
		s.loudLectern()
		s.must(s.reading("[channel.3]\nsource = 3\nfader = -30.0\n")...)
		result, err := s.undo(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		s.complete(result)
	})
}

// What a recall left half set, nobody has heard: the gain was sent, 12 dB more, and the
// position stayed muted. Another 12 dB of the fader are 24 over what the room had.
func TestAHalfSetPositionCountsFromBeforeThatRecall(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		s.must(s.reading("[channel.3]\ninput.gain = 20.0\nfader = -20.0\n")...)
		s.halfWay(t, "[channel.3]\ninput.gain = 32.0\n", "channel.3.input.gain")
		s.refused(t, s.reading("[channel.3]\nfader = -8.0\n"), "lectern would get 24.0 dB louder in the mains (gain +12.0, fader +12.0)")
	})
}

// The same where another position was recalled in between, whose undo is the newest.
func TestAHalfSetPositionCountsFromBeforeThatRecallAlsoAfterAnother(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		s.must(s.reading("[channel.3]\ninput.gain = 20.0\nfader = -20.0\n")...)
		s.halfWay(t, "[channel.3]\ninput.gain = 32.0\n", "channel.3.input.gain")
		s.must(s.on("table-left", "pilot"))
		s.refused(t, s.reading("[channel.3]\nfader = -8.0\n"), "lectern would get 24.0 dB louder in the mains (gain +12.0, fader +12.0)")
		s.halfWay(t, "[channel.3]\ninput.gain = 31.0\n", "channel.3.input.gain") // left half set once more
		s.refused(t, s.reading("[channel.3]\nfader = -8.0\n"), "lectern would get 23.0 dB louder in the mains (fader +12.0, gain +11.0)")
	})
}

// halfWay begins a recall and breaks it off once a setting is sent.
func (s *stage) halfWay(t *testing.T, reading, after string) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	q := s.parameter(after)
	s.heard()
	s.atSet(func() {
		for _, sent := range sets(s.events) {
			if sent.Parameter == q {
				stop()
			}
		}
	})
	_, result, err := s.recall(ctx, s.reading(reading)...)
	s.atSet(nil)
	if err == nil || result == nil || s.isOpen("channel.3") {
		t.Fatalf("it was not left half set: %v, %v", result, err)
	}
	s.again()
}
