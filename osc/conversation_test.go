package osc

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
)

const ms = time.Millisecond

// talk runs a test on a conversation, in time that stands still until everyone waits.
func talk(t *testing.T, n func() *network, m Manner, test func(t *testing.T, n *network, c *Conversation[string, int32])) {
	synctest.Test(t, func(t *testing.T) {
		link := n()
		c := Converse(link, m, numbers, nil)
		defer c.Close()
		test(t, link, c)
	})
}

func quick(values map[string]int32) func() *network {
	return func() *network { return newNetwork((&holding{values: values}).hear, after(ms)) }
}

func deaf() *network { return newNetwork(silent, after(ms)) }

func same(t *testing.T, want, got any) {
	t.Helper()
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// waiting is how many calls of Ask a conversation knows to wait for something.
func waiting(c *Conversation[string, int32]) (n int) {
	for _, t := range c.topics.all {
		n += len(t.waiting)
	}
	return n
}

func TestAskGivesWhatTheDeskHolds(t *testing.T) {
	talk(t, quick(map[string]int32{"/a": 1, "/b": 2}), Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		got, err := c.Ask(t.Context(), ask("/a", "/b"), nil)
		if err != nil {
			t.Fatal(err)
		}
		same(t, map[string]int32{"/a": 1, "/b": 2}, got)
	})
}

func TestAnUnansweredQuestionIsSentEightTimesWaitingLongerEachTime(t *testing.T) {
	talk(t, deaf, Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		got, err := c.Ask(t.Context(), ask("/a"), nil)
		if err != nil || len(got) != 0 {
			t.Fatal(got, err)
		}
		// Waits of 100, 150, 225, 337.5 and then 400 ms.
		var want []sending
		for _, at := range []float64{0, 100, 250, 475, 812.5, 1212.5, 1612.5, 2012.5} {
			want = append(want, sending{time.Duration(at * float64(ms)), "/a"})
		}
		same(t, want, n.sendings())
		same(t, 2412500*time.Microsecond, time.Since(n.born))
	})
}

func TestTheMannerIsKeptTo(t *testing.T) {
	m := Manner{Wait: 10 * ms, BackOff: 3, MaxWait: 50 * ms, Tries: 3}
	talk(t, deaf, m, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		if _, err := c.Ask(t.Context(), ask("/a"), nil); err != nil {
			t.Fatal(err)
		}
		same(t, []sending{{0, "/a"}, {10 * ms, "/a"}, {40 * ms, "/a"}}, n.sendings())
		same(t, 90*ms, time.Since(n.born))
	})
}

func TestOnlyAWindowOfQuestionsIsInFlight(t *testing.T) {
	talk(t, deaf, Manner{Window: 2, Tries: 2}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		if _, err := c.Ask(t.Context(), ask("/a", "/b", "/c"), nil); err != nil {
			t.Fatal(err)
		}
		same(t, []sending{{0, "/a"}, {0, "/b"}, {100 * ms, "/a"}, {100 * ms, "/b"}, {250 * ms, "/c"}, {350 * ms, "/c"}}, n.sendings())
	})
}

func TestAnAnswerMakesRoomForTheNextQuestion(t *testing.T) {
	talk(t, quick(map[string]int32{"/a": 1, "/b": 2, "/c": 3}), Manner{Window: 1}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		if _, err := c.Ask(t.Context(), ask("/a", "/b", "/c"), nil); err != nil {
			t.Fatal(err)
		}
		same(t, []sending{{0, "/a"}, {2 * ms, "/b"}, {4 * ms, "/c"}}, n.sendings())
	})
}

func TestAQuestionInTheRoomThatAnAnswerMadeIsNotWaitedForLongerThanItsOwnTime(t *testing.T) {
	late := func() *network { return newNetwork((&holding{values: map[string]int32{"/a": 1}}).hear, after(75*ms)) }
	m := Manner{Window: 2, Tries: 2, BackOff: 4}
	talk(t, late, m, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		if _, err := c.Ask(t.Context(), ask("/missing", "/a", "/too"), nil); err != nil {
			t.Fatal(err)
		}
		// The answer comes at 150 ms; the second try of /missing is given up at 500 ms.
		same(t, []sending{{0, "/missing"}, {0, "/a"}, {100 * ms, "/missing"}, {100 * ms, "/a"}, {150 * ms, "/too"}, {250 * ms, "/too"}}, n.sendings())
	})
}

