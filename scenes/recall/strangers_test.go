package recall_test

import (
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/recall"
)

// moves are more settings than a hand moves at once.
func (s *stage) moves(after int) {
	s.t.Helper()
	for path, v := range map[string]float64{"channel.3.fader": -40, "channel.3.input.gain": 3, "channel.3.eq.1.gain": 7} {
		s.moveAfter(after, path, profiles.Number(v))
	}
}

// moveAfter has a hand move a control after so many more settings.
func (s *stage) moveAfter(settings int, path string, v profiles.Value) {
	s.t.Helper()
	if err := s.mock.MoveAfter(settings, profiles.Setting{Parameter: s.parameter(path), Value: v}); err != nil {
		s.t.Fatal(err)
	}
}

func TestAPositionThatSomebodyElseSetsMeanwhileIsToldAndSetOnceMoreWhenTheyAreDone(t *testing.T) {
	for name, left := range map[string]int{"while it is muted": 1, "once it is open": 0} {
		t.Run(name, func(t *testing.T) {
			onStage(t, setting{venue: noLimits, mock: mockdesk.Options{}}, func(t *testing.T, s *stage) {
				s.must(opened(s.on("lectern", "botanist"), true))
				plan := s.prepared(s.on("lectern", "poet"))
				const muteAndOpening = 2
				sent := len(plan.Changes()) + muteAndOpening
				s.moves(sent - left*3) // before the fader and the opening, or right after them
				judge := s.judgeFrom(plan.Parts[0].Target)
				result, err := s.CarryOut(t.Context(), plan)
				if err != nil {
					t.Fatal(err)
				}
				s.complete(result)
				if err := judge.fault(result); err != nil {
					t.Error(err)
				}
				if len(result.Rivals) != 1 || result.Yielded(plan.Parts[0]) || !s.isOpen("channel.3") {
					t.Errorf("rivals %d, open %t", len(result.Rivals), s.isOpen("channel.3"))
				}
			})
		})
	}
}

// Their packets may be on the way for longer than ours.
func TestWhereSomebodyElseWasSeenTheirLastSettingIsNotTakenForAHands(t *testing.T) {
	for after := 1; after <= 6; after++ { // more than are sent once more
		onStage(t, setting{venue: noLimits}, func(t *testing.T, s *stage) {
			s.must(opened(s.on("lectern", "botanist"), true))
			plan := s.prepared(s.on("lectern", "poet"))
			sent := len(plan.Changes()) + 2 // with the mute and the opening
			s.moves(sent)
			s.moveAfter(sent+after, "channel.3.lowcut.frequency", profiles.Number(40))
			result, err := s.CarryOut(t.Context(), plan)
			if err != nil {
				t.Fatal(err)
			}
			s.complete(result)
			low := s.holds("channel.3.lowcut.frequency")
			if low != profiles.Number(80) || len(result.Rivals) != 1 || len(result.Moved) > 0 || !s.isOpen("channel.3") {
				t.Errorf("after %d: low cut %v, rivals %d, moved %v, open %t", after, low, len(result.Rivals), result.Moved, s.isOpen("channel.3"))
			}
		})
	}
}

func TestOneControlThatAHandMovesIsNotTakenForSomebodyElse(t *testing.T) {
	onStage(t, setting{venue: noLimits}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		s.moveAfter(8, "channel.3.input.gain", profiles.Number(3))
		if result := s.must(s.on("lectern", "poet")); len(result.Rivals) > 0 || len(result.Overruled) != 1 {
			t.Errorf("rivals %d, overruled %v", len(result.Rivals), result.Overruled)
		}
	})
}

