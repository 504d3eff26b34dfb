package agent

import (
	"fmt"
	"net/netip"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"deskhand/osc"
)

// journey is a packet's way: which request it carries, when it arrives after the one before, and from which port.
type journey struct {
	request int
	after   time.Duration
	port    uint16
}

// TestNoNetworkHasARequestDoneTwice has a network lose, double and reorder packets as it likes. All copies of a request
// arrive within the time that its id is known for.
func TestNoNetworkHasARequestDoneTwice(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		requests := rapid.IntRange(1, 24).Draw(rt, "requests")
		journeys := rapid.SliceOfN(rapid.Custom(func(rt *rapid.T) journey {
			return journey{
				request: rapid.IntRange(0, requests-1).Draw(rt, "request"),
				after:   time.Duration(rapid.IntRange(0, 150).Draw(rt, "ms")) * time.Millisecond,
				port:    uint16(rapid.IntRange(9000, 9006).Draw(rt, "port")),
			}
		}), 1, 60).Draw(rt, "journeys")
		takes := time.Duration(rapid.IntRange(0, 800).Draw(rt, "takes")) * time.Millisecond
		if wrong := travel(t, requests, journeys, takes); len(wrong) > 0 {
			rt.Fatal(wrong)
		}
	})
}

// sentRequest gives the request of a number: whose it is, and a want that no other has, but for holds. Two senders
// use the same ids.
func sentRequest(n int) (from netip.Addr, m osc.Message) {
	from = []netip.Addr{tablet.Addr(), pedal.Addr()}[n%2]
	id := int32(n / 2)
	if n%5 == 4 {
		return from, osc.Message{Address: "/deskhand/hold", Arguments: []any{id, true}}
	}
	return from, osc.Message{Address: "/deskhand/swap", Arguments: []any{id, "lectern", fmt.Sprintf("performer %d", n)}}
}

// travel delivers the packets and gives what went wrong.
func travel(t *testing.T, requests int, journeys []journey, takes time.Duration) (wrong []string) {
	fault := func(format string, details ...any) { wrong = append(wrong, fmt.Sprintf(format, details...)) }
	d := &doer{takes: always(takes)}
	copies := make([]int, requests)
	served(t, d, func(b *bench) {
		for _, j := range journeys {
			time.Sleep(j.after)
			from, m := sentRequest(j.request)
			b.send(netip.AddrPortFrom(from, j.port), m.Address, m.Arguments...)
			copies[j.request]++
		}
		time.Sleep(time.Minute)
		synctest.Wait()
		heard := b.answers()
		holds := 0
		for n, sent := range copies {
			from, m := sentRequest(n)
			a := answersTo(heard, from, m.Arguments[0])
			if a.all() < sent {
				fault("request %d came %d times and got %d answers", n, sent, a.all())
			}
			if sent > 0 && m.Address == "/deskhand/hold" {
				holds++
				if a.done != sent {
					fault("hold %d came %d times and got done %d times", n, sent, a.done)
				}
				continue
			}
			times := 0
			for _, ask := range d.deeds() {
				if ask == (AskSwap{Position: "lectern", Performer: fmt.Sprintf("performer %d", n)}) {
					times++
				}
			}
			if want := min(a.taken, 1); times != want {
				fault("request %d, taken %d times, was done %d times, want %d", n, a.taken, times, want)
			}
			if a.done == 0 && a.taken > 0 {
				fault("request %d was taken and never answered", n)
			}
			if sent > 0 && a.taken == 0 && a.busy != sent {
				fault("request %d came %d times, was not done, and was refused %d times", n, sent, a.busy)
			}
		}
		if len(d.holds) != holds {
			fault("held %d times, want %d", len(d.holds), holds)
		}
	})
	return wrong
}

// answered counts the answers to one request.
type answered struct{ taken, done, busy, other int }

func (a answered) all() int { return a.taken + a.done + a.busy + a.other }

func answersTo(heard []sent, sender netip.Addr, id any) (a answered) {
	for _, s := range heard {
		switch {
		case s.to.Addr() != sender || s.message.Arguments[0] != id:
		case s.message.Address == "/deskhand/taken":
			a.taken++
		case s.message.Address == "/deskhand/done":
			a.done++
		case s.message.Address == "/deskhand/failed" && s.message.Arguments[1] == "busy":
			a.busy++
		default:
			a.other++
		}
	}
	return a
}
