package agent

import (
	"bytes"
	"context"
	"net"
	"net/netip"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"deskhand/osc"
)

// doer is a RemoteDoer that notes what it did. Each thing takes as long as it says.
type doer struct {
	takes func(Ask) time.Duration
	ends  func(Ask) (RemoteDone, error)

	mu    sync.Mutex
	did   []Ask
	holds []bool
	state RemoteState
	// absences are how often the computer has slept, and asSince what the last was asked for at.
	absences, asSince uint64
}

func (d *doer) Absences() uint64 {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.absences
}

func (d *doer) Do(ctx context.Context, ask Ask, absences uint64) (RemoteDone, error) {
	d.mu.Lock()
	d.did, d.asSince = append(d.did, ask), absences
	d.mu.Unlock()
	if d.takes != nil {
		select {
		case <-time.After(d.takes(ask)):
		case <-ctx.Done():
			return RemoteDone{}, &RemoteFailure{CodeBroken, "broke off: " + ask.String()}
		}
	}
	if d.ends != nil {
		return d.ends(ask)
	}
	return RemoteDone{Text: ask.String(), Confirmed: 7}, nil
}

func (d *doer) Hold(on bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.holds = append(d.holds, on)
	d.state.Hold = on
}

func (d *doer) State() RemoteState {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.state
}

func (d *doer) deeds() []Ask {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.Clone(d.did)
}

// wire is a network without sockets, for the time of a test bubble.
type wire struct {
	in     chan remotePacket
	closed chan struct{}
	once   sync.Once

	mu  sync.Mutex
	out []sent
}

type sent struct {
	message osc.Message
	packet  []byte
	to      netip.AddrPort
}

func newWire() *wire { return &wire{in: make(chan remotePacket), closed: make(chan struct{})} }

func (w *wire) Receive(buffer []byte) (int, netip.AddrPort, error) {
	select {
	case p := <-w.in:
		return copy(buffer, p.bytes), p.from, nil
	case <-w.closed:
		return 0, netip.AddrPort{}, net.ErrClosed
	}
}

func (w *wire) Send(packet []byte, to netip.AddrPort) error {
	heard, err := osc.Decode(packet)
	if err != nil {
		return err
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.out = append(w.out, sent{heard[0].Message, bytes.Clone(packet), to})
	return nil
}

func (w *wire) Strangers() uint64 { return 0 }

func (w *wire) Close() error {
	w.once.Do(func() { close(w.closed) })
	return nil
}

// answers gives what was sent since it was last asked for.
func (w *wire) answers() []sent {
	w.mu.Lock()
	defer w.mu.Unlock()
	out := w.out
	w.out = nil
	return out
}

// Where senders are.
var (
	tablet = netip.MustParseAddrPort("192.168.7.20:9000")
	pedal  = netip.MustParseAddrPort("192.168.7.21:9000")
)

// bench is a Remote at work in a test bubble.
type bench struct {
	*testing.T
	*wire
	remote *Remote
	cancel context.CancelFunc
	ended  chan error
}

// served runs a test in a bubble, with a Remote at work that ends with it.
func served(t *testing.T, d *doer, test func(b *bench)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		b := &bench{T: t, wire: newWire(), cancel: cancel, ended: make(chan error, 1)}
		b.remote = newRemote(b.wire, d, func(err error) { t.Error(err) })
		go func() { b.ended <- b.remote.Serve(ctx) }()
		test(b)
		cancel()
		if err := <-b.ended; err != nil {
			t.Error(err)
		}
	})
}

// end ends the Remote early, and gives what Serve returned.
func (b *bench) end() error {
	b.cancel()
	err := <-b.ended
	b.ended <- nil
	return err
}

// send delivers a request.
func (b *bench) send(from netip.AddrPort, address string, arguments ...any) {
	b.Helper()
	packet, err := osc.Message{Address: address, Arguments: arguments}.Encode()
	if err != nil {
		b.Fatal(err)
	}
	b.deliver(from, packet)
}

func (b *bench) deliver(from netip.AddrPort, packet []byte) {
	b.in <- remotePacket{packet, from}
	synctest.Wait()
}

// told gives the answers since it was last asked, in words.
func (b *bench) told() []string {
	synctest.Wait()
	var lines []string
	for _, s := range b.answers() {
		lines = append(lines, s.message.String())
	}
	return lines
}

// expect holds the answers since it was last asked against what they should be.
func (b *bench) expect(want ...string) {
	b.Helper()
	if got := b.told(); !slices.Equal(got, want) {
		b.Errorf("answers:\n%q\nwant\n%q", got, want)
	}
}

func always(d time.Duration) func(Ask) time.Duration { return func(Ask) time.Duration { return d } }
