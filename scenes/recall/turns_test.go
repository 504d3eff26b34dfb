package recall_test

import (
	"context"
	"errors"
	"sync"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

// another is a second recaller at the stage's desk, with a memory of its own, as another
// process has. Both take the stage's link in turns.
func (s *stage) another() *stage {
	s.t.Helper()
	memory, err := s.Book.Memory(s.Venue)
	if err != nil {
		s.t.Fatal(err)
	}
	second := *s.Recaller
	second.Memory, second.Command = memory, "another"
	return &stage{Recaller: &second, t: s.t, mock: s.mock, touched: s.touched}
}

func (s *stage) prepared(targets ...recall.Target) *recall.Plan {
	s.t.Helper()
	plan, err := s.Prepare(s.t.Context(), targets)
	if err != nil {
		s.t.Fatal(err)
	}
	return plan
}

// isStale is about a plan of which nothing must have been sent.
func (s *stage) isStale(result *recall.Result, err error) *recall.Stale {
	s.t.Helper()
	stale := new(recall.Stale)
	if result != nil || !errors.As(err, &stale) {
		s.t.Fatal("not stale:", result, err)
	}
	if sent := sets(s.heard()); len(sent) > 0 {
		s.t.Error("sent", sent)
	}
	return stale
}

func (s *stage) isFree() {
	s.t.Helper()
	if holder, held, err := s.Book.LockedBy(s.Venue); held || err != nil {
		s.t.Error("the lock is still held by", holder, err)
	}
}

func TestARecallGoesOnWhereAnotherHasRecalledAnotherPosition(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		first := s.everything()
		other := s.another()
		plan := s.prepared(s.on("lectern", "poet"))
		other.must(s.on("table-left", "pilot"))
		between := s.everything()
		result, err := s.CarryOut(t.Context(), plan)
		if err != nil {
			t.Fatal(err)
		}
		s.complete(result)
		s.again()
		if s.Memory.On["lectern"] != "poet" || s.Memory.On["table-left"] != "pilot" {
			t.Error("on:", s.Memory.On)
		}
		for _, who := range []*stage{s, other} {
			if plan := who.prepared(s.on("lectern", "poet"), s.on("table-left", "pilot")); !plan.Nothing() || len(plan.Moves) > 0 {
				t.Error("it differs from what is remembered:", plan.Changes(), plan.Moves)
			}
		}
		for _, before := range []scenes.Values{between, first} { // the undos have not clashed
			if result, err := other.undo(t.Context()); err != nil || !result.Complete() {
				t.Fatal(err)
			}
			s.isAs(t, before)
		}
	})
}

func TestARecallOfWhatAnotherHasRecalledMeanwhileIsNotSent(t *testing.T) {
	for _, performer := range []string{"pilot", "poet"} { // it ends otherwise, or just as wanted
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			s.must(s.on("lectern", "botanist"))
			plan := s.prepared(s.on("lectern", "poet"))
			s.another().must(s.on("lectern", performer))
			s.heard()
			stale := s.isStale(s.CarryOut(t.Context(), plan))
			if !stale.Recalled || stale.Place != "lectern" {
				t.Error(stale)
			}
			s.isFree()
			s.again()
			if s.Memory.On["lectern"] != performer || len(s.Memory.Unfinished) > 0 {
				t.Error(s.Memory.On, s.Memory.Unfinished)
			}
		})
	}
}

// As after two recalls of others that end with the values of before.
func TestARecallIsNotSentWhereOnlyWhoIsOnHasChanged(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		plan := s.prepared(s.on("lectern", "poet"))
		other := s.another()
		l, err := other.Lock(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		other.Memory.On["lectern"] = "botanist"
		if err := other.Memory.Save(s.Memory.Held.Taken); err != nil {
			t.Fatal(err)
		}
		l.Release()
		if stale := s.isStale(s.CarryOut(t.Context(), plan)); !stale.Recalled {
			t.Error(stale)
		}
	})
}

// Within the second in which a plan counts as fresh, nobody would look otherwise.
func TestAHandMoveBesideAnotherRecallIsToldAsAHands(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		plan := s.prepared(s.on("lectern", "poet"))
		s.another().must(s.on("table-left", "pilot"))
		s.move("channel.3.eq.2.gain", profiles.Number(3))
		s.heard()
		stale := s.isStale(s.CarryOut(t.Context(), plan))
		if stale.Recalled || len(stale.Moved) != 1 || stale.Moved[0].Parameter.Name != "eq.2.gain" {
			t.Errorf("%+v", stale)
		}
	})
}