func TestTellingAndAskingShareOnePace(t *testing.T) {
	talk(t, quick(map[string]int32{"/c": 3}), Manner{Pace: 100}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		if err := c.Tell(t.Context(), Message{Address: "/a"}, Message{Address: "/b"}); err != nil {
			t.Fatal(err)
		}
		if _, err := c.Ask(t.Context(), ask("/c"), nil); err != nil {
			t.Fatal(err)
		}
		same(t, []sending{{0, "/a"}, {10 * ms, "/b"}, {20 * ms, "/c"}}, n.sendings())
	})
}

func TestABurstGoesAtOnceAndThenThePaceHolds(t *testing.T) {
	talk(t, deaf, Manner{Pace: 100, Burst: 3}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		m := Message{Address: "/a"}
		if err := c.Tell(t.Context(), m, m, m, m, m); err != nil {
			t.Fatal(err)
		}
		same(t, []sending{{0, "/a"}, {0, "/a"}, {0, "/a"}, {10 * ms, "/a"}, {20 * ms, "/a"}}, n.sendings())
	})
}

func TestAskAfreshWaitsUntilNoEarlierAnswerCanCome(t *testing.T) {
	desk := &holding{values: map[string]int32{"/a": 1, "/b": 1}}
	network40 := func() *network { return newNetwork(desk.hear, after(40*ms)) }
	talk(t, network40, Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		// This gives up while its answer is under way.
		ctx, cancel := context.WithTimeout(t.Context(), 60*ms)
		defer cancel()
		if got, err := c.Ask(ctx, ask("/a"), nil); !errors.Is(err, context.DeadlineExceeded) || len(got) != 0 {
			t.Fatal(got, err)
		}
		desk.set("/a", 2)
		got, err := c.AskAfresh(t.Context(), ask("/a", "/b"), nil)
		if err != nil {
			t.Fatal(err)
		}
		same(t, map[string]int32{"/a": 2, "/b": 1}, got)
		same(t, []sending{{0, "/a"}, {60 * ms, "/b"}, {100 * ms, "/a"}}, n.sendings())
	})
}

func TestPlainAskTakesAnAnswerThatWasUnderWay(t *testing.T) {
	desk := &holding{values: map[string]int32{"/a": 1}}
	network40 := func() *network { return newNetwork(desk.hear, after(40*ms)) }
	talk(t, network40, Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		ctx, cancel := context.WithTimeout(t.Context(), 60*ms)
		defer cancel()
		_, _ = c.Ask(ctx, ask("/a"), nil)
		desk.set("/a", 2)
		got, err := c.Ask(t.Context(), ask("/a"), nil)
		if err != nil {
			t.Fatal(err)
		}
		same(t, map[string]int32{"/a": 1}, got)
	})
}

func TestAskAfreshLooksAgainWhenAnotherAsksMeanwhile(t *testing.T) {
	talk(t, quick(map[string]int32{"/a": 1}), Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		var others sync.WaitGroup
		plain := func() {
			if _, err := c.Ask(t.Context(), ask("/a"), nil); err != nil {
				t.Error(err)
			}
		}
		plain()
		others.Go(func() {
			time.Sleep(50 * ms)
			plain()
		})
		if _, err := c.AskAfresh(t.Context(), ask("/a"), nil); err != nil {
			t.Fatal(err)
		}
		others.Wait()
		same(t, []sending{{0, "/a"}, {52 * ms, "/a"}, {152 * ms, "/a"}}, n.sendings())
	})
}

func TestTwoWhoAskAfreshAboutTheSameKeepTheDistanceFromEachOther(t *testing.T) {
	talk(t, quick(map[string]int32{"/a": 1}), Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		var both sync.WaitGroup
		for range 2 {
			both.Go(func() {
				got, err := c.AskAfresh(t.Context(), ask("/a"), nil)
				if err != nil || got["/a"] != 1 {
					t.Error(got, err)
				}
			})
		}
		both.Wait()
		same(t, []sending{{0, "/a"}, {100 * ms, "/a"}}, n.sendings())
	})
}