// Nothing is taken for somebody else but what was set by nobody here: an opening that got
// lost leaves the place as it was sent.
func TestALostOpeningAndOneControlThatAHandMovesAreNotTakenForSomebodyElse(t *testing.T) {
	onStage(t, setting{venue: noLimits}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		plan := s.prepared(s.on("lectern", "poet"))
		sent := len(plan.Changes()) + 2 // with the mute and the opening
		s.moveAfter(sent, "channel.3.mute", profiles.Switch(true))
		s.moveAfter(sent, "channel.3.input.gain", profiles.Number(3))
		result, err := s.CarryOut(t.Context(), plan)
		if err != nil {
			t.Fatal(err)
		}
		s.complete(result)
		if len(result.Rivals) > 0 || len(result.Overruled) != 1 || !s.isOpen("channel.3") {
			t.Errorf("rivals %d, overruled %v, open %t", len(result.Rivals), result.Overruled, s.isOpen("channel.3"))
		}
	})
}

// both puts performers on two open positions, and gives the plan for two others, and how
// many settings it sends.
func (s *stage) both() (plan *recall.Plan, sent int) {
	s.t.Helper()
	s.must(opened(s.on("lectern", "botanist"), true), opened(s.on("table-left", "pilot"), true))
	plan = s.prepared(s.on("lectern", "poet"), s.on("table-left", "botanist"))
	return plan, len(plan.Changes()) + 4 // with the mutes and the openings
}

// The other position was proved before, and has lost what it held like the one that is set
// once more.
func TestADeskThatRestartsWhileSomebodyElseIsWaitedForHasNothingConfirmedThatItLost(t *testing.T) {
	for _, takes := range []time.Duration{0, 30 * time.Second} {
		for after := 1; after <= 4; after++ { // those that are sent once more
			onStage(t, setting{venue: noLimits}, func(t *testing.T, s *stage) {
				plan, sent := s.both()
				s.moves(sent)
				s.mock.RestartAfter(sent+after, takes)
				result, _ := s.CarryOut(t.Context(), plan)
				if len(result.Rivals) != 1 || takes == 0 && !result.Restarted || takes > 0 && len(result.Confirmed) > 0 {
					t.Errorf("after %d: rivals %d, restarted %t, confirmed %d", after, len(result.Rivals), result.Restarted, len(result.Confirmed))
				}
				for q, c := range result.Confirmed {
					if held, _ := s.mock.Holds(q); held != c.Setting().Value {
						t.Fatalf("after %d: %s is confirmed as %v, and is %v", after, q, c.Setting().Value, held)
					}
				}
			})
		}
	}
}

func TestWhatSomebodyElseSetsIsFoundWhereAnotherPositionCannotBeOpened(t *testing.T) {
	onStage(t, setting{venue: noLimits}, func(t *testing.T, s *stage) {
		plan, sent := s.both()
		s.moves(sent)
		for i := range 20 { // as a mute group that is on
			s.moveAfter(sent+i, "channel.5.mute", profiles.Switch(true))
		}
		result, err := s.CarryOut(t.Context(), plan)
		if err != nil {
			t.Fatal(err)
		}
		if len(result.Unproved) != 1 || result.Unproved[0].Parameter != s.parameter("channel.5.mute") || len(result.Rivals) != 1 {
			t.Errorf("unproved %v, rivals %d", result.Unproved, len(result.Rivals))
		}
	})
}

func TestAFaderThatAHandHeldInAFadeIsToldWhereSomebodyElseHadThePlaceSetAgain(t *testing.T) {
	onStage(t, setting{venue: noLimits}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		s.moveAt(-30, true, -25)
		time.AfterFunc(4*time.Second, func() { // it still comes up
			s.move("channel.3.input.gain", profiles.Number(3))
			s.move("channel.3.eq.1.gain", profiles.Number(7))
		})
		result := s.must(faded(s.on("lectern", "poet"), false))
		if len(result.Rivals) != 1 || len(result.Moved) > 0 || len(result.Overruled) != 1 {
			t.Errorf("rivals %d, moved %v, overruled %v", len(result.Rivals), result.Moved, result.Overruled)
		}
	})
}
