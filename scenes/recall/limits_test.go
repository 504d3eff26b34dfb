package recall_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/recall"
)

// refused prepares what has to be refused, and checks that nothing is sent and that
// the reasons say all of the words.
func (s *stage) refused(t *testing.T, targets []recall.Target, words ...string) {
	t.Helper()
	s.heard()
	_, err := s.Prepare(t.Context(), targets)
	s.isRefusal(t, err, words...)
}

// isRefusal is that of an error, since when nothing was sent.
func (s *stage) isRefusal(t *testing.T, err error, words ...string) {
	t.Helper()
	var refused *recall.Refused
	if !errors.As(err, &refused) {
		t.Fatal("not refused:", err)
	}
	for _, word := range words {
		if !strings.Contains(err.Error(), word) {
			t.Errorf("%q does not say %q", err, word)
		}
	}
	if sent := sets(s.heard()); len(sent) > 0 {
		t.Error("sent", sent)
	}
}

// reading is the targets of a reading's text.
func (s *stage) reading(text string) []recall.Target {
	s.t.Helper()
	r, err := s.Book.ParseReading("a.toml", []byte("desk = \"quay-24\"\ntaken = 2026-01-08T18:00:00Z\n"+text))
	if err != nil {
		s.t.Fatal(err)
	}
	return recall.ForReading(s.Venue, r)
}

// lineOf is where a text first stands in the venue's file, as FILE:LINE.
func (s *stage) lineOf(text string) string {
	s.t.Helper()
	for i, line := range strings.Split(s.venueText(), "\n") {
		if strings.HasPrefix(line, text) {
			return fmt.Sprintf("venues/net-loft.toml:%d", i+1)
		}
	}
	s.t.Fatalf("no %q in the venue", text)
	return ""
}

func TestTooMuchLouderInTheMainsIsRefused(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		s.move("channel.3.fader", profiles.Number(-30)) // back to -6 is 24 dB louder
		s.refused(t, []recall.Target{s.on("lectern", "botanist")},
			"lectern would get 24.0 dB louder in the mains", "limit of 12.0 dB", s.lineOf("rise"))
	})
}

func TestTooMuchLouderInOneMixIsRefused(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		s.move("channel.3.send.2.level", profiles.Number(-30)) // back to -10 is 20 dB louder
		s.refused(t, []recall.Target{s.on("lectern", "botanist")}, "lectern would get 20.0 dB louder in stream", s.lineOf("rise"))
	})
}

// Without the pad of the fader: 50 + 8 dB is 38 dB over the usual 20.
func TestWhatComesUpFromSilenceIsHeldAgainstTheUsual(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		loud := "[channel.3]\ninput.gain = 50.0\nfader = 8.0\nmain = true\nmute = false\n"
		s.refused(t, s.reading(loud), "lectern would get 38.0 dB louder in the mains than a usual one")
	})
}

func TestAMutedPositionComesUpFromSilence(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.move("channel.3.main", profiles.Switch(true))
		s.move("channel.3.input.gain", profiles.Number(50))
		s.move("channel.3.fader", profiles.Number(8))
		s.move("channel.3.mute", profiles.Switch(true))
		s.refused(t, s.reading("[channel.3]\nmute = false\n"), "lectern would get 38.0 dB louder in the mains than a usual one")
	})
}

func TestTheGainHasALimitOfItsOwn(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.refused(t, s.reading("[channel.3]\ninput.gain = 51.0\n"), "lectern would get a gain of 51.0 dB", "limit of 50.0 dB", s.lineOf("gain = 50"))
	})
}

// Were the desk to restart in the middle, it would be told the gain again.
func TestAGainOverTheLimitIsRefusedThoughTheDeskHoldsIt(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.move("channel.3.input.gain", profiles.Number(51))
		s.refused(t, s.reading("[channel.3]\ninput.gain = 51.0\nfader = -20.0\n"), "lectern would get a gain of 51.0 dB", s.lineOf("gain = 50"))
	})
}

func TestAMixThatGetsTooMuchLouderIsRefused(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.move("mix.2.fader", profiles.Number(-24))
		s.refused(t, s.reading("[mix.2]\nfader = 0.0\n"), "mix 2 would get 24.0 dB louder in stream")
	})
}