func TestTheDistanceIsKeptFromAQuestionThatIsStillBeingSent(t *testing.T) {
	talk(t, quick(map[string]int32{"/a": 1}), Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		n.takes = 10 * ms
		var both sync.WaitGroup
		for range 2 {
			both.Go(func() {
				if _, err := c.AskAfresh(t.Context(), ask("/a"), nil); err != nil {
					t.Error(err)
				}
			})
		}
		both.Wait()
		// The first is sent at 10 ms, so the second begins at 110 ms.
		same(t, []sending{{10 * ms, "/a"}, {120 * ms, "/a"}}, n.sendings())
	})
}

func TestOneAnswerServesAllWhoAsk(t *testing.T) {
	var answered atomic.Bool
	once := func(m Message) []Message {
		if answered.Swap(true) {
			return nil
		}
		return []Message{{m.Address, []any{int32(7)}}}
	}
	talk(t, func() *network { return newNetwork(once, after(ms)) }, Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		var all sync.WaitGroup
		for range 3 {
			all.Go(func() {
				got, err := c.Ask(t.Context(), ask("/a"), nil)
				if err != nil || got["/a"] != 7 {
					t.Error(got, err)
				}
			})
		}
		all.Wait()
	})
}

func TestAKeyInSeveralQuestionsIsAnsweredOnce(t *testing.T) {
	talk(t, quick(map[string]int32{"/a": 1, "/b": 2}), Manner{Window: 1}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		questions := append(ask("/a", "/a", "/b"), Question[string]{Message{Address: "/a"}, []string{"/a", "/a", "/b"}})
		for _, asking := range []func(context.Context, []Question[string], func(int)) (map[string]int32, error){c.Ask, c.AskAfresh} {
			got, err := asking(t.Context(), questions, nil)
			if err != nil {
				t.Fatal(err)
			}
			same(t, map[string]int32{"/a": 1, "/b": 2}, got)
		}
		same(t, []sending{{0, "/a"}, {2 * ms, "/b"}, {100 * ms, "/a"}, {102 * ms, "/b"}}, n.sendings())
	})
}

func TestAQuestionAboutSeveralKeysIsAskedUntilAllAreAnswered(t *testing.T) {
	node := func(m Message) []Message { return []Message{{"/a", []any{int32(1)}}} }
	talk(t, func() *network { return newNetwork(node, after(ms)) }, Manner{Tries: 2}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		got, err := c.Ask(t.Context(), []Question[string]{{Message{Address: "/node"}, []string{"/a", "/b"}}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		same(t, map[string]int32{"/a": 1}, got)
		same(t, []sending{{0, "/node"}, {100 * ms, "/node"}}, n.sendings())
	})
}

func TestNothingIsSentToAskNothing(t *testing.T) {
	talk(t, deaf, Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		for _, questions := range [][]Question[string]{nil, {{Message: Message{Address: "/a"}}}} {
			var told []int
			got, err := c.AskAfresh(t.Context(), questions, func(n int) { told = append(told, n) })
			if err != nil || got == nil || len(got) != 0 {
				t.Error(got, err)
			}
			if len(questions) > 0 && !slices.Equal(told, []int{1}) {
				t.Error(told)
			}
		}
		same(t, 0, len(n.sendings()))
	})
}

func TestProgressIsToldUpToTheLastQuestion(t *testing.T) {
	talk(t, quick(map[string]int32{"/a": 1, "/b": 2}), Manner{Tries: 1, Window: 1}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		var told []int
		if _, err := c.Ask(t.Context(), ask("/a", "/missing", "/b"), func(n int) { told = append(told, n) }); err != nil {
			t.Fatal(err)
		}
		same(t, []int{1, 2, 3}, told)
	})
}

func TestAQuestionThatCannotBeEncodedStopsAllBeforeAnyIsSent(t *testing.T) {
	talk(t, deaf, Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		_, err := c.Ask(t.Context(), ask("/a", "b"), nil)
		if err == nil || !strings.Contains(err.Error(), `question 2 of 2: OSC address "b"`) {
			t.Error(err)
		}
		if err := c.Tell(t.Context(), Message{Address: "/a"}, Message{Address: "b"}); err == nil {
			t.Error("told it")
		}
		same(t, 0, len(n.sendings()))
	})
}

