package osc

import (
	"net"
	"testing"
	"time"
)

// patient options: whatever ends a test, it isn't the clock.
func patient(f Framing) TCPOptions {
	return TCPOptions{Framing: f, Patience: time.Hour, Stall: time.Hour}
}

// bothFramings runs a test with each.
func bothFramings(t *testing.T, test func(t *testing.T, f Framing)) {
	for _, f := range framings {
		t.Run(f.String(), func(t *testing.T) { test(t, f) })
	}
}

// listening is the port of a desk.
func listening(t testing.TB, at string) net.Listener {
	t.Helper()
	listener, err := net.Listen("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = listener.Close() })
	return listener
}

const anyPort = "127.0.0.1:0"

func dialTCP(t testing.TB, desk net.Addr, o TCPOptions) *TCP {
	t.Helper()
	link, err := DialTCP(t.Context(), desk.String(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = link.Close() })
	return link
}

// end is the desk's end of one connection.
type end struct {
	net.Conn
	frames *FrameReader
	f      Framing
}

func accept(t testing.TB, listener net.Listener, f Framing) *end {
	t.Helper()
	conn, err := listener.Accept()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	return &end{conn, NewFrameReader(conn, f), f}
}

func (e *end) hears(t *testing.T, want string) {
	t.Helper()
	buffer := make([]byte, MaxPacket)
	if n, err := e.frames.Next(buffer); err != nil || string(buffer[:n]) != want {
		t.Fatalf("the desk heard %q, %v, want %q", buffer[:n], err, want)
	}
}

func (e *end) says(t *testing.T, packet string) { e.writes(t, framed(e.f, packet)) }

func (e *end) writes(t *testing.T, bytes []byte) {
	t.Helper()
	if _, err := e.Write(bytes); err != nil {
		t.Fatal(err)
	}
}

// received is what one Receive gave.
type received struct {
	packet string
	err    error
}

// follow receives until the link is over. Nothing else receives on it.
func follow(link Link) <-chan received {
	all := make(chan received, 1000)
	go func() {
		defer close(all)
		buffer := make([]byte, MaxPacket)
		for {
			n, err := link.Receive(buffer)
			all <- received{string(buffer[:n]), err}
			if err != nil {
				return
			}
		}
	}()
	return all
}

// arrives waits for the next packet.
func arrives(t *testing.T, all <-chan received, want string) {
	t.Helper()
	if got := <-all; got.err != nil || got.packet != want {
		t.Fatalf("got %q, %v, want %q", got.packet, got.err, want)
	}
}

func encoded(t testing.TB, messages ...Message) (packets []string) {
	t.Helper()
	for _, m := range messages {
		packet, err := m.Encode()
		if err != nil {
			t.Fatal(err)
		}
		packets = append(packets, string(packet))
	}
	return packets
}
