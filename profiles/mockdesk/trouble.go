package mockdesk

import (
	"math/rand/v2"
	"sync"
	"time"
)

// Trouble is how badly the network and the desk behave. The same seed and the same
// packets in the same order give the same trouble.
type Trouble struct {
	Seed uint64
	// In is the way to the desk, Out the way back.
	In, Out Way
	// Rate is how many messages a second the desk takes out of its queue, 0 for no
	// limit; Queue is how many packets can wait there before it drops the rest, as
	// real desks do, 0 for a queue so long that it is never full.
	Rate  float64
	Queue int
}

// Way is what happens to packets in one direction. The shares are of 0..1.
type Way struct {
	// Lose and Double are the shares of packets lost and sent twice.
	Lose, Double float64
	// Reorder is the share held back for a moment, so that later ones overtake.
	Reorder float64
	// Delay is the longest time under way; each packet takes its own part of it.
	Delay time.Duration
}

// The limits of what is under way.
const (
	// holdBack is the longest that a packet is held back to be overtaken.
	holdBack = 20 * time.Millisecond
	// maxUnderWay bounds the packets that are late at a time; more are lost.
	maxUnderWay = 1 << 14
)

// way carries packets to deliver, with their trouble.
type way struct {
	deliver func(arrival)

	mu     sync.Mutex
	rng    *rand.Rand
	how    Way
	closed bool
	late   map[*time.Timer]struct{}
	inHand sync.WaitGroup // the late ones
}

// stream is the second half of each generator's seed; any number would do.
const stream = 0x5eaf00d

func newWay(how Way, seed uint64, deliver func(arrival)) *way {
	return &way{how: how, deliver: deliver, rng: rand.New(rand.NewPCG(seed, stream)), late: make(map[*time.Timer]struct{})}
}

func (w *way) set(how Way) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.how = how
}

// pass sends a packet on its way. What isn't late is delivered before it returns.
func (w *way) pass(a arrival) {
	if w.isClear() {
		w.deliver(a)
		return
	}
	for _, delay := range w.fates() {
		if delay <= 0 {
			w.deliver(a)
			continue
		}
		w.later(a, delay)
	}
}

// isClear reports whether nothing can happen to a packet.
func (w *way) isClear() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.how == Way{}
}

// fates gives a delay for each copy of the next packet that arrives at all.
func (w *way) fates() []time.Duration {
	w.mu.Lock()
	defer w.mu.Unlock()
	copies := 1
	switch {
	case w.rng.Float64() < w.how.Lose:
		copies = 0
	case w.rng.Float64() < w.how.Double:
		copies = 2
	}
	delays := make([]time.Duration, copies)
	for i := range delays {
		delays[i] = time.Duration(w.rng.Float64() * float64(w.how.Delay))
		if w.rng.Float64() < w.how.Reorder {
			delays[i] += time.Duration(w.rng.Float64() * float64(holdBack))
		}
	}
	return delays
}

// later delivers a packet after a delay, unless the way is closed before.
func (w *way) later(a arrival, delay time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed || len(w.late) >= maxUnderWay {
		return
	}
	w.inHand.Add(1)
	var timer *time.Timer
	timer = time.AfterFunc(delay, func() {
		defer w.inHand.Done()
		w.mu.Lock() // which also waits until timer is set
		delete(w.late, timer)
		closed := w.closed
		w.mu.Unlock()
		if !closed {
			w.deliver(a)
		}
	})
	w.late[timer] = struct{}{}
}

// close drops what is still under way and waits for what is being delivered.
func (w *way) close() {
	w.mu.Lock()
	w.closed = true
	for timer := range w.late {
		if timer.Stop() {
			w.inHand.Done()
		}
	}
	clear(w.late)
	w.mu.Unlock()
	w.inHand.Wait()
}
