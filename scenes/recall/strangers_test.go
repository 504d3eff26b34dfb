package recall_test

import (
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
)

// moves are more settings than a hand moves at once.
func (s *stage) moves(after int) {
	s.t.Helper()
	for path, v := range map[string]float64{"channel.3.fader": -40, "channel.3.input.gain": 3, "channel.3.eq.1.gain": 7} {
		if err := s.mock.MoveAfter(after, profiles.Setting{Parameter: s.parameter(path), Value: profiles.Number(v)}); err != nil {
			s.t.Fatal(err)
		}
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

func TestOneControlThatAHandMovesIsNotTakenForSomebodyElse(t *testing.T) {
	onStage(t, setting{venue: noLimits}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		if err := s.mock.MoveAfter(8, profiles.Setting{Parameter: s.parameter("channel.3.input.gain"), Value: profiles.Number(3)}); err != nil {
			t.Fatal(err)
		}
		if result := s.must(s.on("lectern", "poet")); len(result.Rivals) > 0 || len(result.Overruled) != 1 {
			t.Errorf("rivals %d, overruled %v", len(result.Rivals), result.Overruled)
		}
	})
}