func TestWhatAnotherHasRecalledIsNoHandMove(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		other := s.another()
		for _, performer := range []string{"pilot", "poet"} {
			other.must(s.on("lectern", performer))
			plan := s.prepared(s.on("lectern", "botanist")) // with a memory opened long ago
			if len(plan.Moves) > 0 || plan.Parts[0].Was != performer {
				t.Error(plan.Parts[0].Was, plan.Moves)
			}
		}
		s.move("channel.3.pan", profiles.Number(40))
		if plan := s.prepared(s.on("lectern", "botanist")); len(plan.Moves) != 1 {
			t.Error("a hand's move is none:", plan.Moves)
		}
	})
}

func TestWhatAnotherHasLeftHalfDoneIsNoHandMoveAndIsFinished(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		other := s.another()
		if _, result, err := other.recall(s.stopAfter(t, 5), s.on("lectern", "poet")); err == nil || result == nil {
			t.Fatal(result, err)
		}
		s.atSet(nil)
		s.isFree()
		plan := s.prepared(s.on("lectern", "pilot"))
		if len(plan.Moves) > 0 || !plan.Parts[0].WasOpen {
			t.Error("moves:", plan.Moves, "was open:", plan.Parts[0].WasOpen)
		}
	})
}

func TestAnUndoIsNotCarriedOutOnceAnotherRecallHasRun(t *testing.T) {
	for what, run := range map[string]func(other *stage) (*recall.Result, error){
		"undone already": func(other *stage) (*recall.Result, error) { return other.undo(other.t.Context()) },
		"a newer recall": func(other *stage) (*recall.Result, error) {
			return other.must(other.on("table-left", "pilot")), nil
		},
	} {
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			s.must(s.on("lectern", "botanist"))
			s.must(s.on("lectern", "poet"))
			plan, err := s.PrepareUndo(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			if _, err := run(s.another()); err != nil {
				t.Fatal(err)
			}
			held := s.everything()
			s.heard()
			if stale := s.isStale(s.CarryOut(t.Context(), plan)); !stale.Recalled {
				t.Error(what, stale)
			}
			s.isAs(t, held)
		})
	}
}

func TestTheLockIsGivenBackOnEveryWayOut(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		s.isFree()
		plan := s.prepared(s.on("lectern", "botanist"))
		if _, err := s.CarryOut(t.Context(), plan); err != nil || !plan.Nothing() {
			t.Error(err)
		}
		s.isFree()
		stopped, cancel := context.WithCancel(t.Context())
		cancel()
		if _, err := s.CarryOut(stopped, s.prepared(s.on("lectern", "poet"))); !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
		s.isFree()
		s.mock.Misbehave(mockdesk.Trouble{Out: mockdesk.Way{Lose: 1}})
		if _, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "poet")}); !errors.Is(err, desk.ErrSilent) {
			t.Error(err)
		}
		s.isFree()
	})
}

func TestAPanicWhileSendingLeavesNoLock(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		plan := s.prepared(s.on("lectern", "poet"))
		s.Progress = func(what string, _, _ int) {
			if what == "setting" {
				panic("in the middle")
			}
		}
		func() {
			defer func() {
				if recover() == nil {
					t.Error("it did not panic")
				}
			}()
			_, _ = s.CarryOut(t.Context(), plan)
		}()
		s.isFree()
	})
}

// Over the system's network, since both have links of their own and run at once.
func TestOneThatPreparesWhileAnotherSendsWaitsForIt(t *testing.T) {
	s := newStage(t, setting{udp: true, profile: []string{"pace = 400", "pace = 20000"}})
	s.must(s.on("lectern", "botanist"))
	other := s.another()
	var err error
	if other.Desk, err = desk.Open(t.Context(), s.Venue.Desk.Profile, s.mock.Addr(), desk.Options{}); err != nil {
		t.Fatal(err)
	}
	defer other.Desk.Close()
	begun, told := make(chan struct{}), make(chan scenes.Holder, 2)
	done := make(chan *recall.Result)
	other.Waiting = func(h scenes.Holder) { told <- h }
	s.Command = "swap lectern poet"
	target := s.on("lectern", "pilot")
	go func() {
		defer close(done)
		<-begun
		plan, err := other.Prepare(t.Context(), []recall.Target{target})
		if err != nil {
			t.Error(err)
			return
		}
		if len(plan.Moves) > 0 || plan.Parts[0].Was != "poet" {
			t.Error("moves:", plan.Moves, "was:", plan.Parts[0].Was)
		}
		result, err := other.CarryOut(t.Context(), plan)
		if err != nil {
			t.Error(err)
		}
		done <- result
	}()
	var once sync.Once
	s.Progress = func(what string, _, _ int) {
		if what != "setting" {
			return
		}
		once.Do(func() { // the lectern is muted and half done until the other waits
			close(begun)
			if h := <-told; h.Command != "swap lectern poet" {
				t.Error("told of", h)
			}
		})
	}
	s.must(s.on("lectern", "poet"))
	if result := <-done; result == nil || !result.Complete() {
		t.Error("not complete:", result)
	}
	s.again()
	if s.Memory.On["lectern"] != "pilot" {
		t.Error("on:", s.Memory.On)
	}
}
