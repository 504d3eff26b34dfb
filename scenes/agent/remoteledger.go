package agent

import (
	"fmt"
	"net/netip"
	"slices"
	"time"
)

// Bounds of what is remembered of requests.
const (
	// rememberedFor is how long an id is known after its answer. No packet is under way for as long, so what comes with it
	// meanwhile is the same request once more. After that it may be used anew, as a sender does that has restarted.
	rememberedFor = 10 * time.Second
	// mostIDs are known at a time, and mostOfOne of them from one address.
	mostIDs   = 1024
	mostOfOne = 128
	// mostAskers is from how many ports one request may be asked again before it is answered.
	mostAskers = 4
)

// remoteMark is what a request is known by. A sender is an address without a port, as many programs open a new one for each
// packet.
type remoteMark struct {
	sender netip.Addr
	id     remoteID
}

// ledgerEntry is a request that was taken, and then its answer.
type ledgerEntry struct {
	remoteMark
	want   fmt.Stringer
	askers []netip.AddrPort // whom to answer, the latest last
	answer []byte           // nil until there is one
	since  time.Time        // when it was answered
	before uint64           // how many absences there were when it came
}

func (e *ledgerEntry) askedBy(asker netip.AddrPort) {
	e.askers = slices.DeleteFunc(e.askers, func(a netip.AddrPort) bool { return a == asker })
	if len(e.askers) == mostAskers {
		e.askers = e.askers[1:]
	}
	e.askers = append(e.askers, asker)
}

// ledger remembers requests, so that none is done twice. One that has no answer yet is never forgotten.
type ledger struct {
	known    map[remoteMark]*ledgerEntry
	answered []*ledgerEntry // earliest first
	of       map[netip.Addr]int
}

func newLedger() *ledger {
	return &ledger{known: make(map[remoteMark]*ledgerEntry), of: make(map[netip.Addr]int)}
}

// find gives what is remembered of a request, nil where it is new.
func (l *ledger) find(m remoteMark, now time.Time) *ledgerEntry {
	for len(l.answered) > 0 && now.Sub(l.answered[0].since) >= rememberedFor {
		l.forget(l.answered[0])
		l.answered[0] = nil
		l.answered = l.answered[1:]
	}
	return l.known[m]
}

func (l *ledger) forget(e *ledgerEntry) {
	delete(l.known, e.remoteMark)
	if l.of[e.sender]--; l.of[e.sender] == 0 {
		delete(l.of, e.sender)
	}
}

// hasRoom reports whether one more request of a sender can be remembered. One that can't must not be done, as it could
// be done twice.
func (l *ledger) hasRoom(sender netip.Addr) bool {
	return len(l.known) < mostIDs && l.of[sender] < mostOfOne
}

func (l *ledger) add(e *ledgerEntry) {
	l.known[e.remoteMark] = e
	l.of[e.sender]++
}

// settle notes the answer to a request that was added.
func (l *ledger) settle(e *ledgerEntry, answer []byte, now time.Time) {
	e.answer, e.since = answer, now
	l.answered = append(l.answered, e)
}
