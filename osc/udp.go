package osc

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
)

// DefaultReadBuffer is the receive buffer asked for if none is given, in bytes. It holds the answers of a whole desk
// read that come in one burst.
const DefaultReadBuffer = 4 << 20

// UDPOptions say how to reach a desk. The zero value suits most desks.
type UDPOptions struct {
	// Local is where to send from and listen: a port ("9001"), or an address of this machine and a port
	// ("192.168.1.5:9001"). Empty means any free port of the address that reaches the desk. A desk that always answers
	// to one fixed port needs that port here.
	Local string
	// ReadBuffer is the size of the receive buffer to ask for, in bytes; 0 means DefaultReadBuffer. The system may give
	// less, which is no error.
	ReadBuffer int
	// AnyPort takes answers from any port of the desk's address, for a desk that answers from another port than it
	// listens on.
	AnyPort bool
}

// UDP is a link over one socket, which both sends and listens: a desk answers to where a question came from. It is
// connected to the desk's address and port, so that the system drops what strangers send, and gives nobody who asks for
// the port an answer; but for a desk that answers from any port, where it is bound to the one address of this machine
// that reaches the desk, and strangers are dropped here.
type UDP struct {
	conn      *net.UDPConn
	desk      netip.AddrPort
	anyPort   bool
	strangers atomic.Uint64
}

var _ promptLink = (*UDP)(nil)

// DialUDP opens a link to a desk, given as HOST:PORT. Nothing is sent, so that it succeeds says nothing about the desk.
// The context limits the look-up of the host's name.
func DialUDP(ctx context.Context, desk string, o UDPOptions) (*UDP, error) {
	to, err := resolve(ctx, desk)
	if err != nil {
		return nil, err
	}
	from, err := localAddress(o.Local, to)
	if err != nil {
		return nil, err
	}
	conn, err := open(from, to, o.AnyPort)
	if err != nil {
		return nil, listenError(from, err)
	}
	size := o.ReadBuffer
	if size <= 0 {
		size = DefaultReadBuffer
	}
	// A smaller buffer than asked for only means that more questions are asked again.
	_ = conn.SetReadBuffer(size)
	return &UDP{conn: conn, desk: to, anyPort: o.AnyPort}, nil
}

// open opens the socket.
func open(from, to netip.AddrPort, anyPort bool) (*net.UDPConn, error) {
	if anyPort {
		return net.ListenUDP("udp", net.UDPAddrFromAddrPort(from))
	}
	return net.DialUDP("udp", net.UDPAddrFromAddrPort(from), net.UDPAddrFromAddrPort(to))
}

// resolve gives the address of a desk. IPv4 goes first, as that is what desks speak.
func resolve(ctx context.Context, desk string) (netip.AddrPort, error) {
	none := netip.AddrPort{}
	host, service, err := net.SplitHostPort(desk)
	if err != nil || host == "" {
		return none, fmt.Errorf("desk %q: give its address and OSC port, such as 192.168.1.20:9000", desk)
	}
	port, err := parsePort(service)
	if err != nil || port == 0 {
		return none, fmt.Errorf("desk %q: the port must be a number from 1 to 65535", desk)
	}
	found, err := net.DefaultResolver.LookupNetIP(ctx, "ip", host)
	if ctx.Err() != nil {
		return none, fmt.Errorf("desk %q: %w", desk, ctx.Err()) // what is found in a file is found all the same
	}
	if err != nil {
		return none, fmt.Errorf("desk %q: host not found; check its name, or give its IP address: %w", desk, err)
	}
	best := found[0].Unmap()
	for _, address := range found {
		if address.Unmap().Is4() {
			best = address.Unmap()
			break
		}
	}
	return netip.AddrPortFrom(best, port), nil
}

func parsePort(text string) (uint16, error) {
	port, err := strconv.ParseUint(text, 10, 16)
	return uint16(port), err
}

