package osc

import (
	"context"
	"errors"
	"fmt"
	"net"
	"sync"
	"sync/atomic"
	"time"
)

// TCPOptions say how to speak to a desk over TCP. Framing must be given; the rest may be left out.
type TCPOptions struct {
	Framing Framing
	// Greeting is sent first on every connection, before anything else and in one go.
	Greeting []Message
	// Alive is sent again and again, every AliveEvery, so that the desk keeps the link open; not at all if that is 0.
	Alive      Message
	AliveEvery time.Duration
	// Patience is how long to try to connect again after the link broke; default 3 s, and less than 0 means not at all.
	// A desk whose connections break before it has said anything on them, and sooner than this, is not waited for
	// any longer in all. DialTCP waits as long for its first connection.
	Patience time.Duration
	// Stall is how long the desk may take to accept a packet, and to go on with a packet that it has begun to send;
	// default 1 s. Then the connection counts as broken.
	Stall time.Duration
}

const (
	defaultPatience = 3 * time.Second
	defaultStall    = time.Second
)

func (o TCPOptions) withDefaults() TCPOptions {
	if o.Patience == 0 {
		o.Patience = defaultPatience
	}
	o.Stall = positiveOr(o.Stall, defaultStall)
	return o
}

// TCP is a link over one connection at a time. When that breaks, the Receive that waits connects again and sends the
// greeting again; what was under way is lost, and so is what is sent meanwhile, as on UDP. Broken tells that it happened.
//
// One goroutine at a time may call Receive, and one should always be in it, as nothing else mends the link. The other
// methods may be called from several.
type TCP struct {
	desk     string
	options  TCPOptions
	greeting []byte // framed
	alive    []byte
	dial     func(context.Context) (net.Conn, error)
	life     context.Context // ends with Close
	end      context.CancelFunc
	keeper   sync.WaitGroup
	spoilt   atomic.Uint64

	writing sync.Mutex // held while a frame is written
	frame   []byte     // reused from one to the next

	mu     sync.Mutex // for all below, and never held while waiting
	conn   net.Conn   // nil when broken or over
	lost   error      // why the latest connection broke
	over   error      // why there will be no other
	broken uint64

	// Receive's own.
	stream  *stream
	trouble mending
	scratch []byte // for a buffer that is shorter than a packet can be
}

var _ Link = (*TCP)(nil)

// DialTCP connects to a desk, given as HOST:PORT, and sends the greeting. It tries once; the context and Patience limit
// that, and afterwards the context does not matter any more. If there is something to keep the link open with, it starts
// one goroutine, which Close ends.
func DialTCP(ctx context.Context, desk string, o TCPOptions) (*TCP, error) {
	to, err := resolve(ctx, desk)
	if err != nil {
		return nil, err
	}
	// The system asks a desk that says nothing whether it is still there, so that one that was switched off is noticed.
	dialler := net.Dialer{KeepAliveConfig: net.KeepAliveConfig{Enable: true, Idle: 5 * time.Second, Interval: 2 * time.Second, Count: 3}}
	return openTCP(ctx, to.String(), o, func(ctx context.Context) (net.Conn, error) {
		return dialler.DialContext(ctx, "tcp", to.String())
	})
}

// openTCP makes a link over the connections that dial gives.
func openTCP(ctx context.Context, desk string, o TCPOptions, dial func(context.Context) (net.Conn, error)) (*TCP, error) {
	t := &TCP{desk: desk, options: o.withDefaults(), dial: dial}
	if err := t.prepare(); err != nil {
		return nil, err
	}
	patience := t.options.Patience
	if patience < 0 {
		patience = defaultPatience
	}
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	t.life, t.end = context.WithCancel(context.Background())
	if err := t.connect(ctx); err != nil {
		t.end()
		return nil, fmt.Errorf("desk %s: %w; %s", desk, err, advice(err, o.Framing))
	}
	if t.options.AliveEvery > 0 {
		t.keeper.Go(t.keepAlive)
	}
	return t, nil
}

