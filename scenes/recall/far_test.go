package recall_test

import (
	"net"
	"sync"
	"time"

	"deskhand/osc"
)

// farLink is a link to a desk that is away: each packet takes the same time, each way.
type farLink struct {
	osc.Link
	away time.Duration

	out, in chan onTheWay
	closed  chan struct{}
	once    sync.Once
	done    sync.WaitGroup
}

// onTheWay is a packet and when it arrives.
type onTheWay struct {
	packet []byte
	at     time.Time
}

// far puts a desk that far away.
func far(link osc.Link, away time.Duration) *farLink {
	const many = 1 << 12 // packets under way
	l := &farLink{Link: link, away: away, out: make(chan onTheWay, many), in: make(chan onTheWay, many), closed: make(chan struct{})}
	l.done.Go(func() {
		for p, ok := l.arrived(l.out); ok; p, ok = l.arrived(l.out) {
			_ = link.Send(p)
		}
	})
	l.done.Go(func() {
		for {
			buffer := make([]byte, osc.MaxPacket)
			n, err := link.Receive(buffer)
			if err != nil {
				return
			}
			l.in <- onTheWay{buffer[:n], time.Now().Add(away)}
		}
	})
	return l
}

// arrived waits for the next packet of one way.
func (l *farLink) arrived(way chan onTheWay) ([]byte, bool) {
	select {
	case p := <-way:
		timer := time.NewTimer(time.Until(p.at))
		defer timer.Stop()
		select {
		case <-timer.C:
			return p.packet, true
		case <-l.closed:
		}
	case <-l.closed:
	}
	return nil, false
}

func (l *farLink) Send(packet []byte) error {
	l.out <- onTheWay{append([]byte(nil), packet...), time.Now().Add(l.away)}
	return nil
}

func (l *farLink) Receive(buffer []byte) (int, error) {
	packet, ok := l.arrived(l.in)
	if !ok {
		return 0, net.ErrClosed
	}
	return copy(buffer, packet), nil
}

func (l *farLink) Close() error {
	var err error
	l.once.Do(func() {
		close(l.closed)
		err = l.Link.Close()
		l.done.Wait()
	})
	return err
}
