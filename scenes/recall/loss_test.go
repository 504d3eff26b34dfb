package recall_test

import (
	"errors"
	"flag"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

var (
	lossSwaps = flag.Int("loss.swaps", 20, "how many swaps are made at each share of loss")
	lossSeed  = flag.Uint64("loss.seed", 1, "the first of the seeds")
)

// losses are the shares of packets that get lost, each way.
var losses = []float64{0, 0.05, 0.20, 0.40}

// swapsADesk is how many swaps are made one after the other at one desk.
const swapsADesk = 10

// lossy is a network that loses, doubles, overtakes, and takes up to 50 ms, and 20 ms more
// for what is overtaken.
func lossy(seed uint64, share float64) mockdesk.Trouble {
	way := mockdesk.Way{Lose: share, Double: 0.1, Reorder: 0.2, Delay: 50 * time.Millisecond}
	return mockdesk.Trouble{Seed: seed, In: way, Out: way}
}

// With -v it prints the table.
func TestLossLeavesNothingWrongConfirmedAndNothingWrongOnAnOpenPosition(t *testing.T) {
	tallies := make([]*tally, len(losses))
	t.Run("swaps", func(t *testing.T) {
		for i, share := range losses {
			tallies[i] = &tally{share: share}
			for first := 0; first < *lossSwaps; first += swapsADesk {
				t.Run(fmt.Sprintf("%.0f %% lost, from swap %d on", 100*share, first+1), func(t *testing.T) {
					t.Parallel()
					onStage(t, setting{mock: mockdesk.Options{Trouble: lossy(*lossSeed+uint64(first), 0)}}, func(t *testing.T, s *stage) {
						swapsUnderLoss(t, s, tallies[i], min(swapsADesk, *lossSwaps-first))
					})
				})
			}
		}
	})
	t.Log(table(tallies))
	for _, y := range tallies {
		if y.share <= 0.2 && len(y.took) == 0 {
			t.Errorf("no swap was ever confirmed at %.0f %% lost", 100*y.share)
		}
	}
}

// swapsUnderLoss puts performers on two open positions in turn, every third time with a fade.
func swapsUnderLoss(t *testing.T, s *stage, y *tally, swaps int) {
	positions := []string{"lectern", "table-left"}
	for _, position := range positions {
		s.must(opened(s.on(position, performers[2]), true))
	}
	s.mock.Misbehave(lossy(0, y.share))
	for swap := range swaps {
		target := s.on(positions[swap%2], performers[(swap/2)%len(performers)])
		if swap%3 == 2 {
			target.Fade = scenes.Fade{Time: time.Second}
		}
		s.again()
		y.swap(t, s, target)
	}
}

// tally counts what came of the swaps at one share of loss.
type tally struct {
	share float64

	mu                              sync.Mutex
	swaps, muted, told, unreachable int
	wrongClaims, wrongOpen          int
	messages                        int64
	took, faded                     []time.Duration // of the confirmed
	longest                         time.Duration   // of all
}

// swap makes one swap, and judges it.
func (y *tally) swap(t *testing.T, s *stage, target recall.Target) {
	judge := s.judgeFrom(target)
	was := s.everything()
	began, sent := time.Now(), s.link.sent.Load()
	plan, result, err := s.recall(t.Context(), target)
	took := time.Since(began)
	fault := judge.fault(result)
	if fault == nil {
		fault = s.mixture(target, was)
	}
	y.mu.Lock()
	defer y.mu.Unlock()
	y.swaps++
	y.messages += s.link.sent.Load() - sent
	y.longest = max(y.longest, took)
	switch {
	case errors.Is(fault, errClaim):
		y.wrongClaims++
	case fault != nil:
		y.wrongOpen++
	}
	if fault != nil {
		t.Error(fault)
	}
	switch {
	case err != nil && !errors.Is(err, desk.ErrSilent):
		t.Error(err)
	case err != nil:
		y.unreachable++
	case result.Complete() && target.Fade.Time > 0:
		y.faded = append(y.faded, took)
	case result.Complete():
		y.took = append(y.took, took)
	case len(result.StillMuted) > 0:
		y.muted++
	default:
		y.told++
	}
	if result != nil {
		s.checkAccount(t, plan, result)
	}
	if plan != nil && len(plan.Moves) > 0 {
		t.Error("told as hand moves:", plan.Moves)
	}
}

// mixture says what an open place holds that is neither all as it was nor all as wanted.
func (s *stage) mixture(target recall.Target, was scenes.Values) error {
	if s.isOpen(target.Place.String()) {
		holds, differ := s.everything(), ""
		for _, w := range target.Wanted {
			if _, safe := s.Venue.SafeFor(w.Parameter); !safe && holds[w.Parameter] != w.Value {
				differ = w.Parameter.String()
			}
		}
		asItWas := slices.IndexFunc(s.Venue.Desk.Profile.At(target.Place), func(q profiles.Parameter) bool { return holds[q] != was[q] }) < 0
		if differ != "" && !asItWas {
			return fmt.Errorf("%s is open with a mixture: %s is not as wanted", target.Place, differ)
		}
	}
	return nil
}

func table(tallies []*tally) string {
	var b strings.Builder
	b.WriteString("\n| lost each way | swaps | all confirmed | muted and told | open or closed, not all confirmed | not reached, nothing sent | median s | 95th percentile s | worst s | with a fade, median s | longest of all s | messages a swap | wrongly confirmed | wrong on an open position |\n")
	b.WriteString("|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|\n")
	for _, y := range tallies {
		fmt.Fprintf(&b, "| %.0f %% | %d | %d | %d | %d | %d | %s | %s | %s | %s | %.1f | %.0f | %d | %d |\n",
			100*y.share, y.swaps, len(y.took)+len(y.faded), y.muted, y.told, y.unreachable,
			rank(y.took, 0.5), rank(y.took, 0.95), rank(y.took, 1), rank(y.faded, 0.5), y.longest.Seconds(),
			float64(y.messages)/float64(y.swaps), y.wrongClaims, y.wrongOpen)
	}
	return b.String()
}

// rank gives the time, in seconds, that a share of all kept under.
func rank(took []time.Duration, share float64) string {
	if len(took) == 0 {
		return "-"
	}
	took = slices.Sorted(slices.Values(took))
	return fmt.Sprintf("%.2f", took[int(share*float64(len(took)-1)+0.5)].Seconds())
}