// prepare frames what will be sent without being asked for.
func (t *TCP) prepare() error {
	o := t.options
	if o.Framing != Slip && o.Framing != Sized {
		return fmt.Errorf("desk %s: say how it tells packets apart on TCP: with SLIP (OSC 1.1) or with sizes (OSC 1.0)", t.desk)
	}
	for _, m := range o.Greeting {
		packet, err := m.Encode()
		if err != nil {
			return fmt.Errorf("greeting for desk %s: %w", t.desk, err)
		}
		t.greeting = AppendFrame(t.greeting, packet, o.Framing)
	}
	if o.AliveEvery <= 0 {
		return nil
	}
	var err error
	if t.alive, err = o.Alive.Encode(); err != nil {
		return fmt.Errorf("message that keeps the link to desk %s open: %w", t.desk, err)
	}
	return nil
}

// keepAlive repeats a message until the link is over.
func (t *TCP) keepAlive() {
	ticker := time.NewTicker(t.options.AliveEvery)
	defer ticker.Stop()
	for {
		select {
		case <-ticker.C:
		case <-t.life.Done():
			return
		}
		if t.Send(t.alive) != nil {
			return
		}
	}
}

// Send sends one packet. While the link is broken and may still be mended, the packet counts as lost on the way. It is an
// error once there is nothing to wait for, and for a packet that no OSC packet is like: empty, longer than MaxPacket, or
// no multiple of 4 bytes long.
func (t *TCP) Send(packet []byte) error {
	if n := len(packet); n == 0 || n > MaxPacket || n%4 != 0 {
		return fmt.Errorf("packet of %d bytes can't be sent: OSC packets are multiples of 4 bytes, from 4 to %d", n, MaxPacket)
	}
	t.writing.Lock()
	defer t.writing.Unlock()
	conn, err := t.current()
	if conn == nil {
		return err
	}
	t.frame = AppendFrame(t.frame[:0], packet, t.options.Framing)
	if err := t.write(conn, t.frame); err != nil {
		_, err = t.current()
		return err
	}
	return nil
}

// write writes whole frames, or drops the connection: what follows a part of a frame could not be read.
func (t *TCP) write(conn net.Conn, frames []byte) error {
	err := conn.SetWriteDeadline(time.Now().Add(t.options.Stall))
	if err == nil {
		_, err = conn.Write(frames)
	}
	if err != nil {
		err = writeError(err, t.options.Stall)
		t.drop(conn, err)
	}
	return err
}

// current gives the connection, or none if it is broken, and an error if there will be no other.
func (t *TCP) current() (net.Conn, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.conn, t.over
}

// drop ends a connection that is of no use any more, unless that was done already.
func (t *TCP) drop(conn net.Conn, why error) {
	t.mu.Lock()
	if t.conn == conn {
		t.conn, t.lost = nil, why
		t.broken++
	}
	t.mu.Unlock()
	_ = conn.Close()
}

// Receive waits for a packet from the desk, and mends the link when it breaks. What doesn't fit into the buffer is cut
// off. Its error says what happened to the link and what to do; after Close it is net.ErrClosed.
func (t *TCP) Receive(buffer []byte) (int, error) {
	if len(buffer) >= MaxPacket {
		return t.receive(buffer)
	}
	if t.scratch == nil {
		t.scratch = make([]byte, MaxPacket)
	}
	n, err := t.receive(t.scratch)
	return copy(buffer, t.scratch[:n]), err
}

func (t *TCP) receive(buffer []byte) (int, error) {
	for {
		if _, err := t.current(); err != nil {
			return 0, err
		}
		n, err := t.stream.next(buffer)
		if err == nil {
			t.trouble = mending{}
			return n, nil
		}
		t.drop(t.stream.conn, err)
		if err := t.mend(); err != nil {
			return 0, err
		}
	}
}

// Broken counts how often the link broke. If it grew meanwhile, packets were lost, and the desk may have been restarted.
func (t *TCP) Broken() uint64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.broken
}

// Spoilt counts the packets from the desk that were left out because of a wrong SLIP escape.
func (t *TCP) Spoilt() uint64 { return t.spoilt.Load() }

// Close ends the link, and whatever waits in Send or Receive. Closing it again is no error.
func (t *TCP) Close() error {
	t.mu.Lock()
	conn := t.conn
	t.conn, t.over = nil, net.ErrClosed
	t.mu.Unlock()
	t.end()
	var err error
	if conn != nil {
		err = conn.Close()
	}
	t.keeper.Wait()
	if errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}