// 8 dB of the send and 8 dB of the mix are 16 dB in the mix, and neither is over 12.
func TestRisesOfAPositionAndOfAMixAddUp(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		s.move("mix.2.fader", profiles.Number(-8))
		s.move("channel.3.send.2.level", profiles.Number(-18))
		s.refused(t, append(s.reading("[mix.2]\nfader = 0.0\n"), s.on("lectern", "botanist")), "lectern would get 16.0 dB louder in stream")
	})
}

func TestAnUndoMayMakeItLouder(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		fader := s.holds("channel.3.fader")
		s.must(s.reading("[channel.3]\nfader = -40.0\n")...)
		if result, err := s.undo(t.Context()); err != nil || !result.Complete() {
			t.Fatal(err)
		}
		if got := s.holds("channel.3.fader"); got != fader {
			t.Errorf("the fader is at %v, not at %v", got, fader)
		}
	})
}

func TestASafeParameterIsNeverSent(t *testing.T) {
	safes := []string{`"input.delay"]`, `"input.delay", "lectern.eq", "lectern.input.gain"]`}
	onStage(t, setting{venue: safes}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		// A hand moves a safe one that was right by chance, in the middle of the next swap.
		if err := s.mock.MoveAfter(3, profiles.Setting{Parameter: s.parameter("channel.3.input.delay"), Value: profiles.Number(100)}); err != nil {
			t.Fatal(err)
		}
		plan, result, err := s.recall(t.Context(), s.on("lectern", "poet"))
		if err != nil || !result.Complete() {
			t.Fatal(result, err)
		}
		if len(plan.Safe()) == 0 {
			t.Error("the plan leaves nothing alone")
		}
		for _, set := range sets(s.heard()) {
			if safe, ok := s.Venue.SafeFor(set.Parameter); ok {
				t.Errorf("%s was sent, and %s is safe", set.Parameter, safe.Text)
			}
		}
	})
}

func TestAnOpenPositionWhoseMuteIsSafeIsRefused(t *testing.T) {
	safes := []string{`"input.delay"]`, `"lectern.mute"]`}
	onStage(t, setting{venue: safes}, func(t *testing.T, s *stage) {
		s.refused(t, []recall.Target{s.on("lectern", "botanist")}, "lectern can't be muted", s.lineOf("safes"))
	})
}

func TestAMutedPositionWhoseMuteIsSafeIsSetAndStaysMuted(t *testing.T) {
	safes := []string{`"input.delay"]`, `"lectern.mute"]`}
	onStage(t, setting{venue: safes}, func(t *testing.T, s *stage) {
		s.move("channel.3.mute", profiles.Switch(true))
		s.must(opened(s.on("lectern", "botanist"), true))
		if s.isOpen("channel.3") {
			t.Error("it was opened")
		}
	})
}

func TestAHandThatOpensAPositionWhoseMuteIsSafeEndsTheRecall(t *testing.T) {
	safes := []string{`"input.delay"]`, `"lectern.mute"]`}
	onStage(t, setting{venue: safes}, func(t *testing.T, s *stage) {
		s.move("channel.3.mute", profiles.Switch(true))
		hand := profiles.Setting{Parameter: s.parameter("channel.3.mute"), Value: profiles.Switch(false)}
		if err := s.mock.MoveAfter(2, hand); err != nil {
			t.Fatal(err)
		}
		_, result, err := s.recall(t.Context(), s.on("lectern", "botanist"))
		if err != nil || result.Complete() {
			t.Error(result, err)
		}
		for _, set := range sets(s.heard()) {
			if set.Parameter.Name == "mute" || set.Parameter.Name == "fader" {
				t.Error("sent", set)
			}
		}
	})
}

func TestWhereAllThatDiffersIsSafeTheRecallIsRefused(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.refused(t, s.reading("[main]\nfader = -3.0\n"), "all that differs is safe here", "main.fader", s.lineOf("safes"))
	})
}

func TestAPositionThatCanNotBeMutedIsRefused(t *testing.T) {
	noMute := []string{"mute = { at = \"/lane/{channel}/out/mute\" }\n", ""}
	onStage(t, setting{profile: noMute, mock: mockdesk.Options{}}, func(t *testing.T, s *stage) {
		s.refused(t, []recall.Target{s.on("lectern", "botanist")}, "lectern can't be muted: quay-24 has no channel.3.mute")
	})
}
