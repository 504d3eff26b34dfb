package desk_test

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/desk"

	"pgregory.net/rapid"
)

func TestWhatTheDeskHoldsIsConfirmedAndTheRestIsInDoubt(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		hoped := s.write(s.set("channel.1.fader", profiles.Number(-6)), s.set("channel.1.pan", profiles.Number(50)))
		s.heard()
		if _, err := s.mock.Move(parameter(t, "channel.1.pan"), profiles.Number(-50)); err != nil {
			t.Fatal(err)
		}
		confirmed, doubts, err := s.Confirm(t.Context(), hoped, nil)
		if err != nil || len(confirmed) != 1 || confirmed[0].Setting() != hoped[0].Setting() || confirmed[0].At().IsZero() {
			t.Error(confirmed, err)
		}
		if len(doubts) != 1 || doubts[0] != (desk.Doubt{Wanted: hoped[1].Setting(), Found: profiles.Number(-50)}) {
			t.Error(doubts)
		}
	})
}

func TestWhatIsNotAnsweredForIsInDoubtWithoutAValue(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		hoped := s.write(s.set("channel.1.fader", profiles.Number(-6)))
		s.mock.Misbehave(mockdesk.Trouble{Out: mockdesk.Way{Lose: 1}})
		confirmed, doubts, err := s.Confirm(t.Context(), hoped, nil)
		if err != nil || len(confirmed) > 0 || len(doubts) != 1 || !doubts[0].Found.IsZero() {
			t.Error(confirmed, doubts, err)
		}
	})
}

func TestWhoStopsAConfirmationHasAllThatIsNotConfirmedInDoubt(t *testing.T) {
	onStage(t, setting{mock: mockdesk.Options{Silent: true}}, func(t *testing.T, s *stage) {
		hoped := s.write(s.set("channel.1.fader", profiles.Number(-6)))
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		confirmed, doubts, err := s.Confirm(ctx, hoped, nil)
		if !errors.Is(err, context.DeadlineExceeded) || len(confirmed) > 0 || len(doubts) != 1 {
			t.Error(confirmed, doubts, err)
		}
	})
}

// Each setting goes out twice, the second copy 90 ms later: an open position must not
// be muted by what was sent before.
func TestALateCopyOfAnEarlierSettingDoesNotArriveLast(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.cable.fates = func(packet []byte) []time.Duration {
			if isQuestion(packet) {
				return []time.Duration{0}
			}
			return []time.Duration{0, 90 * time.Millisecond}
		}
		for i := range 10 {
			want := s.set("channel.1.mute", profiles.Switch(i%2 == 0))
			hoped := s.write(want)
			confirmed, doubts, err := s.Confirm(t.Context(), hoped, nil)
			if err != nil || len(confirmed) != 1 {
				t.Fatal(doubts, err)
			}
			time.Sleep(time.Second)
			if held, _ := s.mock.Holds(want.Parameter); held != want.Value {
				t.Fatalf("%v was confirmed, and then the desk holds %v", want.Value, held)
			}
			s.write(want, s.set("channel.1.mute", profiles.Switch(i%2 != 0))) // and back at once
		}
	})
}

// unrest is a network whose packets need up to 49 ms each way and come twice, and come
// not at all; question and answer together take less than the profile's linger.
type unrest struct {
	Seed         uint64
	Lose, Double float64
	Values       []int  // sent to one parameter, one after the other
	HandBetween  []bool // whether a hand moves it before it is read back
	Read         bool   // whether it is also read before
}

func TestAConfirmationIsNeverFromBefore(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		u := unrest{
			Seed:        rapid.Uint64().Draw(rt, "seed"),
			Lose:        rapid.Float64Range(0, 0.4).Draw(rt, "lose"),
			Double:      rapid.Float64Range(0, 0.5).Draw(rt, "double"),
			Values:      rapid.SliceOfN(rapid.IntRange(0, 2), 1, 12).Draw(rt, "values"),
			HandBetween: rapid.SliceOfN(rapid.Bool(), 12, 12).Draw(rt, "hands"),
			Read:        rapid.Bool().Draw(rt, "read"),
		}
		fault := ""
		synctest.Test(t, func(t *testing.T) { fault = u.rehearse(t) })
		if fault != "" {
			rt.Fatal(fault)
		}
	})
}

func (u unrest) rehearse(t *testing.T) (fault string) {
	way := mockdesk.Way{Lose: u.Lose, Double: u.Double, Delay: 49 * time.Millisecond}
	s := newStage(t, setting{mock: mockdesk.Options{Trouble: mockdesk.Trouble{Seed: u.Seed, In: way, Out: way}}})
	q := parameter(t, "channel.1.pan")
	for i, v := range u.Values {
		if u.Read {
			if _, _, err := s.Read(t.Context(), []profiles.Parameter{q}, nil); err != nil {
				return err.Error()
			}
		}
		hoped := s.write(profiles.Setting{Parameter: q, Value: profiles.Number(float64(v))})
		if u.HandBetween[i] {
			if _, err := s.mock.Move(q, profiles.Number(99)); err != nil {
				return err.Error()
			}
		}
		confirmed, _, err := s.Confirm(t.Context(), hoped, nil)
		if err != nil {
			return err.Error()
		}
		if held, _ := s.mock.Holds(q); len(confirmed) > 0 && held != hoped[0].Setting().Value {
			return held.String() + " is held, and confirmed is " + hoped[0].Setting().Value.String()
		}
	}
	return ""
}
