package recall_test

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"

	"github.com/google/go-cmp/cmp"
)

func TestASwapSendsEachSettingThatDiffersOnceAndLeavesWhatTheBookSays(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		s.heard()
		target := s.on("lectern", "poet")
		plan, result, err := s.recall(t.Context(), target)
		if err != nil {
			t.Fatal(err)
		}
		s.complete(result)
		sent := make(map[profiles.Parameter]int)
		all := sets(s.heard())
		for _, set := range all {
			sent[set.Parameter]++
		}
		if len(all) != botanistToPoet {
			t.Errorf("%d settings were sent, and other tests count on %d", len(all), botanistToPoet)
		}
		mute := s.parameter("channel.3.mute")
		if sent[mute] != 2 {
			t.Errorf("the mute was sent %d times, not to mute and to open", sent[mute])
		}
		delete(sent, mute)
		want := make(map[profiles.Parameter]int)
		for _, c := range plan.Changes() {
			want[c.Parameter] = 1
		}
		if diff := cmp.Diff(want, sent); diff != "" {
			t.Error("wanted, sent:", diff)
		}
		for _, w := range target.Wanted {
			if held, _ := s.mock.Holds(w.Parameter); held != w.Value {
				t.Errorf("%s is %v, not %v", w.Parameter, held, w.Value)
			}
		}
		if !s.isOpen("channel.3") || s.Memory.On["lectern"] != "poet" {
			t.Errorf("open: %v, on the lectern: %q", s.isOpen("channel.3"), s.Memory.On["lectern"])
		}
	})
}

func TestTheSameSwapAgainSendsNothingThatChangesAnything(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		s.heard()
		plan, result, err := s.recall(t.Context(), s.on("lectern", "botanist"))
		if err != nil || !plan.Nothing() || !result.Complete() {
			t.Fatal(plan.Changes(), result.Unproved, err)
		}
		if sent := sets(s.heard()); len(sent) > 0 || len(plan.Moves) > 0 {
			t.Errorf("sent %v, moves %v", sent, plan.Moves)
		}
	})
}

func TestASwapOverTheNetworkOfTheSystem(t *testing.T) {
	s := newStage(t, setting{udp: true})
	s.must(s.on("lectern", "botanist"))
	s.must(s.on("lectern", "pilot"))
	if gain, _ := s.holds("channel.3.input.gain").Number(); s.Memory.On["lectern"] != "pilot" || gain == 0 {
		t.Error(s.Memory.On, gain)
	}
}

// The poet's file says -6 dB, the pilot's -8 dB.
func TestAFaderMovesOnlyAfterEverythingElseIsReadBack(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "poet"))
		s.move("channel.3.input.pad", profiles.Switch(true))
		s.move("channel.3.source", profiles.Number(9))
		s.move("channel.3.input.phantom", profiles.Switch(false))
		s.heard()
		s.must(s.on("lectern", "pilot"))
		checkOrder(t, s.Venue, s.heard())
	})
}

// checkOrder holds what the desk of one swap saw against the order of a recall.
func checkOrder(t *testing.T, v *scenes.Venue, events []mockdesk.Event) {
	t.Helper()
	const muting, noisy, rest, fader, opening = 1, 2, 3, 4, 5
	at := 0
	unread := make(map[profiles.Parameter]bool)
	for _, e := range events {
		q := e.Setting.Parameter
		if e.What == mockdesk.Asked {
			delete(unread, q)
			continue
		}
		control, _ := v.Desk.Profile.Control(q)
		muted, _ := e.Setting.Value.On()
		stage := rest
		switch {
		case q.Name == "mute" && muted:
			stage = muting
		case q.Name == "mute":
			stage = opening
		case q.Name == "fader":
			stage = fader
		case control.Spec.Class == profiles.Noise:
			stage = noisy
		}
		if stage < at {
			t.Errorf("%s came after step %d", q, at)
		}
		if stage != at && (at == muting || stage >= fader) && len(unread) > 0 {
			t.Errorf("%s was sent before %v was read back", q, unread)
		}
		at = stage
		unread[q] = true
	}
	if at != opening || len(unread) > 0 {
		t.Errorf("ended at step %d, not read back: %v", at, unread)
	}
}

func TestNothingElseIsSentUntilPhantomPowerHasSettled(t *testing.T) {
	const settle = 3 * time.Second
	profile := []string{`settle = "400ms"`, `settle = "3s"`}
	onStage(t, setting{profile: profile}, func(t *testing.T, s *stage) {
		plan, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "botanist")})
		if err != nil {
			t.Fatal(err)
		}
		var switched, next time.Time
		s.Progress = func(what string, done, of int) {
			switch {
			case what == "letting the switches settle":
				switched = time.Now()
			case what == "setting" && !switched.IsZero() && next.IsZero():
				next = time.Now()
			}
		}
		result, err := s.CarryOut(t.Context(), plan)
		if err != nil {
			t.Fatal(err)
		}
		s.complete(result)
		if got := next.Sub(switched); got < settle {
			t.Errorf("the next setting came %v after the switches, on a desk that needs %v", got, settle)
		}
	})
}