func TestUnaskedLateAndDoubledReportsAreNewsAndHarmNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := newNetwork(silent, after(ms))
		var news []Report[string, int32]
		c := Converse(n, Manner{Tries: 1}, numbers, func(r Report[string, int32]) { news = append(news, r) })
		report := func(address string, value int32) {
			packet, err := Message{address, []any{value}}.Encode()
			if err != nil {
				t.Fatal(err)
			}
			n.deliver(packet)
		}
		report("/b", 1)
		if got, err := c.Ask(t.Context(), ask("/a"), nil); err != nil || len(got) != 0 {
			t.Fatal(got, err)
		}
		report("/a", 2) // late
		report("/a", 2) // and doubled
		synctest.Wait()
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
		same(t, []Report[string, int32]{{"/b", 1}, {"/a", 2}, {"/a", 2}}, news)
		same(t, 0, waiting(c))
	})
}

func TestAnAnswerAfterTheLastTryStillCountsWhileOthersAreAsked(t *testing.T) {
	slow := func() *network { return newNetwork((&holding{values: map[string]int32{"/a": 1}}).hear, after(75*ms)) }
	talk(t, slow, Manner{Tries: 1, Window: 1}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		var told []int
		got, err := c.Ask(t.Context(), ask("/a", "/missing", "/too"), func(n int) { told = append(told, n) })
		if err != nil {
			t.Fatal(err)
		}
		same(t, map[string]int32{"/a": 1}, got)
		same(t, []int{1, 2, 3}, told)
		same(t, 300*ms, time.Since(n.born))
	})
}

func TestAQuestionAnsweredWhileItWaitsForThePaceIsNotSent(t *testing.T) {
	talk(t, quick(map[string]int32{"/a": 1}), Manner{Pace: 10}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		if _, err := c.Ask(t.Context(), ask("/a", "/a"), nil); err != nil {
			t.Fatal(err)
		}
		same(t, []sending{{0, "/a"}}, n.sendings())
	})
}

func TestAnAnswerThatComesAsAskReturnsHarmsNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := quick(map[string]int32{"/a": 1})()
		c := Converse(n, Manner{}, numbers, func(Report[string, int32]) { time.Sleep(50 * ms) })
		defer c.Close()
		ctx, cancel := context.WithTimeout(t.Context(), 30*ms)
		defer cancel()
		if got, err := c.Ask(ctx, ask("/a"), nil); !errors.Is(err, context.DeadlineExceeded) || len(got) != 0 {
			t.Error(got, err)
		}
		time.Sleep(100 * ms)
		got, err := c.Ask(t.Context(), ask("/a"), nil)
		if err != nil || got["/a"] != 1 {
			t.Error(got, err)
		}
	})
}

func TestOnlyTheFirstReportCounts(t *testing.T) {
	twice := func(m Message) []Message {
		return []Message{{m.Address, []any{int32(1)}}, {m.Address, []any{int32(2)}}}
	}
	count := time.Duration(0)
	later := func(*rand.Rand) []time.Duration { // each packet than the one before, so in order
		count += ms
		return []time.Duration{count}
	}
	talk(t, func() *network { return newNetwork(twice, later) }, Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		got, err := c.Ask(t.Context(), []Question[string]{{Message{Address: "/a"}, []string{"/a", "/b"}}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		same(t, map[string]int32{"/a": 1}, got)
	})
}

func TestNewsComesBeforeAskReturns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := quick(map[string]int32{"/a": 1})()
		told := make(chan struct{}, 1)
		c := Converse(n, Manner{}, numbers, func(r Report[string, int32]) {
			time.Sleep(10 * ms) // Time for Ask to return too early.
			told <- struct{}{}
		})
		defer c.Close()
		if _, err := c.Ask(t.Context(), ask("/a"), nil); err != nil {
			t.Fatal(err)
		}
		select {
		case <-told:
		default:
			t.Error("Ask returned first")
		}
	})
}

func TestAQuestionSentWhileNewsIsToldDoesNotTakeItForItsAnswer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n := newNetwork(silent, after(ms))
		c := Converse(n, Manner{Tries: 1}, numbers, func(r Report[string, int32]) { time.Sleep(50 * ms) })
		defer c.Close()
		packet, err := Message{"/a", []any{int32(1)}}.Encode()
		if err != nil {
			t.Fatal(err)
		}
		n.deliver(packet)
		synctest.Wait() // News is being told now.
		if got, err := c.AskAfresh(t.Context(), ask("/a"), nil); err != nil || len(got) != 0 {
			t.Error(got, err)
		}
	})
}

