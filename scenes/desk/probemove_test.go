package desk_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/desk"

	"github.com/google/go-cmp/cmp"
)

// movable puts a desk into a state in which all of channel 3 may move: it is muted, and
// so are the mixes, which is not how it was switched on.
func (s *trial) movable(t *testing.T) {
	t.Helper()
	s.hand(t, "channel.3.mute", profiles.Switch(true))
	for m := range s.is.Mixes {
		s.hand(t, fmt.Sprintf("mix.%d.mute", m+1), profiles.Switch(true))
	}
}

// moves plans and moves channel 3, and gives a line for each parameter that the desk does
// not take as the profile says.
func (s *trial) moves(t *testing.T, o desk.MoveOptions) ([]string, desk.MoveReport) {
	t.Helper()
	plan, err := s.PlanMove(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	report, err := s.Move(t.Context(), plan, nil)
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, m := range report.Moved {
		if m.Verdict != desk.AsProfile {
			lines = append(lines, fmt.Sprintf("%s %s %d", m.Parameter.Name, m.Verdict, m.Steps))
		}
	}
	for _, back := range report.NotBack {
		t.Errorf("%s was not put back", back.Parameter)
	}
	return lines, report
}

var channel3 = desk.MoveOptions{Channel: 3, Noisy: true}

func TestMoveOfADeskAsItsProfileSaysFindsThatAndPutsAllBack(t *testing.T) {
	for _, name := range []string{"quay-24", "skiff-12", "punt-16", "barge-48"} {
		t.Run(name, func(t *testing.T) {
			onTrial(t, differing{profile: name}, func(t *testing.T, s *trial) {
				s.movable(t)
				s.hand(t, "channel.3.input.gain", profiles.Number(30))
				s.hand(t, "channel.3.fader", profiles.Number(-6))
				s.hand(t, "channel.3.label", profiles.Word("Pilot"))
				before := s.holdings()
				lines, report := s.moves(t, channel3)
				if len(lines) > 0 || len(report.Disturbed) > 0 {
					t.Error(lines, report.Disturbed)
				}
				// All but the mute, and what has one value.
				movable := 0
				for _, q := range s.says.At(profiles.Place{Part: profiles.Channel, Number: 3}) {
					if control, _ := s.says.Control(q); control.Curve.Steps() != 1 && q.Name != "mute" {
						movable++
					}
				}
				if len(report.Moved) != movable {
					t.Errorf("%d of %d moved", len(report.Moved), movable)
				}
				if diff := cmp.Diff(before, s.holdings()); diff != "" {
					t.Error(diff)
				}
			})
		})
	}
}

// A desk that differs from its profile in one way after another: what is told is this
// and nothing else, and all is put back, although it is not on the profile's grid.
func TestMoveTellsExactlyInWhatADeskDiffers(t *testing.T) {
	const (
		gain  = `"/lane/{channel}/front/gain", linear = [-6.0, 60.0], steps = 133`
		delay = `"/lane/{channel}/front/delay", linear = [0.0, 250.0], steps = 2501`
		label = `label = { at = "/lane/{channel}/tag/name", text = 12 }`
		pan   = `pan = { at = "/lane/{channel}/out/side", linear = [-100.0, 100.0], steps = 201`
		kinds = `kind = { at = "/lane/{channel}/shape/{band}/kind", choice = ["bell", "low-shelf", "high-shelf", "low-pass", "high-pass", "notch"] }`
		knee  = `"/lane/{channel}/press/knee", linear = [0.0, 12.0], steps = 25`
	)
	with := func(old, change, instead string) []string {
		return []string{old, strings.Replace(old, change, instead, 1)}
	}
	for _, c := range []struct {
		name  string
		edits []string
		want  []string
	}{
		{"half the steps", with(gain, "133", "67"), []string{"input.gain other_steps 67"}},
		{"twice the steps", with(gain, "133", "265"), []string{"input.gain other_steps 265"}},
		{"an odd number of steps", with(gain, "133", "100"), []string{"input.gain other_steps 100"}},
		{"few steps", with(knee, "25", "4"), []string{"compressor.knee other_steps 4"}},
		{"many times the steps", with(gain, "133", "13201"), []string{"input.gain other_steps 0"}},
		{"many steps, fewer than said", with(delay, "2501", "501"), []string{"input.delay other_steps 501"}},
		{"a shorter label", with(label, "12", "8"), []string{"label other_length 8"}},
		{"a longer label", with(label, "12", "14"), []string{"label other_length 14"}},
		{"fewer words", with(kinds, `, "notch"`, ""), []string{
			"eq.1.kind other_words 0", "eq.2.kind other_words 0", "eq.3.kind other_words 0", "eq.4.kind other_words 0",
		}},
		{"another address, where it is not read and so not moved", with(pan, "side", "where"), nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			onTrial(t, differing{profile: "quay-24", edits: c.edits}, func(t *testing.T, s *trial) {
				s.movable(t)
				s.hand(t, "channel.3.input.gain", profiles.Number(31.3))
				s.hand(t, "channel.3.input.delay", profiles.Number(33.3))
				before := s.holdings()
				lines, _ := s.moves(t, channel3)
				if diff := cmp.Diff(c.want, lines); diff != "" {
					t.Error(diff)
				}
				if diff := cmp.Diff(before, s.holdings()); diff != "" {
					t.Error(diff)
				}
			})
		})
	}
}

