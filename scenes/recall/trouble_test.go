package recall_test

import (
	"fmt"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/recall"
)

// badNetwork loses, doubles and reorders, before a desk with a short queue.
func badNetwork(seed uint64) mockdesk.Trouble {
	way := mockdesk.Way{Lose: 0.1, Double: 0.1, Reorder: 0.2, Delay: 5 * time.Millisecond}
	return mockdesk.Trouble{Seed: seed, In: way, Out: way, Rate: 500, Queue: 32}
}

// performers come to the lectern in turn, so that values go back and forth.
var performers = []string{"botanist", "poet", "pilot"}

func TestTwoHundredSwapsOverABadNetworkAreConfirmedOrSayWhatIsNot(t *testing.T) {
	const desks, swaps = 10, 20
	for seed := range uint64(desks) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			onStage(t, setting{mock: mockdesk.Options{Trouble: badNetwork(seed)}}, func(t *testing.T, s *stage) {
				complete := 0
				for swap := range swaps {
					if s.swapIsHonest(t, s.on("lectern", performers[swap%len(performers)])) {
						complete++
					}
				}
				t.Logf("%d of %d all confirmed, %d packets too many for the desk", complete, swaps, s.mock.Counts().Overrun)
				if complete == 0 {
					t.Error("no swap was ever confirmed")
				}
			})
		})
	}
}

// swapIsHonest makes one swap, and gives whether all of it is confirmed.
func (s *stage) swapIsHonest(t *testing.T, target recall.Target) bool {
	t.Helper()
	s.again()
	judge := s.judgeFrom(target)
	plan, result, err := s.recall(t.Context(), target)
	if err != nil {
		t.Error(err)
		return false
	}
	if err := judge.fault(result); err != nil {
		t.Error(err)
	}
	if len(plan.Moves) > 0 {
		t.Error("told as hand moves:", plan.Moves)
	}
	s.checkAccount(t, plan, result)
	return result.Complete()
}

// checkAccount checks that each wanted setting of a changed place is either confirmed
// or told not to be, and what is told is so.
func (s *stage) checkAccount(t *testing.T, plan *recall.Plan, result *recall.Result) {
	t.Helper()
	told := make(map[profiles.Parameter]bool)
	for _, u := range append(result.Unproved, result.Moved...) {
		told[u.Parameter] = true
		if _, ok := result.Confirmed[u.Parameter]; ok {
			t.Errorf("%s is told as confirmed and as not", u.Parameter)
		}
	}
	for _, part := range plan.Parts {
		for _, w := range part.Wanted {
			_, safe := s.Venue.SafeFor(w.Parameter)
			_, confirmed := result.Confirmed[w.Parameter]
			if len(part.Changes) > 0 && !safe && !confirmed && !told[w.Parameter] {
				t.Errorf("nothing is said of %s", w.Parameter)
			}
		}
	}
	for _, part := range result.StillMuted {
		if muted, _ := s.mock.Holds(profiles.Parameter{Place: part.Place, Name: "mute"}); muted != profiles.Switch(true) {
			t.Errorf("%s is told as muted, and is open", part.Say())
		}
	}
}

// A desk that is slower than its profile says, with a queue that overflows, behind a
// network that loses a third each way: few swaps come to their end, and none may claim
// that it did.
func TestSwapsOnADeskThatIsHardlyReachedAreHonest(t *testing.T) {
	way := mockdesk.Way{Lose: 0.35, Double: 0.2, Reorder: 0.3, Delay: 10 * time.Millisecond}
	for seed := range uint64(6) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			trouble := mockdesk.Trouble{Seed: seed, In: way, Out: way, Rate: 200, Queue: 8}
			onStage(t, setting{mock: mockdesk.Options{Trouble: mockdesk.Trouble{Seed: seed}}}, func(t *testing.T, s *stage) {
				s.must(s.on("lectern", "pilot"))
				s.mock.Misbehave(trouble)
				complete := 0
				for swap := range 6 {
					target := s.on("lectern", performers[swap%len(performers)])
					s.again()
					judge := s.judgeFrom(target)
					plan, result, err := s.recall(t.Context(), target)
					if err := judge.fault(result); err != nil {
						t.Error(err)
					}
					if err != nil {
						continue // not even read
					}
					s.checkAccount(t, plan, result)
					if result.Complete() {
						complete++
					}
				}
				t.Logf("%d of 6 all confirmed, %d packets too many for the desk", complete, s.mock.Counts().Overrun)
			})
		})
	}
}

// The clock of the machine, and its network.
func TestSwapsOverABadNetworkInRealTime(t *testing.T) {
	for seed := range uint64(4) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			s := newStage(t, setting{udp: true, mock: mockdesk.Options{Trouble: badNetwork(seed)}})
			for _, performer := range performers {
				s.swapIsHonest(t, s.on("lectern", performer))
			}
		})
	}
}
