package mockdesk

import (
	"net"
	"net/netip"
	"sync"

	"deskhand/osc"
)

// maxOnCable bounds the packets that wait at one end of a cable; more are lost.
const maxOnCable = 1 << 12

// deskEnd is where the desk is at the end of a cable, and firstEnd the other end of the first;
// those of others are at the addresses that follow: a desk may answer to another port than it
// was asked from. Nothing listens there.
var (
	deskEnd  = netip.MustParseAddrPort("127.0.0.1:1")
	firstEnd = netip.MustParseAddrPort("127.0.0.2:1")
)

// Cable joins a program and a mock desk in memory: a link for the one, a socket for
// the other. It loses nothing and takes no time, and the system has no part in it, so
// that a rehearsal over it may run on a clock of its own (testing/synctest).
func Cable() (osc.Link, Socket) {
	links, socket := Cables(1)
	return links[0], socket
}

// Cables is Cable for several programs at one desk.
func Cables(programs int) ([]osc.Link, Socket) {
	s := &cableSocket{in: newPipe(), out: make(map[netip.Addr]*pipe)}
	links, end := make([]osc.Link, programs), firstEnd
	for i := range links {
		back := newPipe()
		links[i], s.out[end.Addr()] = &cableLink{end: end, out: s.in, in: back}, back
		end = netip.AddrPortFrom(end.Addr().Next(), end.Port())
	}
	return links, s
}

// pipe carries packets one way.
type pipe struct {
	packets chan arrival
	cut     chan struct{} // closed when nobody reads any more
	once    sync.Once
}

func newPipe() *pipe {
	return &pipe{packets: make(chan arrival, maxOnCable), cut: make(chan struct{})}
}

func (p *pipe) put(packet []byte, from netip.AddrPort) {
	select {
	case p.packets <- arrival{packet: append([]byte(nil), packet...), peer: from}:
	default: // a full queue loses packets on a real network, too
	}
}

func (p *pipe) take(buffer []byte) (int, netip.AddrPort, error) {
	select {
	case <-p.cut:
		return 0, netip.AddrPort{}, net.ErrClosed
	case a := <-p.packets:
		return copy(buffer, a.packet), a.peer, nil
	}
}

func (p *pipe) close() error {
	p.once.Do(func() { close(p.cut) })
	return nil
}

type cableLink struct {
	end     netip.AddrPort
	in, out *pipe
}

func (l *cableLink) Send(packet []byte) error { l.out.put(packet, l.end); return nil }
func (l *cableLink) Receive(buffer []byte) (int, error) {
	n, _, err := l.in.take(buffer)
	return n, err
}
func (l *cableLink) Close() error { return l.in.close() }

type cableSocket struct {
	in  *pipe
	out map[netip.Addr]*pipe // by the ends that they lead to
}

func (s *cableSocket) ReadFromUDPAddrPort(packet []byte) (int, netip.AddrPort, error) {
	return s.in.take(packet)
}

func (s *cableSocket) WriteToUDPAddrPort(packet []byte, to netip.AddrPort) (int, error) {
	if out, ok := s.out[to.Addr()]; ok {
		out.put(packet, deskEnd)
	}
	return len(packet), nil
}

func (s *cableSocket) LocalAddr() net.Addr { return net.UDPAddrFromAddrPort(deskEnd) }
func (s *cableSocket) Close() error        { return s.in.close() }
