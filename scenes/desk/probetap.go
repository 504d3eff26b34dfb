package desk

import (
	"sync"
	"time"

	"deskhand/osc"
)

// mostHeard bounds the messages that wait to be looked at; more are dropped.
const mostHeard = 4096

// hearing is a message from the desk, and when it came.
type hearing struct {
	osc.Heard
	at time.Time
}

// tap is a link that notes what comes over it, also what nobody understands.
type tap struct {
	osc.Link
	wake  chan struct{} // filled when something came
	ended chan struct{} // closed when nothing will come any more

	mu       sync.Mutex
	heard    []hearing
	lastSent time.Time
	sent     int
}

func newTap(link osc.Link) *tap {
	return &tap{Link: link, wake: make(chan struct{}, 1), ended: make(chan struct{})}
}

func (t *tap) Send(packet []byte) error {
	t.mu.Lock()
	t.lastSent = time.Now()
	t.sent++
	t.mu.Unlock()
	return t.Link.Send(packet)
}

func (t *tap) Receive(buffer []byte) (int, error) {
	n, err := t.Link.Receive(buffer)
	if err != nil {
		close(t.ended) // the one who reads stops with the first error
		return n, err
	}
	messages, _ := osc.Decode(buffer[:n]) // who reads counts what is no OSC
	t.mu.Lock()
	now := time.Now()
	for _, m := range messages {
		if len(t.heard) < mostHeard {
			t.heard = append(t.heard, hearing{m, now})
		}
	}
	t.mu.Unlock()
	select {
	case t.wake <- struct{}{}:
	default:
	}
	return n, nil
}

// take gives what came since the last time.
func (t *tap) take() []hearing {
	t.mu.Lock()
	defer t.mu.Unlock()
	heard := t.heard
	t.heard = nil
	return heard
}

// last is when something was last sent.
func (t *tap) last() time.Time {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.lastSent
}

// total counts what was sent.
func (t *tap) total() int {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.sent
}
