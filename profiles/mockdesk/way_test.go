package mockdesk

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// fatesOf gives what becomes of so many packets.
func fatesOf(how Way, seed uint64, packets int) [][]time.Duration {
	w := newWay(how, seed, nil)
	fates := make([][]time.Duration, packets)
	for i := range fates {
		fates[i] = w.fates()
	}
	return fates
}

// A share of n packets has a standard deviation of sqrt(n p (1-p)); five of them are
// missed by one seed in some two million.
func within(t *rapid.T, what string, count, of int, share float64) {
	expected := float64(of) * share
	if math.Abs(float64(count)-expected) > 5*math.Sqrt(expected*(1-share))+1e-9 {
		t.Fatalf("%d of %d packets are %s, with a share of %v", count, of, what, share)
	}
}

func TestAWayLosesDoublesAndDelaysItsShares(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share := rapid.SampledFrom([]float64{0, 0.01, 0.1, 0.5, 0.9, 1})
		how := Way{Lose: share.Draw(t, "lose"), Double: share.Draw(t, "double"), Reorder: share.Draw(t, "reorder")}
		const packets = 2000
		var lost, doubled, arrived, copies, held int
		for _, delays := range fatesOf(how, rapid.Uint64().Draw(t, "seed"), packets) {
			switch len(delays) {
			case 0:
				lost++
				continue
			case 2:
				doubled++
			}
			arrived++
			for _, delay := range delays {
				copies++
				if delay > 0 {
					held++
				}
				if delay < 0 || delay > holdBack {
					t.Fatalf("a packet is held back by %v", delay)
				}
			}
		}
		within(t, "lost", lost, packets, how.Lose)
		within(t, "doubled", doubled, arrived, how.Double)
		within(t, "held back", held, copies, how.Reorder)
	})
}

func TestTheSameSeedGivesTheSameFates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share := rapid.Float64Range(0, 1)
		how := Way{
			Lose: share.Draw(t, "lose"), Double: share.Draw(t, "double"), Reorder: share.Draw(t, "reorder"),
			Delay: time.Duration(rapid.IntRange(0, 1e9).Draw(t, "delay")),
		}
		seed := rapid.Uint64().Draw(t, "seed")
		first, again := fatesOf(how, seed, 100), fatesOf(how, seed, 100)
		for i := range first {
			for j, delay := range first[i] {
				if len(again[i]) != len(first[i]) || again[i][j] != delay {
					t.Fatalf("packet %d: %v, then %v", i, first[i], again[i])
				}
				if limit := how.Delay + holdBack; delay < 0 || delay > limit {
					t.Fatalf("packet %d takes %v, which is more than %v", i, delay, limit)
				}
			}
		}
	})
}

func TestAGoodWayDeliversEachPacketOnceAndAtOnce(t *testing.T) {
	var got []byte
	w := newWay(Way{}, 1, func(a arrival) { got = append(got, a.packet...) })
	defer w.close()
	for i := range byte(100) {
		w.pass(arrival{packet: []byte{i}})
	}
	for i := range byte(100) {
		if len(got) != 100 || got[i] != i {
			t.Fatalf("delivered %v", got)
		}
	}
}

func TestAClosedWayDeliversNothingThatIsLate(t *testing.T) {
	delivered := make(chan arrival, 10)
	w := newWay(Way{Delay: time.Hour}, 1, func(a arrival) { delivered <- a })
	for range 5 {
		w.pass(arrival{})
	}
	w.close()
	w.pass(arrival{})
	if len(delivered) != 0 || len(w.late) != 0 {
		t.Errorf("%d packets delivered, %d still to come", len(delivered), len(w.late))
	}
}

func TestNoMorePacketsAreUnderWayThanThereIsRoomFor(t *testing.T) {
	w := newWay(Way{Delay: time.Hour}, 1, func(arrival) {})
	defer w.close()
	for range maxUnderWay + 10 {
		w.pass(arrival{})
	}
	if len(w.late) > maxUnderWay {
		t.Errorf("%d packets are under way", len(w.late))
	}
}
