package desk_test

import (
	"context"
	"errors"
	"strings"
	"sync/atomic"
	"testing"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/desk"

	"github.com/google/go-cmp/cmp"
)

const gainAddress = "/lane/3/front/gain"

// trouble begins when something is first set at an address.
type trouble struct {
	at    string
	begun atomic.Bool
}

func (u *trouble) begins(h osc.Heard) {
	if settingsOf(u.at)(h) {
		u.begun.Store(true)
	}
}

func settingsIn(list []profiles.Setting) []string {
	var all []string
	for _, s := range list {
		all = append(all, s.Parameter.String()+" "+s.Value.String())
	}
	return all
}

// plan plans to move channel 3 of a desk in which all of it may move.
func (s *trial) plan(t *testing.T) *desk.MovePlan {
	t.Helper()
	s.movable(t)
	plan, err := s.PlanMove(t.Context(), channel3)
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

func TestADeskThatFallsSilentInAMoveIsToldAsSuchAndWhatIsInDoubtIsNamed(t *testing.T) {
	for _, c := range []struct {
		name    string
		stopped bool
	}{{"alone", false}, {"and the user stops it", true}} {
		t.Run(c.name, func(t *testing.T) {
			var stop context.CancelFunc
			u := trouble{at: gainAddress}
			d := differing{profile: "quay-24"}
			d.loses = func(h osc.Heard) bool {
				if u.begins(h); u.begun.Load() && c.stopped {
					stop()
				}
				return u.begun.Load() && len(h.Arguments) == 0 // it takes settings still
			}
			onTrial(t, d, func(t *testing.T, s *trial) {
				var ctx context.Context
				ctx, stop = context.WithCancel(t.Context())
				defer stop()
				plan := s.plan(t)
				before := s.holdings()
				report, err := s.Move(ctx, plan, nil)
				var opened *desk.Opened
				if !errors.Is(err, desk.ErrSilent) || errors.As(err, &opened) || c.stopped != errors.Is(err, context.Canceled) {
					t.Error(err)
				}
				if diff := cmp.Diff([]string{"channel.3.input.gain 0"}, settingsIn(report.InDoubt)); diff != "" || report.AsBefore() {
					t.Error(diff)
				}
				if report.Unread == 0 || len(report.NotBack) > 0 {
					t.Errorf("%d unread, %v", report.Unread, report.NotBack)
				}
				if diff := cmp.Diff(before, s.holdings()); diff != "" {
					t.Error(diff)
				}
			})
		})
	}
}

func TestWhatDoesNotComeBackEndsTheMoveAndIsTold(t *testing.T) {
	sent := 0 // the desk takes no more than one gain
	d := differing{profile: "quay-24", loses: func(h osc.Heard) bool {
		if settingsOf(gainAddress)(h) {
			sent++
		}
		return sent > 1 && settingsOf(gainAddress)(h)
	}}
	onTrial(t, d, func(t *testing.T, s *trial) {
		plan := s.plan(t)
		report, err := s.Move(t.Context(), plan, nil)
		if err == nil || !strings.Contains(err.Error(), "channel.3.input.gain did not come back at once: the rest was not moved") {
			t.Error(err)
		}
		if last := report.Moved[len(report.Moved)-1]; last.Parameter.Name != "input.gain" {
			t.Errorf("%s moved after that", last.Parameter)
		}
		if diff := cmp.Diff([]string{"channel.3.input.gain 0"}, settingsIn(report.NotBack)); diff != "" || report.AsBefore() {
			t.Error(diff)
		}
		if len(report.InDoubt) > 0 || report.Unread > 0 {
			t.Error(report.InDoubt, report.Unread)
		}
	})
}

func TestAnOpenedChannelIsMutedBeforeAllElseWhenTheUserStops(t *testing.T) {
	var (
		stop context.CancelFunc
		mock *mockdesk.Desk
		sets []string // since it was opened, other than of the gain
		open bool
	)
	d := differing{profile: "quay-24"}
	d.mock.Watch = func(e mockdesk.Event) {
		switch {
		case e.What == mockdesk.HandMove && e.Setting.Parameter.Name != "mute":
			open = true // along with the label
		case e.What != mockdesk.Set:
		case e.Setting.Parameter.Name != "input.gain":
			if open {
				sets = append(sets, e.Setting.Parameter.String())
			}
		case mock != nil:
			m, place := mock, e.Setting.Parameter.Place
			mock = nil
			go func() { // it must not be called from here
				_, _ = m.Move(profiles.Parameter{Place: place, Name: "mute"}, profiles.Switch(false))
				_, _ = m.Move(profiles.Parameter{Place: place, Name: "label"}, profiles.Word("open"))
				stop()
			}()
		}
	}
	onTrial(t, d, func(t *testing.T, s *trial) {
		var ctx context.Context
		ctx, stop = context.WithCancel(t.Context())
		defer stop()
		plan := s.plan(t)
		before := s.holdings()
		mock = s.mock
		report, _ := s.Move(ctx, plan, nil)
		if len(sets) == 0 || sets[0] != "channel.3.mute" {
			t.Errorf("put back in the order %v", sets)
		}
		if diff := cmp.Diff(before, s.holdings()); diff != "" || !report.AsBefore() {
			t.Error(diff)
		}
	})
}

func TestAnOldPlanMovesNothingOnceTheChannelIsOpen(t *testing.T) {
	onTrial(t, differing{profile: "quay-24"}, func(t *testing.T, s *trial) {
		plan := s.plan(t)
		s.hand(t, "channel.3.mute", profiles.Switch(false))
		_, err := s.Move(t.Context(), plan, nil)
		if open := (*desk.NotMuted)(nil); !errors.As(err, &open) || open.Unknown {
			t.Error(err)
		}
		if n := s.mock.Counts().Settings; n > 0 {
			t.Errorf("%d settings", n)
		}
	})
}

// Meters come all the time, and now and then an answer is lost: neither is a sign of
// anything.
func TestMetersBesideLostAnswersDoNotMislead(t *testing.T) {
	asked := 0
	d := differing{profile: "quay-24"}
	d.chatter = func() []osc.Message {
		return []osc.Message{{Address: "/meters", Arguments: []any{float32(asked)}}}
	}
	d.loses = func(h osc.Heard) bool {
		if len(h.Arguments) > 0 {
			return false
		}
		asked++
		return asked%5 == 0
	}
	onTrial(t, d, func(t *testing.T, s *trial) {
		s.movable(t)
		before := s.holdings()
		lines, report := s.moves(t, channel3)
		if len(lines) > 0 || !report.AsBefore() || len(report.Disturbed) > 0 {
			t.Error(lines, report.Disturbed)
		}
		if diff := cmp.Diff(before, s.holdings()); diff != "" {
			t.Error(diff)
		}
	})
}