func TestWhatIsNoOSCIsCountedAndPassedOver(t *testing.T) {
	talk(t, quick(map[string]int32{"/a": 1}), Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		n.deliver([]byte("GET / HTTP/1.1"))
		n.deliver(nil)
		n.deliver(wire("/in|,X||", 1))
		got, err := c.Ask(t.Context(), ask("/a"), nil)
		if err != nil || got["/a"] != 1 {
			t.Error(got, err)
		}
		same(t, uint64(3), c.Malformed())
	})
}

func TestADeadLinkIsSaidAtOnceWithWhatWasAnswered(t *testing.T) {
	broken := errors.New("the cable is cut")
	talk(t, quick(map[string]int32{"/a": 1}), Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		time.AfterFunc(50*ms, func() { n.die(broken) })
		got, err := c.Ask(t.Context(), ask("/a", "/missing"), nil)
		if !errors.Is(err, broken) {
			t.Error(err)
		}
		same(t, map[string]int32{"/a": 1}, got)
		if _, err := c.AskAfresh(t.Context(), ask("/a"), nil); !errors.Is(err, broken) {
			t.Error(err)
		}
		if err := c.Tell(t.Context(), Message{Address: "/a"}); !errors.Is(err, broken) {
			t.Error(err)
		}
		same(t, 50*ms, time.Since(n.born))
	})
}

func TestCloseEndsWhatWaits(t *testing.T) {
	talk(t, deaf, Manner{Pace: 0.1}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		var all sync.WaitGroup
		all.Go(func() {
			if _, err := c.Ask(t.Context(), ask("/a"), nil); !errors.Is(err, net.ErrClosed) {
				t.Error(err)
			}
		})
		all.Go(func() {
			if err := c.Tell(t.Context(), Message{Address: "/a"}, Message{Address: "/b"}); !errors.Is(err, net.ErrClosed) {
				t.Error(err)
			}
		})
		synctest.Wait()
		for range 2 {
			if err := c.Close(); err != nil {
				t.Error(err)
			}
		}
		all.Wait()
		same(t, 0*ms, time.Since(n.born))
	})
}

func TestACancelledContextIsSaidAtOnceWithWhatWasAnswered(t *testing.T) {
	talk(t, quick(map[string]int32{"/a": 1}), Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		ctx, cancel := context.WithTimeout(t.Context(), 50*ms)
		defer cancel()
		got, err := c.Ask(ctx, ask("/a", "/missing"), nil)
		if !errors.Is(err, context.DeadlineExceeded) {
			t.Error(err)
		}
		same(t, map[string]int32{"/a": 1}, got)
		if err := c.Tell(ctx, Message{Address: "/a"}); !errors.Is(err, context.DeadlineExceeded) {
			t.Error(err)
		}
		same(t, 50*ms, time.Since(n.born))
		same(t, 2, len(n.sendings()))
	})
}

func TestACancelledContextEndsWaitingForThePace(t *testing.T) {
	talk(t, deaf, Manner{Pace: 0.1}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		ctx, cancel := context.WithTimeout(t.Context(), 50*ms)
		defer cancel()
		err := c.Tell(ctx, Message{Address: "/a"}, Message{Address: "/b"})
		if !errors.Is(err, context.DeadlineExceeded) || !strings.Contains(err.Error(), "1 of 2 messages sent, next /b") {
			t.Error(err)
		}
		same(t, 50*ms, time.Since(n.born))
	})
}

func TestAPacketThatCannotBeSentIsAnError(t *testing.T) {
	refused := errors.New("network is unreachable")
	talk(t, deaf, Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		n.refuse = refused
		if _, err := c.Ask(t.Context(), ask("/a"), nil); !errors.Is(err, refused) {
			t.Error(err)
		}
		if err := c.Tell(t.Context(), Message{Address: "/a"}); !errors.Is(err, refused) {
			t.Error(err)
		}
		same(t, 0, waiting(c))
	})
}