func TestMoveTellsAnotherRangeWhereTheWireShowsIt(t *testing.T) {
	// skiff-12 speaks in the trade's units: what is beyond the desk's range comes back as
	// its end.
	d := differing{profile: "skiff-12", edits: []string{
		`compressor.release = { at = "/strip/squeeze/out", log = [20.0, 2560.0], steps = 57 }`,
		`compressor.release = { at = "/strip/squeeze/out", log = [20.0, 1280.0], steps = 49 }`,
	}}
	onTrial(t, d, func(t *testing.T, s *trial) {
		s.movable(t)
		before := s.holdings()
		lines, _ := s.moves(t, channel3)
		if diff := cmp.Diff([]string{"compressor.release other_range 0"}, lines); diff != "" {
			t.Error(diff)
		}
		if diff := cmp.Diff(before, s.holdings()); diff != "" {
			t.Error(diff)
		}
	})
}

// settingsOf are the messages that set what is at an address.
func settingsOf(address string) func(osc.Heard) bool {
	return func(h osc.Heard) bool { return h.Address == address && len(h.Arguments) > 0 }
}

func TestMoveTellsAParameterThatDoesNotMove(t *testing.T) {
	d := differing{profile: "quay-24", loses: settingsOf("/lane/3/out/side")}
	onTrial(t, d, func(t *testing.T, s *trial) {
		s.movable(t)
		before := s.holdings()
		lines, _ := s.moves(t, channel3)
		if diff := cmp.Diff([]string{"pan unmoved 0"}, lines); diff != "" {
			t.Error(diff)
		}
		if diff := cmp.Diff(before, s.holdings()); diff != "" {
			t.Error(diff)
		}
	})
}

func TestWhatIsNotReadIsNotMoved(t *testing.T) {
	d := differing{profile: "skiff-12", edits: []string{
		`input.invert = { at = "/strip/turned" }`, `input.invert = { fixed = true }`,
	}}
	onTrial(t, d, func(t *testing.T, s *trial) {
		s.movable(t)
		plan, err := s.PlanMove(t.Context(), channel3)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range plan.Planned {
			if p.Parameter.Name == "input.invert" && p.LeftOut == "" {
				t.Error("it moves what the desk does not tell")
			}
		}
	})
}

func TestNothingMovesUnlessTheChannelIsMuted(t *testing.T) {
	onTrial(t, differing{profile: "quay-24"}, func(t *testing.T, s *trial) {
		s.hand(t, "channel.3.mute", profiles.Switch(false))
		_, err := s.PlanMove(t.Context(), channel3)
		if open := (*desk.NotMuted)(nil); !errors.As(err, &open) || open.Unknown {
			t.Error(err)
		}
	})
	d := differing{profile: "quay-24", edits: []string{`"/lane/{channel}/out/mute"`, `"/lane/{channel}/out/shut"`}}
	onTrial(t, d, func(t *testing.T, s *trial) {
		s.hand(t, "channel.3.mute", profiles.Switch(true))
		_, err := s.PlanMove(t.Context(), channel3)
		if open := (*desk.NotMuted)(nil); !errors.As(err, &open) || !open.Unknown {
			t.Error(err)
		}
		if n := s.mock.Counts().Settings; n > 0 {
			t.Errorf("%d settings", n)
		}
	})
}

