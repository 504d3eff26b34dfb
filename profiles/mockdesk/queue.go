package mockdesk

import (
	"context"
	"errors"
	"net"
	"net/netip"
	"time"

	"golang.org/x/time/rate"
)

// maxQueue bounds the packets that wait, whatever length of queue is asked for.
const maxQueue = 1 << 14

// arrival is a packet and where it came from, or on its way out, where it goes.
type arrival struct {
	packet []byte
	peer   netip.AddrPort
}

// setPace takes over the trouble that the desk itself makes.
func (d *Desk) setPace(t Trouble) {
	d.longest = maxQueue
	if t.Queue > 0 {
		d.longest = min(t.Queue, maxQueue)
	}
	d.limiter = rate.NewLimiter(rate.Inf, 1)
	if t.Rate > 0 {
		d.limiter = rate.NewLimiter(rate.Limit(t.Rate), 1)
	}
	close(d.repaced)
	d.repaced = make(chan struct{})
}

// listen takes packets off the socket until it is closed.
func (d *Desk) listen() {
	buffer := make([]byte, 1<<16)
	for {
		n, from, err := d.socket.ReadFromUDPAddrPort(buffer)
		switch {
		case errors.Is(err, net.ErrClosed):
			return
		case err != nil:
			continue // what the network says of one packet does not end a desk
		}
		d.in.pass(arrival{packet: append([]byte(nil), buffer[:n]...), peer: from})
	}
}

// enqueue puts a packet into the desk's queue, or drops it where the queue is full. A desk
// without a pace acts on it at once.
func (d *Desk) enqueue(a arrival) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.counts.Received++
	switch {
	case d.options.Now().Before(d.offUntil):
		d.counts.Missed++
		return
	case d.limiter.Limit() == rate.Inf && len(d.queue) == 0:
		d.take(a)
		return
	case len(d.queue) >= d.longest:
		d.counts.Overrun++
		return
	}
	d.queue = append(d.queue, a)
	select {
	case d.wake <- struct{}{}:
	default: // the desk has been woken already
	}
}

// work takes packets out of the queue at the desk's own pace. A packet stays in the
// queue, and counts for its length, until its turn has come.
func (d *Desk) work(ctx context.Context) {
	for d.waiting(ctx) && d.turn(ctx) {
		// A bundle is acted on at once; the turns of its further messages come after.
		for range d.takeNext() - 1 {
			if !d.turn(ctx) {
				return
			}
		}
	}
}

// waiting waits until a packet is in the queue.
func (d *Desk) waiting(ctx context.Context) bool {
	for {
		d.mu.Lock()
		some := len(d.queue) > 0
		d.mu.Unlock()
		if some {
			return ctx.Err() == nil
		}
		select {
		case <-d.wake:
		case <-ctx.Done():
			return false
		}
	}
}

// turn waits until the desk's pace lets it act on one more message.
func (d *Desk) turn(ctx context.Context) bool {
	for {
		d.mu.Lock()
		limiter, repaced := d.limiter, d.repaced
		d.mu.Unlock()
		turn := limiter.Reserve()
		if turn.Delay() == 0 {
			return true
		}
		timer := time.NewTimer(turn.Delay())
		select {
		case <-timer.C:
			return true
		case <-repaced: // begin again at the new pace
			timer.Stop()
		case <-ctx.Done():
			timer.Stop()
			return false
		}
	}
}