func TestNothingIsRememberedForLongerThanItLingers(t *testing.T) {
	talk(t, deaf, Manner{Tries: 1, Window: 10, Wait: 10 * ms}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		var addresses []string
		for i := range 5000 {
			addresses = append(addresses, fmt.Sprintf("/in/%d", i))
		}
		if _, err := c.Ask(t.Context(), ask(addresses...), nil); err != nil {
			t.Fatal(err)
		}
		same(t, 0, waiting(c))
		// Ten questions go out every 10 ms, and each is remembered for 100 ms.
		if len(c.topics.all) > 100 || len(c.topics.lapsing) > 100 {
			t.Error(len(c.topics.all), len(c.topics.lapsing))
		}
		time.Sleep(100 * ms)
		if _, err := c.Ask(t.Context(), nil, nil); err != nil {
			t.Fatal(err)
		}
		same(t, 0, len(c.topics.all)+len(c.topics.lapsing))
	})
}

func TestAKeyThatIsAskedAboutAgainAndAgainIsRememberedForNoLonger(t *testing.T) {
	talk(t, quick(map[string]int32{"/a": 1}), Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		for range 500 {
			if _, err := c.Ask(t.Context(), ask("/a"), nil); err != nil {
				t.Fatal(err)
			}
		}
		// One call takes 2 ms, and what it asked about is remembered for 100 ms.
		if len(c.topics.lapsing) > 51 {
			t.Error(len(c.topics.lapsing))
		}
	})
}

func TestNoLingerMeansNoWaiting(t *testing.T) {
	talk(t, quick(map[string]int32{"/a": 1}), Manner{Linger: -1}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		for range 2 {
			if _, err := c.AskAfresh(t.Context(), ask("/a"), nil); err != nil {
				t.Fatal(err)
			}
		}
		same(t, []sending{{0, "/a"}, {2 * ms, "/a"}}, n.sendings())
		same(t, 0, len(c.topics.all))
	})
}

func TestAMessageThatIsMadeWhenDueSaysWhatWasHeardWhileItWaited(t *testing.T) {
	talk(t, deaf, Manner{Pace: 100}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		var heard atomic.Bool
		time.AfterFunc(5*ms, func() { heard.Store(true) })
		if err := c.Tell(t.Context(), Message{Address: "/first"}); err != nil {
			t.Fatal(err)
		}
		if err := c.TellWhenDue(t.Context(), func() (Message, error) { return Message{Address: fmt.Sprint("/", heard.Load())}, nil }); err != nil {
			t.Fatal(err)
		}
		same(t, []sending{{0, "/first"}, {10 * ms, "/true"}}, n.sendings())
	})
}

func TestAMessageThatCanNotBeMadeIsNotSent(t *testing.T) {
	talk(t, deaf, Manner{}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		none := errors.New("nothing to say")
		if err := c.TellWhenDue(t.Context(), func() (Message, error) { return Message{}, none }); !errors.Is(err, none) {
			t.Error(err)
		}
		if err := c.TellWhenDue(t.Context(), func() (Message, error) { return Message{Address: "no slash"}, nil }); err == nil {
			t.Error("no error for an address that is none")
		}
		if len(n.sendings()) > 0 {
			t.Error(n.sendings())
		}
	})
}

func TestWhetherABundleMayGoIsAskedWhenItIsDue(t *testing.T) {
	talk(t, deaf, Manner{Pace: 100}, func(t *testing.T, n *network, c *Conversation[string, int32]) {
		bundle := []Message{{Address: "/a"}, {Address: "/b"}, {Address: "/c"}}
		asleep := errors.New("asleep meanwhile")
		var fell atomic.Bool
		time.AfterFunc(15*ms, func() { fell.Store(true) }) // while it waits for the pace of three messages, 20 ms
		mayGo := func() error {
			if fell.Load() {
				return asleep
			}
			return nil
		}
		if err := c.TellTogether(t.Context(), mayGo, bundle...); !errors.Is(err, asleep) {
			t.Error(err)
		}
		same(t, 0, len(n.sendings()))
		fell.Store(false)
		if err := c.TellTogether(t.Context(), mayGo, bundle...); err != nil {
			t.Error(err)
		}
		same(t, []sending{{50 * ms, "/a"}}, n.sendings()) // of a bundle the network notes the first
	})
}
