package mockdesk

import (
	"bufio"
	"fmt"
	"net"
	"net/netip"
	"sync"
	"time"

	"deskhand/osc"
)

// streams is a Socket for a desk that is reached over TCP: every connection is a peer,
// known by its address. Packets in all of them come out of one queue.
type streams struct {
	listener net.Listener
	framing  osc.Framing
	packets  chan arrival
	closed   chan struct{}
	once     sync.Once
	done     sync.WaitGroup

	mu    sync.Mutex
	conns map[netip.AddrPort]net.Conn
}

func listenTCP(at string, framing osc.Framing) (*streams, error) {
	listener, err := net.Listen(family("tcp", at), at)
	if err != nil {
		return nil, fmt.Errorf("listen on %s: %w (is another one running there? choose another port)", at, err)
	}
	s := &streams{
		listener: listener, framing: framing,
		packets: make(chan arrival), closed: make(chan struct{}), conns: make(map[netip.AddrPort]net.Conn),
	}
	s.done.Go(s.accept)
	return s, nil
}

func (s *streams) accept() {
	for {
		conn, err := s.listener.Accept()
		if err != nil {
			return // the listener was closed
		}
		peer, err := netip.ParseAddrPort(conn.RemoteAddr().String())
		if err != nil || !s.keep(peer, conn) {
			_ = conn.Close()
			continue
		}
		s.done.Go(func() { s.read(peer, conn) })
	}
}

// The limits of connections.
const (
	// maxConnections bounds how many there are at a time; further ones are hung up on.
	maxConnections = 64
	// patience is how long a peer may take to accept a packet before it is hung up on.
	patience = time.Second
)

// keep notes a connection, unless there are too many or the socket is being closed.
func (s *streams) keep(peer netip.AddrPort, conn net.Conn) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	select {
	case <-s.closed:
		return false
	default:
	}
	if len(s.conns) >= maxConnections {
		return false
	}
	s.conns[peer] = conn
	return true
}

// read takes packets off one connection until it ends, or what comes is no frame.
func (s *streams) read(peer netip.AddrPort, conn net.Conn) {
	defer s.drop(peer, conn)
	frames := osc.NewFrameReader(bufio.NewReader(conn), s.framing)
	buffer := make([]byte, osc.MaxPacket)
	for {
		n, err := frames.Next(buffer)
		if err != nil {
			return
		}
		select {
		case s.packets <- arrival{packet: append([]byte(nil), buffer[:n]...), peer: peer}:
		case <-s.closed:
			return
		}
	}
}

func (s *streams) drop(peer netip.AddrPort, conn net.Conn) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.conns, peer)
	_ = conn.Close()
}

func (s *streams) ReadFromUDPAddrPort(packet []byte) (int, netip.AddrPort, error) {
	select {
	case a := <-s.packets:
		return copy(packet, a.packet), a.peer, nil
	case <-s.closed:
		return 0, netip.AddrPort{}, net.ErrClosed
	}
}

func (s *streams) WriteToUDPAddrPort(packet []byte, to netip.AddrPort) (int, error) {
	s.mu.Lock()
	conn, ok := s.conns[to]
	s.mu.Unlock()
	if !ok {
		return 0, net.ErrClosed
	}
	_ = conn.SetWriteDeadline(time.Now().Add(patience))
	n, err := conn.Write(osc.AppendFrame(nil, packet, s.framing))
	if err != nil {
		_ = conn.Close() // half a packet may be out: the stream is of no use any more
	}
	return n, err
}

// hangUp ends every connection, as when the desk is switched off.
func (s *streams) hangUp() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, conn := range s.conns {
		_ = conn.Close()
	}
}

func (s *streams) LocalAddr() net.Addr { return s.listener.Addr() }

// Close ends every connection and waits for what reads them.
func (s *streams) Close() error {
	err := net.ErrClosed
	s.once.Do(func() {
		s.mu.Lock()
		close(s.closed)
		s.mu.Unlock()
		s.hangUp()
		err = s.listener.Close()
	})
	s.done.Wait()
	return err
}
