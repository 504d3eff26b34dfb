package recall_test

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/recall"
)

// moveAt has a hand move the fader of the lectern when it has come to a level on its way.
func (s *stage) moveAt(level float64, up bool, to float64) {
	q := s.parameter("channel.3.fader")
	wasDown, done := false, false
	s.atSet(func() {
		last := s.events[len(s.events)-1].Setting
		if last.Parameter != q || done {
			return
		}
		v := decibels(last.Value)
		wasDown = wasDown || v < -55
		if passes := v < level; up {
			passes = wasDown && v > level
			done = passes
		} else {
			done = passes
		}
		if done {
			go func() { _, _ = s.mock.Move(q, profiles.Number(to)) }()
		}
	})
}

func TestAHandOnALevelThatComesUpWinsAndTheNextRecallKnows(t *testing.T) {
	for _, profile := range [][]string{nil, {"[follow]\nask = \"/quay/keep-telling\"\nlapses = \"8s\"\n", ""}} {
		onStage(t, setting{profile: profile}, func(t *testing.T, s *stage) {
			s.must(s.on("lectern", "botanist"))
			q := s.parameter("channel.3.fader")
			end := s.on("lectern", "pilot")
			// The hand holds the fader for a second, at levels that the way up doesn't have.
			time.AfterFunc(4200*time.Millisecond, func() {
				for i := range 1000 {
					_, _ = s.mock.Move(q, profiles.Number(4+float64(i)/1000))
					time.Sleep(time.Millisecond)
				}
			})
			result := s.must(faded(end, false))
			time.Sleep(2 * time.Second)
			held := s.holds("channel.3.fader")
			if math.Abs(decibels(held)-5) > 0.05 || !s.isOpen("channel.3") {
				t.Errorf("the hand left it at 5 dB, and it is at %v", held)
			}
			if len(result.Moved) != 1 || result.Moved[0].Parameter != q || len(result.Overruled) > 0 {
				t.Errorf("moved %v, overruled %v", result.Moved, result.Overruled)
			}
			s.again()
			next, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "pilot")})
			if next == nil || len(next.Moves) != 1 || next.Moves[0].To != held {
				t.Error(next, err)
			}
		})
	}
}

// What a hand does while a place goes down is set again: the place is muted and set.
func TestAHandOnALevelThatComesDownIsToldAndThePlaceIsSetAllTheSame(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		s.moveAt(-30, false, 3)
		target := faded(s.on("lectern", "pilot"), false)
		judge := s.judgeFrom(target)
		result := s.must(target)
		if err := judge.fault(result); err != nil {
			t.Error(err)
		}
		s.isAsWanted(t, target)
		if len(result.Moved) > 0 || len(result.Overruled) != 1 || math.Abs(decibels(result.Overruled[0].Found)-3) > 0.05 {
			t.Errorf("moved %v, overruled %v", result.Moved, result.Overruled)
		}
	})
}

func TestAFadeWithPacketsLostEndsConfirmed(t *testing.T) {
	for seed := range uint64(12) {
		way := mockdesk.Way{Lose: 0.05, Double: 0.02, Reorder: 0.05, Delay: 3 * time.Millisecond}
		trouble := mockdesk.Trouble{Seed: seed, In: way, Out: way}
		onStage(t, setting{mock: mockdesk.Options{Trouble: trouble}}, func(t *testing.T, s *stage) {
			s.must(s.on("lectern", "botanist"), opened(s.on("table-left", "pilot"), true))
			targets := []recall.Target{
				faded(s.on("lectern", "poet"), seed%2 == 0), faded(opened(s.on("table-left", "pilot"), false), seed%2 == 0),
			}
			judge := s.judgeFrom(targets...)
			result := s.must(targets...)
			if err := judge.fault(result); err != nil {
				t.Errorf("seed %d: %v", seed, err)
			}
			for _, target := range targets {
				s.isAsWanted(t, target)
			}
			if len(result.Moved)+len(result.Overruled) > 0 {
				t.Errorf("seed %d: nobody touched anything: moved %v, overruled %v", seed, result.Moved, result.Overruled)
			}
		})
	}
}