// heights are the highest values that a desk was set to.
type heights map[profiles.Parameter]float64

func (h heights) watch(e mockdesk.Event) {
	if n, ok := e.Setting.Value.Number(); ok && e.What == mockdesk.Set {
		if was, known := h[e.Setting.Parameter]; !known || n > was {
			h[e.Setting.Parameter] = n
		}
	}
}

func TestNothingGetsLouderWhileASendIsUp(t *testing.T) {
	high := make(heights)
	onTrial(t, differing{profile: "quay-24", mock: mockdesk.Options{Watch: high.watch}}, func(t *testing.T, s *trial) {
		s.hand(t, "channel.3.mute", profiles.Switch(true))
		s.hand(t, "channel.3.input.gain", profiles.Number(20))
		s.hand(t, "channel.3.fader", profiles.Number(-20))
		s.hand(t, "channel.3.send.1.on", profiles.Switch(true))
		s.hand(t, "channel.3.send.1.level", profiles.Number(-30))
		before := s.holdings()
		lines, report := s.moves(t, channel3)
		if len(lines) > 0 {
			t.Error(lines)
		}
		for q, v := range high {
			control, _ := s.is.Control(q)
			if was, _ := s.mock.Holds(q); control.Spec.Class == profiles.Loudness {
				if now, _ := was.Number(); v > now && control.Spec.Unit != profiles.Ratio {
					t.Errorf("%s went up to %v from %v", q, v, now)
				}
			}
		}
		for _, m := range report.Moved {
			control, _ := s.is.Control(m.Parameter)
			if control.Spec.Class == profiles.Noise || control.Spec.Class == profiles.Loudness && control.Spec.Kind == profiles.Toggle && !strings.HasPrefix(m.Parameter.Name, "send.") {
				t.Errorf("%s moved", m.Parameter)
			}
		}
		if _, moved := high[parameter(t, "channel.3.input.gain")]; !moved {
			t.Error("the gain did not move downward")
		}
		if diff := cmp.Diff(before, s.holdings()); diff != "" {
			t.Error(diff)
		}
	})
}

// Which way an unknown control of this desk is louder, nobody knows.
func TestLoudnessOfTheDesksOwnMovesOnlyInTheMiddleAndOnlyIfNothingCanHearIt(t *testing.T) {
	lift := []string{"input.trim = {", `input.lift = { at = "/lane/{channel}/front/lift", label = "lift", unit = "dB", class = "loudness", linear = [0.0, 40.0], steps = 41, start = 20.0 }
input.trim = {`}
	onTrial(t, differing{profile: "quay-24", both: lift}, func(t *testing.T, s *trial) {
		s.movable(t)
		s.hand(t, "channel.3.send.1.on", profiles.Switch(true))
		s.hand(t, "channel.3.send.1.level", profiles.Number(-30))
		for _, c := range []struct {
			mixMuted bool
			want     []any // sent, as they stand on the wire
		}{
			{true, []any{float32(0.25), float32(0.75)}}, // 10 of 40 steps, and 30
			{false, nil},
		} {
			s.hand(t, "mix.1.mute", profiles.Switch(c.mixMuted))
			_, report := s.moves(t, channel3)
			var sent []any
			for _, m := range report.Moved {
				if m.Parameter.Name == "input.lift" {
					sent = append(sent, m.Points[0].Sent, m.Points[1].Sent)
				}
			}
			if diff := cmp.Diff(c.want, sent); diff != "" {
				t.Errorf("mix muted %v: %s", c.mixMuted, diff)
			}
		}
	})
}

