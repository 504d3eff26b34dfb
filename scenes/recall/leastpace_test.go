package recall_test

import (
	"flag"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"deskhand/profiles/mockdesk"
	"deskhand/scenes/recall"
)

// oneMillisecond is how far the desk is, each way: an answer takes two.
const oneMillisecond = time.Millisecond

var paceSwaps = flag.Int("pace.swaps", 4, "how many swaps are timed")

// at500 is a desk that takes 500 messages a second.
var at500 = []string{"pace = 400", "pace = 500"}

// needed counts the messages of a swap in which nothing gets lost: who it is, all that the place holds, the mute and
// its answer, each change, the mute and all that is wanted once more before it opens, the fader and its answer, the
// opening and its answer, and the last look at all that is wanted.
func (s *stage) needed(plan *recall.Plan) int {
	part := plan.Parts[0]
	p := s.Venue.Desk.Profile
	wanted, changes, fader := 0, 0, 0
	for _, w := range part.Wanted {
		if _, safe := s.Venue.SafeFor(w.Parameter); !safe {
			wanted++
		}
	}
	for _, c := range part.Changes {
		switch c.Parameter.Name {
		case "mute":
		case "fader":
			fader = 1
		default:
			changes++
		}
	}
	read := 0
	for _, q := range p.At(part.Place) {
		if p.Askable(q) {
			read++
		}
	}
	const identify, mute, open = 1, 2, 2
	body := changes + 1 + wanted - fader
	return identify + read + mute + body + 2*fader + open + wanted + 1
}

// least is the least time that the pace allows for as many messages, with the last answer.
func (s *stage) least(messages int) time.Duration {
	link := s.Venue.Desk.Profile.Link
	return time.Duration(float64(messages-link.Burst)/link.Pace*float64(time.Second)) + 2*oneMillisecond
}

// The clock is that of the test, so that no other work of the machine counts. With -v it prints the table.
func TestASwapAtAPaceBesideTheLeastThatThePaceAllows(t *testing.T) {
	rows := make([]string, 2)
	t.Run("swaps", func(t *testing.T) {
		for i, share := range []float64{0, 0.05} {
			t.Run(fmt.Sprintf("%.0f %% lost", 100*share), func(t *testing.T) {
				t.Parallel()
				onStage(t, setting{profile: at500, away: oneMillisecond}, func(t *testing.T, s *stage) {
					rows[i] = s.atPace(t, share)
				})
			})
		}
	})
	t.Log("\n| lost each way | swaps | messages needed | sent | least s | took s | times the least | worst |\n|--:|--:|--:|--:|--:|--:|--:|--:|\n" + strings.Join(rows, ""))
}

func (s *stage) atPace(t *testing.T, share float64) string {
	swaps := *paceSwaps
	for _, performer := range performers {
		s.must(opened(s.on("lectern", performer), true))
	}
	s.mock.Misbehave(mockdesk.Trouble{In: mockdesk.Way{Lose: share}, Out: mockdesk.Way{Lose: share}})
	var took, least time.Duration
	var ratios []float64
	needed, sent := 0, s.link.sent.Load()
	for swap := range swaps {
		time.Sleep(time.Second) // a full burst, and no answer under way
		began := time.Now()
		plan, result, err := s.recall(t.Context(), s.on("lectern", performers[swap%len(performers)]))
		if err != nil {
			t.Fatal(err)
		}
		s.complete(result)
		one, n := time.Since(began), s.needed(plan)
		needed += n
		took, least = took+one, least+s.least(n)
		ratios = append(ratios, float64(one)/float64(s.least(n)))
	}
	return fmt.Sprintf("| %.0f %% | %d | %d | %d | %.3f | %.3f | %.2f | %.2f |\n", 100*share, swaps, needed/swaps,
		int(s.link.sent.Load()-sent)/swaps, least.Seconds()/float64(swaps), took.Seconds()/float64(swaps), float64(took)/float64(least), slices.Max(ratios))
}
