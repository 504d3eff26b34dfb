package recall_test

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

func (s *stage) venueText() string {
	s.t.Helper()
	text, err := os.ReadFile(filepath.Join(s.Book.Dir, "venues", "net-loft.toml"))
	if err != nil {
		s.t.Fatal(err)
	}
	return string(text)
}

func TestAHandMoveBetweenTwoRecallsIsToldAndKeptBeforeAnythingIsSent(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		pan := s.move("channel.3.pan", profiles.Number(40))            // which the poet's file sets
		attack := s.move("channel.3.gate.attack", profiles.Number(50)) // which nobody's does
		s.again()
		s.heard()
		plan, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "poet")})
		if err != nil {
			t.Fatal(err)
		}
		if len(sets(s.heard())) > 0 {
			t.Error("something was sent before")
		}
		moves := changesOf(plan.Moves)
		if len(moves) != 2 || moves[s.parameter("channel.3.pan")] != pan || moves[s.parameter("channel.3.gate.attack")] != attack {
			t.Error("told:", plan.Moves)
		}
		if _, err := s.CarryOut(t.Context(), plan); err != nil {
			t.Fatal(err)
		}
		if held := s.holds("channel.3.gate.attack"); held != attack {
			t.Errorf("the gate's attack is %v: the hand's %v is lost", held, attack)
		}
		kept := s.readingAt(plan.MovesFile)
		for q, v := range moves {
			if kept.Values[q] != v {
				t.Errorf("%s has %s at %v, not %v", plan.MovesFile, q, kept.Values[q], v)
			}
		}
	})
}

func changesOf(changes []scenes.Change) scenes.Values {
	values := make(scenes.Values)
	for _, c := range changes {
		values[c.Parameter] = c.To
	}
	return values
}

func (s *stage) readingAt(file string) *scenes.Reading {
	s.t.Helper()
	text, err := os.ReadFile(s.Book.Path(file))
	if err != nil {
		s.t.Fatal(err)
	}
	r, err := s.Book.ParseReading(file, text)
	if err != nil {
		s.t.Fatal(err)
	}
	return r
}

func TestARehearsalKeepsNoReading(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		s.move("channel.3.pan", profiles.Number(40))
		s.Rehearse = true
		plan, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "poet")})
		if err != nil || len(plan.Moves) != 1 || plan.MovesFile != "" {
			t.Error(plan.Moves, plan.MovesFile, err)
		}
	})
}

func TestHandMovesThatCanNotBeKeptStopTheRecall(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		s.move("channel.3.pan", profiles.Number(40))
		s.heard()
		write(t, filepath.Join(s.Book.Dir, "readings"), "") // a file where the folder would be
		if _, _, err := s.recall(t.Context(), s.on("lectern", "poet")); err == nil {
			t.Error("no error")
		}
		if sent := sets(s.heard()); len(sent) > 0 {
			t.Error("sent", sent)
		}
	})
}

func TestWhatARecallHasSetOrFoundIsNoHandMove(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		for _, performer := range []string{"botanist", "poet", "pilot", "botanist"} {
			s.again()
			plan, _, err := s.recall(t.Context(), s.on("lectern", performer))
			if err != nil || len(plan.Moves) > 0 {
				t.Errorf("%s: %v %v", performer, plan.Moves, err)
			}
		}
	})
}

// Wherever in a swap a hand moves whichever control: what is confirmed is so, the
// position is not open with a wrong value, and the hand's move is told.
func TestAHandInTheMiddleOfASwap(t *testing.T) {
	for _, path := range []string{
		"channel.3.label",      // sent first
		"channel.3.input.gain", // sent
		"channel.3.fader",      // sent last
		"channel.3.eq.4.gain",  // right already
		"channel.3.compressor.on",
		"channel.3.mute",        // the hand opens it
		"channel.3.gate.attack", // which nobody's file sets
	} {
		t.Run(path, func(t *testing.T) {
			t.Parallel()
			for after := 1; after <= botanistToPoet; after++ {
				onStage(t, setting{profile: quick}, func(t *testing.T, s *stage) { handAfter(t, s, path, after) })
			}
		})
	}
}

// botanistToPoet is how many settings that swap sends, the mute and the opening among
// them. TestASwapSendsEachSettingThatDiffersOnce counts them.
const botanistToPoet = 16

// quick is a desk that takes everything at once, for tests of many swaps.
var quick = []string{"pace = 400", "pace = 100000", "burst = 16", "burst = 1000", `settle = "400ms"`, `settle = "20ms"`, `linger = "100ms"`, `linger = "20ms"`}

