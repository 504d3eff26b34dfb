package recall_test

import (
	"context"
	"errors"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/recall"
)

// stopAfter gives a context that ends when the desk has taken so many more settings.
func (s *stage) stopAfter(t *testing.T, settings int) context.Context {
	ctx, cancel := context.WithCancel(t.Context())
	t.Cleanup(cancel)
	s.atSet(func() {
		if settings--; settings == 0 {
			cancel()
		}
	})
	return ctx
}

func TestAUserWhoStopsASwapLeavesThePositionMutedOrUntouched(t *testing.T) {
	t.Parallel()
	for after := 1; after <= botanistToPoet; after++ {
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			s.must(s.on("lectern", "botanist"))
			before := s.everything()
			target := s.on("lectern", "poet")
			judge := s.judgeFrom(target)
			_, result, err := s.recall(s.stopAfter(t, after), target)
			if !errors.Is(err, context.Canceled) || result == nil {
				t.Fatal(after, result, err)
			}
			if err := judge.fault(result); err != nil {
				t.Errorf("stopped after %d settings: %v", after, err)
			}
			if result.Complete() {
				t.Errorf("stopped after %d settings: complete", after)
			}
			s.finishOrUndo(t, after, before)
		})
	}
}

// finishOrUndo goes on from a swap to the poet that was left half done: in one of two
// ways.
func (s *stage) finishOrUndo(t *testing.T, after int, before map[profiles.Parameter]profiles.Value) {
	t.Helper()
	if after%2 == 0 {
		s.again()
		plan, result, err := s.recall(t.Context(), s.on("lectern", "poet"))
		if err != nil || !result.Complete() || len(plan.Moves) > 0 {
			t.Fatalf("stopped after %d settings: then %v, told as hand moves: %v", after, err, plan.Moves)
		}
		if !s.isOpen("channel.3") {
			t.Errorf("stopped after %d settings: not open after the second swap", after)
		}
	}
	// One undo leads back in front of both, and the next one in front of the botanist.
	if result, err := s.undo(t.Context()); err != nil || !result.Complete() {
		t.Fatalf("stopped after %d settings: undo: %v", after, err)
	}
	s.isAs(t, before)
	if s.Memory.On["lectern"] != "botanist" || len(s.Memory.Unfinished) > 0 {
		t.Errorf("stopped after %d settings: on %v, unfinished %v", after, s.Memory.On, s.Memory.Unfinished)
	}
	if result, err := s.undo(t.Context()); err != nil || result == nil || !result.Complete() {
		t.Fatalf("stopped after %d settings: second undo: %v", after, err)
	}
	if label := s.holds("channel.3.label"); label != profiles.Word("") {
		t.Errorf("stopped after %d settings: after the second undo it is still %v", after, label)
	}
}

func (s *stage) isAs(t *testing.T, before map[profiles.Parameter]profiles.Value) {
	t.Helper()
	for q, held := range s.everything() {
		if held != before[q] {
			t.Errorf("%s is %v, and was %v", q, held, before[q])
		}
	}
}

func TestASwapStoppedBeforeAnythingWasSentLeavesNothingBehind(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		plan, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "poet")})
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if result, err := s.CarryOut(ctx, plan); result != nil || !errors.Is(err, context.Canceled) {
			t.Error(result, err)
		}
		s.again()
		undo, _, _ := s.Memory.Undo()
		if len(s.Memory.Unfinished) > 0 || undo.Note != "before lectern: botanist" {
			t.Error(s.Memory.Unfinished, undo.Note)
		}
		s.move("channel.3.pan", profiles.Number(40)) // which the swap would have sent, and which is still known
		next, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "poet")})
		if err != nil || len(next.Moves) != 1 {
			t.Error(next.Moves, err)
		}
	})
}

func TestAChannelWithoutAPositionIsOpenedAgainToo(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		text := "[channel.2]\neq.1.gain = -6.0\neq.2.gain = -6.0\neq.3.gain = -6.0\n"
		if _, result, _ := s.recall(s.stopAfter(t, 3), s.reading(text)...); result.Complete() {
			t.Fatal("it came to its end")
		}
		s.again()
		s.must(s.reading(text)...)
		if !s.isOpen("channel.2") || len(s.Memory.Unfinished) > 0 {
			t.Error("open:", s.isOpen("channel.2"), "unfinished:", s.Memory.Unfinished)
		}
	})
}

func TestAHandThatOpensAHalfRecalledPositionIsNotClosedOn(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), false))
		if _, result, _ := s.recall(s.stopAfter(t, 4), s.on("lectern", "poet")); result.Complete() {
			t.Fatal("it came to its end")
		}
		s.move("channel.3.mute", profiles.Switch(false))
		s.again()
		s.must(s.on("lectern", "poet"))
		if !s.isOpen("channel.3") {
			t.Error("a hand had opened it, and it is muted")
		}
	})
}

func TestWhereTheDeskFallsSilentInTheMiddleNothingCountsAsConfirmedOrAsAHandMove(t *testing.T) {
	for after := 1; after <= botanistToPoet; after += 3 {
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			s.must(s.on("lectern", "botanist"))
			left := after
			s.atSet(func() {
				if left--; left == 0 {
					go s.mock.Misbehave(mockdesk.Trouble{Out: mockdesk.Way{Lose: 1}})
				}
			})
			target := s.on("lectern", "poet")
			judge := s.judgeFrom(target)
			_, result, err := s.recall(t.Context(), target)
			if err != nil || result.Complete() {
				t.Fatal(after, result, err)
			}
			if err := judge.fault(result); err != nil {
				t.Errorf("silent after %d settings: %v", after, err)
			}
			s.mock.Misbehave(mockdesk.Trouble{})
			s.again()
			plan, result, err := s.recall(t.Context(), target)
			if err != nil || !result.Complete() || len(plan.Moves) > 0 || !s.isOpen("channel.3") {
				t.Errorf("silent after %d settings: then %v, moves %v", after, err, plan.Moves)
			}
		})
	}
}
