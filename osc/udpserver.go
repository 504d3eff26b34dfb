package osc

import (
	"errors"
	"fmt"
	"net"
	"net/netip"
	"sync/atomic"
	"syscall"
)

// UDPServer is a socket that many may ask, each answered at the address that its question came from. [UDP] is the
// other side: one that asks one desk.
type UDPServer struct {
	conn      *net.UDPConn
	listed    func(netip.Addr) bool
	strangers atomic.Uint64
}

// ListenUDP opens a socket at an address of this machine, given as ADDRESS:PORT; port 0 takes a free one. The address
// must be said: 0.0.0.0 and [::] mean all networks that this machine is in. Only packets whose sender is listed are
// received. The function is asked once for each packet, by whoever calls Receive, and gets IPv4 addresses as such.
func ListenUDP(local string, listed func(netip.Addr) bool) (*UDPServer, error) {
	at, err := netip.ParseAddrPort(local)
	if err != nil {
		return nil, fmt.Errorf("address to listen at %q: give an IP address of this machine and a port, such as 192.168.1.5:9100 (0.0.0.0:9100 listens in all its networks)", local)
	}
	// The network is said as well, as 0.0.0.0 would otherwise take IPv6, too.
	network := "udp6"
	if at = netip.AddrPortFrom(at.Addr().Unmap(), at.Port()); at.Addr().Is4() {
		network = "udp4"
	}
	conn, err := net.ListenUDP(network, net.UDPAddrFromAddrPort(at))
	if err != nil {
		return nil, listenError(at, err)
	}
	// A smaller buffer than asked for only means that more is lost in a flood.
	_ = conn.SetReadBuffer(DefaultReadBuffer)
	return &UDPServer{conn: conn, listed: listed}, nil
}

// Receive waits for a packet from a listed sender, copies it into the buffer, and gives its length and where it came
// from. What doesn't fit is cut off. Other packets are dropped and counted, without a look at what is in them. An error
// means that nothing will ever come again; after Close it is net.ErrClosed (errors.Is).
func (s *UDPServer) Receive(buffer []byte) (int, netip.AddrPort, error) {
	for {
		n, from, err := s.conn.ReadFromUDPAddrPort(buffer)
		passing := err != nil && !isOneOf(err, windowsTooLong)
		switch {
		case passing && !isPassing(err):
			return 0, netip.AddrPort{}, err
		case passing:
		case s.listed(from.Addr().Unmap()):
			return n, netip.AddrPortFrom(from.Addr().Unmap(), from.Port()), nil
		default:
			s.strangers.Add(1)
		}
	}
}

// Send sends one packet to whoever asked. That it succeeds does not say that it arrives.
func (s *UDPServer) Send(packet []byte, to netip.AddrPort) error {
	_, err := s.conn.WriteToUDPAddrPort(packet, to)
	if isEcho(err) {
		// The error told of an earlier packet, and this one has not gone out.
		_, err = s.conn.WriteToUDPAddrPort(packet, to)
	}
	if err == nil || isEcho(err) || isOneOf(err, syscall.ENOBUFS, windowsNoBuffers) {
		return nil
	}
	return fmt.Errorf("answer to %s: %w", to, err)
}

// Strangers counts the packets that were dropped because their sender isn't listed.
func (s *UDPServer) Strangers() uint64 { return s.strangers.Load() }

// LocalAddr is where it listens.
func (s *UDPServer) LocalAddr() net.Addr { return s.conn.LocalAddr() }

// Close ends it, and a Receive that waits. Closing it again is no error.
func (s *UDPServer) Close() error {
	err := s.conn.Close()
	if errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}
