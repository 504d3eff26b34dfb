package osc

import (
	"context"
	"fmt"
	"net"
	"time"
)

// Pauses before connecting again: the first, and what they grow to by doubling.
const (
	firstPause   = 50 * time.Millisecond
	longestPause = 500 * time.Millisecond
)

// mending is a time of trouble, in which the link keeps breaking. It is over when a packet arrives, or when a connection
// has stood for longer than the patience lasts.
type mending struct {
	since time.Time // zero if there is none
	pause time.Duration
	first error     // why the link broke at first
	last  error     // what went wrong last
	made  time.Time // when the latest connection was made
}

// mend makes the link anew: it tries, with growing pauses, until the patience is over.
func (t *TCP) mend() error {
	t.begin()
	until := t.trouble.since.Add(t.options.Patience)
	ctx, cancel := context.WithDeadline(t.life, until)
	defer cancel()
	for {
		if err := t.pauseUntil(until); err != nil {
			return err
		}
		err := t.connect(ctx)
		if err == nil {
			t.trouble.made = time.Now()
			return nil
		}
		t.trouble.last = err
	}
}

// begin notes that the link broke: into new trouble, or deeper into the old.
func (t *TCP) begin() {
	t.mu.Lock()
	lost := t.lost
	t.mu.Unlock()
	now := time.Now()
	if t.trouble.since.IsZero() || now.Sub(t.trouble.made) > t.options.Patience {
		t.trouble = mending{since: now, pause: firstPause, first: lost}
	}
	t.trouble.last = lost
}

// pauseUntil waits before the next try. If there is no time left for one, the link is over.
func (t *TCP) pauseUntil(until time.Time) error {
	pause := t.trouble.pause
	t.trouble.pause = min(2*pause, longestPause)
	if !time.Now().Add(pause).Before(until) {
		return t.giveUp()
	}
	timer := time.NewTimer(pause)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-t.life.Done():
		return net.ErrClosed
	}
}

// giveUp ends the link for good and gives what Receive and Send report from now on.
func (t *TCP) giveUp() error {
	err := fmt.Errorf("desk %s: the link broke: %w", t.desk, t.trouble.first)
	if t.options.Patience > 0 {
		err = fmt.Errorf("%w; tried for %v to mend it, and at last: %w", err, t.options.Patience, t.trouble.last)
	}
	err = fmt.Errorf("%w; %s", err, advice(t.trouble.last, t.options.Framing))
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.over == nil {
		t.over = err
	}
	return t.over
}

// connect makes a connection and sends the greeting. Nothing else can be sent before.
func (t *TCP) connect(ctx context.Context) error {
	conn, err := t.dial(ctx)
	if err != nil {
		return dialError(err)
	}
	t.writing.Lock()
	defer t.writing.Unlock()
	if err := t.adopt(conn); err != nil {
		_ = conn.Close()
		return err
	}
	if len(t.greeting) > 0 {
		if err := t.write(conn, t.greeting); err != nil {
			return err
		}
	}
	t.stream = newStream(conn, t.options.Framing, t.options.Stall, func(n uint64) { t.spoilt.Add(n) })
	return nil
}

func (t *TCP) adopt(conn net.Conn) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.over != nil {
		return t.over
	}
	t.conn = conn
	return nil
}