func handAfter(t *testing.T, s *stage, path string, after int) {
	t.Helper()
	s.must(s.on("lectern", "botanist"))
	q := s.parameter(path)
	hand := profiles.Setting{Parameter: q, Value: profiles.Word("Gast")}
	if control, _ := s.Venue.Desk.Profile.Control(q); control.Curve.Steps() > 0 {
		hand.Value = control.Curve.At(control.Curve.Steps() / 3) // a switch is off then
	}
	if err := s.mock.MoveAfter(after, hand); err != nil {
		t.Fatal(err)
	}
	target := s.on("lectern", "poet")
	judge := s.judgeFrom(target)
	_, result, err := s.recall(t.Context(), target)
	if err != nil {
		t.Fatal(after, err)
	}
	if err := judge.fault(result); err != nil {
		t.Errorf("a hand after %d settings: %v", after, err)
	}
	for q, c := range result.Confirmed {
		if held, _ := s.mock.Holds(q); held != c.Setting().Value {
			t.Errorf("a hand after %d settings: %s is confirmed as %v, and is %v", after, q, c.Setting().Value, held)
		}
	}
	if result.Restarted {
		t.Errorf("a hand after %d settings passes for a restart", after)
	}
}

func TestAHandThatMovesWhatIsNotYetConfirmedIsOverruledAndTold(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		want := s.holds("channel.3.eq.4.gain")
		hand := profiles.Setting{Parameter: s.parameter("channel.3.eq.4.gain"), Value: profiles.Number(5)}
		if err := s.mock.MoveAfter(2, hand); err != nil {
			t.Fatal(err)
		}
		result := s.must(s.on("lectern", "poet"))
		if len(result.Overruled) != 1 || result.Overruled[0] != (recall.Unproved{Parameter: hand.Parameter, Wanted: want, Found: hand.Value}) {
			t.Error("told:", result.Overruled)
		}
		if got := s.holds("channel.3.eq.4.gain"); got != want {
			t.Errorf("it is %v, not %v", got, want)
		}
	})
}

func TestAHandThatMovesWhatIsConfirmedWinsAndTheNextRecallKeepsIt(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		hand := profiles.Setting{Parameter: s.parameter("channel.3.lowcut.frequency"), Value: profiles.Number(20)}
		if err := s.mock.MoveAfter(botanistToPoet, hand); err != nil { // right after the opening
			t.Fatal(err)
		}
		result := s.must(s.on("lectern", "poet"))
		if len(result.Moved) != 1 || result.Moved[0].Found != hand.Value || s.holds("channel.3.lowcut.frequency") != hand.Value {
			t.Fatal("told:", result.Moved)
		}
		s.again()
		next, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "pilot")})
		if err != nil {
			t.Fatal(err)
		}
		if len(next.Moves) != 1 || next.Moves[0].From != result.Moved[0].Wanted || next.Moves[0].To != hand.Value {
			t.Error("the next recall tells", next.Moves)
		}
		if s.readingAt(next.MovesFile).Values[hand.Parameter] != hand.Value {
			t.Error("the next recall does not keep it")
		}
	})
}

// While half of the poet's settings are there, a hand opens the lectern.
func TestAPositionThatAHandOpensInTheMiddleIsMutedBeforeAnythingElseIsSent(t *testing.T) {
	lossy := mockdesk.Trouble{In: mockdesk.Way{Lose: 0.5}}
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		s.mock.Misbehave(lossy) // so that something has to be sent again
		hand := profiles.Setting{Parameter: s.parameter("channel.3.mute"), Value: profiles.Switch(false)}
		if err := s.mock.MoveAfter(5, hand); err != nil {
			t.Fatal(err)
		}
		s.heard()
		if _, _, err := s.recall(t.Context(), s.on("lectern", "poet")); err != nil {
			t.Fatal(err)
		}
		events := s.heard()
		opened := slices.IndexFunc(events, func(e mockdesk.Event) bool { return e.What == mockdesk.HandMove })
		asked := opened + 1 + slices.IndexFunc(events[opened+1:], func(e mockdesk.Event) bool {
			return e.What == mockdesk.Asked && e.Setting == hand
		})
		muted, confirmed := false, false
		for _, e := range events[asked:] {
			isMute := e.Setting.Parameter == hand.Parameter
			switch {
			case e.What == mockdesk.Set && isMute:
				muted = true
			case e.What == mockdesk.Asked && isMute && muted:
				confirmed = true
			case e.What == mockdesk.Set && !confirmed:
				t.Fatalf("%v was sent before the mute was confirmed again", e.Setting)
			}
		}
		if !muted {
			t.Error("it was not muted again")
		}
	})
}

func TestAPlanThatWaitedIsNotCarriedOutOverAHandMove(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		plan, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "poet")})
		if err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Minute) // of the stage's clock: somebody thinks it over
		s.move("channel.3.mute", profiles.Switch(true))
		s.heard()
		result, err := s.CarryOut(t.Context(), plan)
		var stale *recall.Stale
		if !errors.As(err, &stale) || result != nil || stale.Moved[0].Parameter.Name != "mute" {
			t.Error(result, err)
		}
		undo, _, _ := s.Memory.Undo()
		if sent := sets(s.heard()); len(sent) > 0 || len(s.Memory.Unfinished) > 0 || undo.Note != "before lectern: botanist" {
			t.Error(sent, s.Memory.Unfinished, undo.Note)
		}
		if s.isOpen("channel.3") {
			t.Error("it was opened")
		}
	})
}

func TestAPlanThatWaitedIsCarriedOutWhereNothingMoved(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		plan, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "poet")})
		if err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Minute)
		result, err := s.CarryOut(t.Context(), plan)
		if err != nil {
			t.Fatal(err)
		}
		s.complete(result)
	})
}
