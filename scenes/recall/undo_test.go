package recall_test

import (
	"testing"

	"deskhand/profiles"
	"deskhand/scenes/recall"
)

func TestAnUndoBringsBackEveryValueTheMuteAndWhoWasOn(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true), opened(s.on("table-left", "pilot"), false))
		before := s.everything()
		s.must(opened(s.on("lectern", "poet"), false), opened(s.on("table-left", "bell-founder"), true))
		result, err := s.undo(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		s.complete(result)
		s.isAs(t, before)
		if s.Memory.On["lectern"] != "botanist" || s.Memory.On["table-left"] != "pilot" {
			t.Error("on:", s.Memory.On)
		}
	})
}

func TestEachUndoGoesOneRecallFurtherBackUntilThereIsNoMore(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		var before []map[profiles.Parameter]profiles.Value
		for _, performer := range performers {
			before = append(before, s.everything())
			s.must(s.on("lectern", performer))
		}
		for i := len(before) - 1; i >= 0; i-- {
			result, err := s.undo(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			s.complete(result)
			s.isAs(t, before[i])
		}
		if result, err := s.undo(t.Context()); result != nil || err != nil {
			t.Error("undone once too often:", result, err)
		}
	})
}

func TestAnUndoLeavesAloneWhatAHandMovedElsewhere(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		s.must(s.on("lectern", "poet"))
		attack := s.move("channel.3.gate.attack", profiles.Number(50))
		if _, err := s.undo(t.Context()); err != nil {
			t.Fatal(err)
		}
		if held := s.holds("channel.3.gate.attack"); held != attack {
			t.Errorf("the gate's attack is %v, and the hand had set %v", held, attack)
		}
	})
}

func TestAnUndoThatIsStoppedCanBeFinished(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		before := s.everything()
		s.must(s.on("lectern", "poet"))
		if result, err := s.undo(s.stopAfter(t, 5)); err == nil || result.Complete() {
			t.Fatal(result, err)
		}
		if result, err := s.undo(t.Context()); err != nil || !result.Complete() {
			t.Fatal(err)
		}
		s.isAs(t, before)
		if s.Memory.On["lectern"] != "botanist" {
			t.Error("on:", s.Memory.On)
		}
	})
}

// The lectern's swap was stopped; another position was recalled; then the swap was repeated.
// Its undo leads to before the one that was stopped: nothing comes back half done.
func TestAnUndoNeverOpensAHalfRecalledPosition(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		before := s.everything()
		if _, result, _ := s.recall(s.stopAfter(t, 5), s.on("lectern", "poet")); result.Complete() {
			t.Fatal("it came to its end")
		}
		s.must(s.on("table-left", "pilot"))
		s.must(s.on("lectern", "poet"))
		if _, err := s.undo(t.Context()); err != nil {
			t.Fatal(err)
		}
		for _, q := range s.Venue.Desk.Profile.At(s.parameter("channel.3.mute").Place) {
			if held, _ := s.mock.Holds(q); held != before[q] {
				t.Errorf("%s is %v, and was %v before the swap that was stopped", q, held, before[q])
			}
		}
		for range 2 { // the table, and then the swap that was stopped
			if _, err := s.undo(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		if !s.isOpen("channel.3") || s.Memory.On["lectern"] != "botanist" {
			t.Error("open:", s.isOpen("channel.3"), "on:", s.Memory.On)
		}
	})
}

func TestARecallOfTwoPositionsThatWasStoppedIsUndoneAsAWhole(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		both := func(a, b string) []recall.Target {
			return []recall.Target{s.on("lectern", a), s.on("table-left", b)}
		}
		s.must(both("botanist", "pilot")...)
		before := s.everything()
		if _, result, _ := s.recall(s.stopAfter(t, 20), both("poet", "botanist")...); result.Complete() {
			t.Fatal("it came to its end")
		}
		s.again()
		s.must(both("poet", "botanist")...)
		if _, err := s.undo(t.Context()); err != nil {
			t.Fatal(err)
		}
		s.isAs(t, before)
	})
}