func TestLoudnessStaysBelowTheTopQuarter(t *testing.T) {
	high := make(heights)
	onTrial(t, differing{profile: "quay-24", mock: mockdesk.Options{Watch: high.watch}}, func(t *testing.T, s *trial) {
		s.movable(t)
		s.moves(t, channel3)
		// Three quarters of -6..60 dB in 133 steps is step 99, 43.5 dB.
		if v := high[parameter(t, "channel.3.input.gain")]; v != 43.5 {
			t.Errorf("gain up to %v", v)
		}
		for q, v := range high {
			if (strings.HasSuffix(q.Name, "level") || q.Name == "fader") && v > -2 {
				t.Errorf("%s up to %v", q, v)
			}
		}
	})
}

func TestAllIsPutBackWhenStoppedInTheMiddle(t *testing.T) {
	for _, after := range []int{1, 2, 7, 20, 50, 133, 250} {
		t.Run(fmt.Sprint(after), func(t *testing.T) {
			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			settings := 0
			watch := func(e mockdesk.Event) {
				if e.What == mockdesk.Set {
					if settings++; settings == after {
						stop()
					}
				}
			}
			// The grid is another one, so that a value put back by the profile's would show.
			d := differing{profile: "quay-24", mock: mockdesk.Options{Watch: watch}, edits: []string{"steps = 133", "steps = 100"}}
			onTrial(t, d, func(t *testing.T, s *trial) {
				s.movable(t)
				s.hand(t, "channel.3.input.gain", profiles.Number(31.3))
				before := s.holdings()
				plan, err := s.PlanMove(t.Context(), channel3)
				if err != nil {
					t.Fatal(err)
				}
				report, err := s.Move(ctx, plan, nil)
				if !errors.Is(err, context.Canceled) || !report.AsBefore() {
					t.Error(err, report.NotBack, report.InDoubt)
				}
				// What it was stopped in says nothing of the desk.
				for _, m := range report.Moved {
					if m.Verdict != desk.AsProfile && m.Parameter.Name != "input.gain" {
						t.Errorf("%s is judged: %s", m.Parameter, m.Verdict)
					}
				}
				if diff := cmp.Diff(before, s.holdings()); diff != "" {
					t.Error(diff)
				}
			})
		})
	}
}

func TestAllIsPutBackOverANetworkThatLosesAndDelays(t *testing.T) {
	for seed := range uint64(5) {
		d := differing{profile: "quay-24"}
		d.mock.Trouble = mockdesk.Trouble{
			Seed: seed,
			In:   mockdesk.Way{Lose: 0.1, Double: 0.1, Reorder: 0.1, Delay: 20 * time.Millisecond},
			Out:  mockdesk.Way{Lose: 0.1, Double: 0.1, Reorder: 0.1, Delay: 20 * time.Millisecond},
		}
		onTrial(t, d, func(t *testing.T, s *trial) {
			s.movable(t)
			before := s.holdings()
			_, report := s.moves(t, channel3)
			if len(report.Moved) == 0 {
				t.Error("nothing moved")
			}
			if diff := cmp.Diff(before, s.holdings()); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestAChannelThatAMoveOpensIsMutedAgainAndNothingElseMoves(t *testing.T) {
	d := differing{profile: "quay-24"}
	var opened *mockdesk.Desk
	d.mock.Watch = func(e mockdesk.Event) {
		if desk := opened; e.What == mockdesk.Set && e.Setting.Parameter.Name == "input.trim" && desk != nil {
			opened = nil
			mute := profiles.Parameter{Place: e.Setting.Parameter.Place, Name: "mute"}
			go func() { _, _ = desk.Move(mute, profiles.Switch(false)) }() // it must not be called from here
		}
	}
	onTrial(t, d, func(t *testing.T, s *trial) {
		s.movable(t)
		before := s.holdings()
		opened = s.mock
		plan, err := s.PlanMove(t.Context(), channel3)
		if err != nil {
			t.Fatal(err)
		}
		report, err := s.Move(t.Context(), plan, nil)
		var e *desk.Opened
		if !errors.As(err, &e) || !e.Mended || e.By.Name != "input.trim" {
			t.Error(err)
		}
		if last := report.Moved[len(report.Moved)-1]; last.Parameter.Name != "input.gain" {
			t.Errorf("%s is the last that went through all values", last.Parameter)
		}
		if diff := cmp.Diff(before, s.holdings()); diff != "" {
			t.Error(diff)
		}
	})
}
