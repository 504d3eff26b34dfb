package mockdesk

import (
	"net"
	"net/netip"
	"sync"

	"deskhand/osc"
)

// maxOnCable bounds the packets that wait at one end of a cable; more are lost.
const maxOnCable = 1 << 12

// The addresses that the two ends of a cable give each other. Nothing listens there.
var (
	deskEnd  = net.UDPAddrFromAddrPort(netip.MustParseAddrPort("127.0.0.1:2"))
	otherEnd = netip.MustParseAddrPort("127.0.0.1:1")
)

// Cable joins a program and a mock desk in memory: a link for the one, a socket for
// the other. It loses nothing and takes no time, and the system has no part in it, so
// that a rehearsal over it may run on a clock of its own (testing/synctest).
func Cable() (osc.Link, Socket) {
	toDesk, back := newPipe(), newPipe()
	return &cableLink{out: toDesk, in: back}, &cableSocket{in: toDesk, out: back}
}

// pipe carries packets one way.
type pipe struct {
	packets chan []byte
	cut     chan struct{} // closed when nobody reads any more
	once    sync.Once
}

func newPipe() *pipe {
	return &pipe{packets: make(chan []byte, maxOnCable), cut: make(chan struct{})}
}

func (p *pipe) put(packet []byte) {
	select {
	case p.packets <- append([]byte(nil), packet...):
	default: // a full queue loses packets on a real network, too
	}
}

func (p *pipe) take(buffer []byte) (int, error) {
	select {
	case <-p.cut:
		return 0, net.ErrClosed
	case packet := <-p.packets:
		return copy(buffer, packet), nil
	}
}

func (p *pipe) close() error {
	p.once.Do(func() { close(p.cut) })
	return nil
}

type cableLink struct{ in, out *pipe }

func (l *cableLink) Send(packet []byte) error           { l.out.put(packet); return nil }
func (l *cableLink) Receive(buffer []byte) (int, error) { return l.in.take(buffer) }
func (l *cableLink) Close() error                       { return l.in.close() }

type cableSocket struct{ in, out *pipe }

func (s *cableSocket) ReadFromUDPAddrPort(packet []byte) (int, netip.AddrPort, error) {
	n, err := s.in.take(packet)
	return n, otherEnd, err
}

func (s *cableSocket) WriteToUDPAddrPort(packet []byte, _ netip.AddrPort) (int, error) {
	s.out.put(packet)
	return len(packet), nil
}

func (s *cableSocket) LocalAddr() net.Addr { return deskEnd }
func (s *cableSocket) Close() error        { return s.in.close() }
