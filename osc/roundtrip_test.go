package osc

import (
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

// far is a network to a desk 30 ms away that answers /a, and /all with twenty values, but not at the first time.
func far() *network {
	asked := 0
	return newNetwork(func(m Message) []Message {
		switch m.Address {
		case "/a":
			return []Message{{"/a", []any{int32(1)}}}
		case "/all":
			if asked++; asked > 1 {
				return []Message{{"/all", slices.Repeat([]any{int32(2)}, 20)}}
			}
		}
		return nil
	}, after(30*ms))
}

// places gives the values of a message by their places.
func places(h Heard) (reports []Report[string, int32]) {
	for i, argument := range h.Arguments {
		reports = append(reports, Report[string, int32]{h.Address + string(rune('a'+i)), argument.(int32)})
	}
	return reports
}

// An answer takes 60 ms, which makes a mean of 60 ms and, after two of them, a swing of 22.5 ms: if the desk counted as
// slow, the wait would be 60 + 4 x 22.5 = 150 ms or longer. As it doesn't, the manner's 100 ms are the most.
func TestADeskCountsAsSlowOnlyWhenManyMessagesInARowWereAskedForTwice(t *testing.T) {
	all := Question[string]{Message: Message{Address: "/all"}}
	for i := range 20 {
		all.Keys = append(all.Keys, "/all"+string(rune('a'+i)))
	}
	one := Question[string]{Message{Address: "/a"}, []string{"/aa"}}
	for name, questions := range map[string][]Question[string]{
		"one message of many values is one":          {all},
		"what was not asked yet was not asked twice": slices.Repeat([]Question[string]{one}, 20),
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				n := far()
				c := Converse(n, Manner{Window: 1, Tries: 2}, places, nil)
				defer c.Close()
				for _, questions := range [][]Question[string]{{one}, questions, ask("/missing")} {
					if _, err := c.Ask(t.Context(), questions, nil); err != nil {
						t.Fatal(err)
					}
				}
				sent := n.sendings()
				first, second := sent[len(sent)-2], sent[len(sent)-1]
				if first.Address != "/missing" || second.At-first.At != 100*time.Millisecond {
					t.Error(sent)
				}
			})
		})
	}
}