// Wherever a fade is stopped: nothing of a place was set while it is open but its levels,
// it is known as unfinished, and both ways on from there lead where they should.
func TestAStoppedFadeIsKnownAndCanBeFinishedOrUndone(t *testing.T) {
	t.Parallel()
	for after := 1; after <= 800; after += 34 {
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			s.must(s.on("lectern", "botanist"))
			before := s.everything()
			target := faded(s.on("lectern", "pilot"), false)
			judge := s.judgeFrom(target)
			_, result, err := s.recall(s.stopAfter(t, after), target)
			s.atSet(nil)
			if !errors.Is(err, context.Canceled) || result == nil || result.Complete() {
				t.Fatalf("stopped after %d settings: %v", after, err)
			}
			if err := judge.fault(result); err != nil {
				t.Errorf("stopped after %d settings: %v", after, err)
			}
			if _, known := s.Memory.Unfinished["lectern"]; !known || s.Memory.On["lectern"] != "botanist" {
				t.Errorf("stopped after %d settings: unfinished %v, on %v", after, s.Memory.Unfinished, s.Memory.On)
			}
			if after%4 == 1 {
				s.again()
				again := s.on("lectern", "pilot")
				if after%8 == 1 {
					again = faded(again, false)
				}
				plan, result, err := s.recall(t.Context(), again)
				if err != nil || !result.Complete() || len(plan.Moves) > 0 || !s.isOpen("channel.3") {
					t.Fatalf("stopped after %d settings: then %v, told as hand moves: %v", after, err, plan.Moves)
				}
				s.isAsWanted(t, again)
			}
			if result, err := s.undo(t.Context()); err != nil || !result.Complete() {
				t.Fatalf("stopped after %d settings: undo: %v", after, err)
			}
			s.isAs(t, before)
			if s.Memory.On["lectern"] != "botanist" || len(s.Memory.Unfinished) > 0 {
				t.Errorf("stopped after %d settings: on %v, unfinished %v", after, s.Memory.On, s.Memory.Unfinished)
			}
		})
	}
}

func TestADeskThatRestartsInAFadeIsMutedAndSetAgain(t *testing.T) {
	for _, after := range []int{50, 380, 400, 420, 500, 700} {
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			s.must(s.on("lectern", "botanist"))
			target := faded(s.on("lectern", "pilot"), false)
			judge := s.judgeFrom(target)
			s.kept = nil
			s.mock.RestartAfter(after, 100*time.Millisecond)
			result := s.must(target)
			if err := judge.fault(result); err != nil {
				t.Errorf("restarted after %d settings: %v", after, err)
			}
			if muted := s.mutedAfterRestart(); after >= 420 && muted > 1500*time.Millisecond {
				t.Errorf("restarted after %d settings, on the way up: muted only %v later", after, muted)
			}
			if !result.Restarted || !s.isOpen("channel.3") {
				t.Errorf("restarted after %d settings: told %v, open %v", after, result.Restarted, s.isOpen("channel.3"))
			}
			s.isAsWanted(t, target)
		})
	}
}

// mutedAfterRestart is how long after the desk lost its settings the lectern was muted.
func (s *stage) mutedAfterRestart() time.Duration {
	s.t.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()
	var restarted time.Time
	mute := profiles.Setting{Parameter: s.parameter("channel.3.mute"), Value: profiles.Switch(true)}
	for _, k := range s.kept {
		if k.what == mockdesk.Restarted {
			restarted = k.at
		}
		if !restarted.IsZero() && k.what == mockdesk.Set && k.setting == mute {
			return k.at.Sub(restarted)
		}
	}
	s.t.Fatal("it was not muted")
	return 0
}

// A channel whose gain the desk never takes stays muted, with its levels down.
func TestAPlaceThatFailsInAFadeStaysMuted(t *testing.T) {
	deafStage(t, "channel.5.input.gain", func(t *testing.T, s *stage) {
		lectern, table := faded(s.on("lectern", "botanist"), false), faded(s.on("table-left", "pilot"), false)
		_, result, err := s.recall(t.Context(), lectern, table)
		if err != nil || result.Complete() {
			t.Fatal(err)
		}
		if !s.isOpen("channel.3") || s.isOpen("channel.5") || s.holds("channel.5.fader") != profiles.Silence {
			t.Errorf("open: %v, %v; the fader: %v", s.isOpen("channel.3"), s.isOpen("channel.5"), s.holds("channel.5.fader"))
		}
		s.isAsWanted(t, lectern)
	})
}