func TestARecallToADeskOfAnotherModelSendsNothing(t *testing.T) {
	onStage(t, setting{mock: mockdesk.Options{Says: "quay-48"}}, func(t *testing.T, s *stage) {
		_, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "botanist")})
		var other *desk.OtherDesk
		if !errors.As(err, &other) || other.Says != "quay-48" || other.Want != "quay-24" {
			t.Error(err)
		}
		if sent := sets(s.heard()); len(sent) > 0 {
			t.Error(sent)
		}
	})
}

func TestASilentDeskIsGivenUpWithinThreeSeconds(t *testing.T) {
	onStage(t, setting{mock: mockdesk.Options{Silent: true}}, func(t *testing.T, s *stage) {
		began := time.Now() // the stage's clock: not what this machine needs
		_, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "botanist")})
		if !errors.Is(err, desk.ErrSilent) {
			t.Error(err)
		}
		if took := time.Since(began); took > 3*time.Second {
			t.Errorf("it took %v", took)
		}
		if sent := sets(s.heard()); len(sent) > 0 {
			t.Error(sent)
		}
	})
}

func TestARecallThatCouldNotBeUndoneSendsNothing(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		// A file where the folder would be: that stops root, too.
		write(t, filepath.Join(s.Book.Dir, ".deskhand"), "")
		_, result, err := s.recall(t.Context(), s.on("lectern", "botanist"))
		if err == nil || result != nil || !strings.Contains(err.Error(), "nothing was sent") {
			t.Error(result, err)
		}
		if sent := sets(s.heard()); len(sent) > 0 {
			t.Error(sent)
		}
		if len(s.Memory.Unfinished) > 0 {
			t.Error("counts as begun:", s.Memory.Unfinished)
		}
	})
}

func TestARecallWhoseStateCanNotBeWrittenSendsNothingAndLeavesNoUndo(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		if err := os.MkdirAll(filepath.Join(s.Book.Dir, ".deskhand", "net-loft", "state.toml"), 0o777); err != nil {
			t.Fatal(err)
		}
		_, result, err := s.recall(t.Context(), s.on("lectern", "botanist"))
		if err == nil || result != nil {
			t.Error(result, err)
		}
		undo, _, _ := s.Memory.Undo()
		if sent := sets(s.heard()); len(sent) > 0 || undo != nil {
			t.Error(sent, undo)
		}
	})
}

func TestAReadingOfTheWholeDeskBringsItBack(t *testing.T) {
	quick := []string{"pace = 400", "pace = 100000"}
	noSafes := []string{`safes = ["main", "input.delay"]`, "safes = []"}
	onStage(t, setting{venue: noSafes, profile: quick}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true), opened(s.on("table-left", "pilot"), false))
		parameters := s.Venue.Desk.Profile.Parameters()
		values, missing, err := s.Desk.Read(t.Context(), parameters, nil)
		if err != nil || len(missing) > 0 || len(values) != len(parameters) {
			t.Fatal(len(values), "of", len(parameters), err)
		}
		kept := s.everything()
		if diff := cmp.Diff(kept, values, cmp.AllowUnexported(profiles.Value{})); diff != "" {
			t.Fatal("held, read:", diff)
		}
		reading := scenes.Reading{Desk: "quay-24", Taken: time.Now(), Values: values, On: s.Memory.On}
		parsed, err := s.Book.ParseReading("before.toml", reading.Text(s.Venue.Desk.Profile))
		if err != nil {
			t.Fatal(err)
		}
		for i, q := range parameters {
			if control, _ := s.Venue.Desk.Profile.Control(q); i%3 == 0 && control.Curve.Steps() > 1 {
				s.mock.Move(q, control.Curve.At(i%control.Curve.Steps()))
			}
		}
		s.Venue.Limits.Rise = nil // a part of it becomes very much louder
		s.must(recall.ForReading(s.Venue, parsed)...)
		if diff := cmp.Diff(kept, s.everything(), cmp.AllowUnexported(profiles.Value{})); diff != "" {
			t.Error("before, now:", diff)
		}
	})
}

func TestAMixIsNeverMutedForItsChangesAndFadersComeLast(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.move("mix.1.fader", profiles.Number(-10))
		text := "desk = \"quay-24\"\ntaken = 2026-01-08T18:00:00Z\n[mix.1]\nlabel = \"Wedge\"\neq.1.gain = -6.0\nfader = -3.0\nmute = false\n[mix.2]\nmute = true\nfader = -5.0\n"
		reading, err := s.Book.ParseReading("mixes.toml", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		s.must(recall.ForReading(s.Venue, reading)...)
		var names []string
		for _, set := range sets(s.heard()) {
			names = append(names, set.Parameter.String())
		}
		want := []string{"mix.2.mute", "mix.1.label", "mix.1.eq.1.gain", "mix.1.fader", "mix.2.fader"}
		if diff := cmp.Diff(want, names); diff != "" {
			t.Error("wanted, sent:", diff)
		}
	})
}

func TestANameOnAnOpenPositionChangesWithoutAMute(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		s.move("channel.3.label", profiles.Word("Gast"))
		s.heard()
		s.must(s.on("lectern", "botanist"))
		want := []profiles.Setting{{Parameter: s.parameter("channel.3.label"), Value: profiles.Word("Botanist")}}
		if sent := sets(s.heard()); !slices.Equal(sent, want) {
			t.Error(sent)
		}
	})
}