// localAddress gives the address to bind to: as the user said, and what is left open such that it reaches the desk.
func localAddress(local string, desk netip.AddrPort) (netip.AddrPort, error) {
	host, service := "", local
	if strings.Contains(local, ":") {
		var err error
		if host, service, err = net.SplitHostPort(local); err != nil {
			return netip.AddrPort{}, fmt.Errorf("local address %q: give a port such as 9001, or an address and a port", local)
		}
	}
	port := uint16(0)
	if service != "" {
		var err error
		if port, err = parsePort(service); err != nil {
			return netip.AddrPort{}, fmt.Errorf("local address %q: the port must be a number from 0 to 65535", local)
		}
	}
	if host != "" {
		address, err := netip.ParseAddr(host)
		if err != nil {
			return netip.AddrPort{}, fmt.Errorf("local address %q: %q is no IP address of this machine", local, host)
		}
		return netip.AddrPortFrom(address, port), nil
	}
	address, err := addressTowards(desk)
	return netip.AddrPortFrom(address, port), err
}

// addressTowards gives the address of this machine from which packets to the desk leave. Connecting a UDP socket makes
// the system choose it and sends nothing.
func addressTowards(desk netip.AddrPort) (netip.Addr, error) {
	conn, err := net.DialUDP("udp", nil, net.UDPAddrFromAddrPort(desk))
	if err != nil {
		return netip.Addr{}, fmt.Errorf("desk %s: no way there from this machine; check the cable and the network settings: %w", desk, err)
	}
	defer conn.Close()
	return conn.LocalAddr().(*net.UDPAddr).AddrPort().Addr().Unmap(), nil
}

func listenError(local netip.AddrPort, err error) error {
	switch {
	case isOneOf(err, syscall.EADDRINUSE, windowsInUse):
		return fmt.Errorf("local port %d is in use; close the program that listens there, or choose another port: %w", local.Port(), err)
	case isOneOf(err, syscall.EADDRNOTAVAIL, windowsNotOurs):
		return fmt.Errorf("%s is no address of this machine; choose one of its own, or give a port only: %w", local.Addr(), err)
	default:
		return fmt.Errorf("can't listen on %s: %w", local, err)
	}
}

// Send sends one packet. A packet that the system's own queue has no room for counts as lost on the way.
func (u *UDP) Send(packet []byte) error {
	err := u.write(packet)
	if err == nil {
		return nil
	}
	if isEcho(err) {
		// The error told of an earlier packet, and this one has not gone out.
		err = u.write(packet)
	}
	switch {
	case err == nil || isEcho(err) || isOneOf(err, syscall.ENOBUFS, windowsNoBuffers):
		return nil
	case isOneOf(err, syscall.EMSGSIZE, windowsTooLong):
		return fmt.Errorf("packet of %d bytes is too long for the network: %w", len(packet), err)
	default:
		return fmt.Errorf("send to %s: %w", u.desk, err)
	}
}

// sendsAtOnce says that a datagram waits for nobody at the other end.
func (u *UDP) sendsAtOnce() {}

func (u *UDP) write(packet []byte) error {
	if !u.anyPort {
		_, err := u.conn.Write(packet)
		return err
	}
	_, err := u.conn.WriteToUDPAddrPort(packet, u.desk)
	return err
}

// Receive waits for a packet from the desk. Packets from elsewhere are dropped and counted, and errors that pass,
// such as that an earlier packet found nobody, are passed over.
func (u *UDP) Receive(buffer []byte) (int, error) {
	for {
		n, from, err := u.conn.ReadFromUDPAddrPort(buffer)
		switch {
		case err == nil && u.isDesk(from):
			return n, nil
		case err == nil:
			u.strangers.Add(1)
		case isOneOf(err, windowsTooLong):
			return n, nil
		case !isPassing(err):
			return 0, err
		}
	}
}

func (u *UDP) isDesk(from netip.AddrPort) bool {
	return from.Addr().Unmap().WithZone("") == u.desk.Addr().WithZone("") && (u.anyPort || from.Port() == u.desk.Port())
}

// Strangers counts the packets that were dropped because they came from an address that isn't the desk's. What the
// system drops, as the socket is connected, it doesn't tell.
func (u *UDP) Strangers() uint64 { return u.strangers.Load() }

// LocalAddr is the address and port that the desk sees.
func (u *UDP) LocalAddr() net.Addr { return u.conn.LocalAddr() }

// Close ends the link. Closing it again is no error.
func (u *UDP) Close() error {
	err := u.conn.Close()
	if errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}
