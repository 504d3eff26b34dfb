package osc

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// socket is a free port of this machine.
func socket(t testing.TB) *net.UDPConn { return socketAt(t, net.IPv4(127, 0, 0, 1)) }

// socketAt is a free port of an address of this machine.
func socketAt(t testing.TB, ip net.IP) *net.UDPConn {
	t.Helper()
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: ip})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	return conn
}

func dial(t testing.TB, desk net.Addr, o UDPOptions) *UDP {
	t.Helper()
	u, err := DialUDP(t.Context(), desk.String(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = u.Close() })
	return u
}

func send(t testing.TB, from *net.UDPConn, to net.Addr, text string) {
	t.Helper()
	if _, err := from.WriteTo([]byte(text), to); err != nil {
		t.Fatal(err)
	}
}

func expect(t *testing.T, link Link, want string) {
	t.Helper()
	buffer := make([]byte, MaxPacket)
	n, err := link.Receive(buffer)
	if err != nil || string(buffer[:n]) != want {
		t.Fatalf("got %q, %v, want %q", buffer[:n], err, want)
	}
}

// expectAfter looks that the desk alone is heard after two packets of a stranger, of which the link counts so many.
func expectAfter(t *testing.T, stranger, desk *net.UDPConn, u *UDP, counted uint64) {
	t.Helper()
	send(t, stranger, u.LocalAddr(), "one")
	send(t, stranger, u.LocalAddr(), "two")
	send(t, desk, u.LocalAddr(), "answer")
	expect(t, u, "answer")
	if got := u.Strangers(); got != counted {
		t.Errorf("%d packets of strangers are counted, want %d", got, counted)
	}
}

func TestOneSocketSendsAndListens(t *testing.T) {
	desk := socket(t)
	u := dial(t, desk.LocalAddr(), UDPOptions{})
	if err := u.Send([]byte("/in|")); err != nil {
		t.Fatal(err)
	}
	buffer := make([]byte, 100)
	n, from, err := desk.ReadFrom(buffer)
	if err != nil || string(buffer[:n]) != "/in|" {
		t.Fatal(string(buffer[:n]), err)
	}
	if from.String() != u.LocalAddr().String() {
		t.Errorf("sent from %s, listens at %s", from, u.LocalAddr())
	}
	send(t, desk, from, "answer")
	expect(t, u, "answer")
}

func TestPacketsFromStrangersDoNotEvenArrive(t *testing.T) {
	desk, stranger := socket(t), socket(t)
	expectAfter(t, stranger, desk, dial(t, desk.LocalAddr(), UDPOptions{}), 0)
}

func TestALinkThatIsBoundToAllAddressesHearsTheDeskAlone(t *testing.T) {
	desk, stranger := socket(t), socket(t)
	u := dial(t, desk.LocalAddr(), UDPOptions{Local: "0.0.0.0:0"})
	if at := u.LocalAddr().(*net.UDPAddr); !at.IP.IsLoopback() {
		t.Fatalf("it listens at %s", at)
	}
	expectAfter(t, stranger, desk, u, 0)
}

func TestADeskMayAnswerFromAnotherPortIfSaidSo(t *testing.T) {
	desk, second := socket(t), socket(t)
	u := dial(t, desk.LocalAddr(), UDPOptions{AnyPort: true})
	send(t, second, u.LocalAddr(), "answer")
	expect(t, u, "answer")
	if got := u.Strangers(); got != 0 {
		t.Errorf("%d strangers, want 0", got)
	}
}

func TestAnyPortStillMeansTheDesksAddress(t *testing.T) {
	desk := socket(t)
	u := dial(t, desk.LocalAddr(), UDPOptions{AnyPort: true})
	for from, want := range map[string]bool{
		"127.0.0.1:1": true, "[::ffff:127.0.0.1]:1": true, "127.0.0.2:1": false, desk.LocalAddr().String(): true,
	} {
		if got := u.isDesk(netip.MustParseAddrPort(from)); got != want {
			t.Errorf("%s: %v", from, got)
		}
	}
}

func TestTheLocalPortCanBeSet(t *testing.T) {
	desk := socket(t)
	for _, form := range []string{"%d", ":%d", "127.0.0.1:%d"} {
		free := socket(t)
		port := free.LocalAddr().(*net.UDPAddr).Port
		_ = free.Close()
		u := dial(t, desk.LocalAddr(), UDPOptions{Local: fmt.Sprintf(form, port)})
		if got, want := u.LocalAddr().String(), fmt.Sprintf("127.0.0.1:%d", port); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}

func TestAReceiveBufferThatCannotBeHadIsNoError(t *testing.T) {
	dial(t, socket(t).LocalAddr(), UDPOptions{ReadBuffer: 1 << 30})
}

func TestWhatIsWrongWithAnAddressIsSaid(t *testing.T) {
	desk := socket(t).LocalAddr().String()
	taken := socket(t).LocalAddr().(*net.UDPAddr).Port
	cases := []struct{ name, desk, local, want string }{
		{"no port", "192.168.1.20", "", `desk "192.168.1.20": give its address and OSC port, such as 192.168.1.20:9000`},
		{"no host", ":9000", "", "give its address and OSC port"},
		{"nothing", "", "", "give its address and OSC port"},
		{"port by name", "127.0.0.1:osc", "", "the port must be a number from 1 to 65535"},
		{"port 0", "127.0.0.1:0", "", "the port must be a number from 1 to 65535"},
		{"port too high", "127.0.0.1:65536", "", "the port must be a number from 1 to 65535"},
		{"no such host", "two words:9000", "", `desk "two words:9000": host not found; check its name, or give its IP address`},
		{"port in use", desk, fmt.Sprint(taken), fmt.Sprintf("local port %d is in use; close the program that listens there, or choose another port", taken)},
		{"not our address", desk, "192.0.2.1:0", "192.0.2.1 is no address of this machine"},
		{"local name", desk, "quay:1", `"quay" is no IP address`},
		{"local port", desk, "x", "the port must be a number from 0 to 65535"},
		{"local colons", desk, "1:2:3", "give a port such as 9001, or an address and a port"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			u, err := DialUDP(t.Context(), c.desk, UDPOptions{Local: c.local})
			if err == nil {
				_ = u.Close()
			}
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

func TestLookingUpAHostEndsWithTheContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := DialUDP(ctx, "localhost:9000", UDPOptions{}); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

func TestCloseEndsAReceiveThatWaits(t *testing.T) {
	u := dial(t, socket(t).LocalAddr(), UDPOptions{})
	ended := make(chan error)
	go func() {
		_, err := u.Receive(make([]byte, 100))
		ended <- err
	}()
	if err := u.Close(); err != nil {
		t.Fatal(err)
	}
	if err := <-ended; !errors.Is(err, net.ErrClosed) {
		t.Error(err)
	}
	if err := u.Close(); err != nil {
		t.Error("closing it again:", err)
	}
	if err := u.Send([]byte("/in|")); !errors.Is(err, net.ErrClosed) {
		t.Error("sending:", err)
	}
}

func TestReceivingAndSendingAllocateNothing(t *testing.T) {
	desk := socket(t)
	u := dial(t, desk.LocalAddr(), UDPOptions{})
	to := u.LocalAddr().(*net.UDPAddr).AddrPort()
	packet, buffer := []byte("answer"), make([]byte, 100)
	allocations := testing.AllocsPerRun(100, func() {
		if _, err := desk.WriteToUDPAddrPort(packet, to); err != nil {
			t.Fatal(err)
		}
		if _, err := u.Receive(buffer); err != nil {
			t.Fatal(err)
		}
		if err := u.Send(packet); err != nil {
			t.Fatal(err)
		}
	})
	if allocations != 0 {
		t.Errorf("%v allocations", allocations)
	}
}

func TestAPacketTooLongToSendIsSaid(t *testing.T) {
	u := dial(t, socket(t).LocalAddr(), UDPOptions{})
	if err := u.Send(make([]byte, MaxPacket+1)); err == nil || !strings.Contains(err.Error(), "packet of 65508 bytes is too long") {
		t.Error(err)
	}
}

// failed is how the net package reports a failed system call.
func failed(number syscall.Errno) error {
	return &net.OpError{Op: "read", Net: "udp", Err: os.NewSyscallError("recvfrom", number)}
}

func TestWhatTellsOfAnEarlierPacketDoesNotEndReceiving(t *testing.T) {
	// 10054 is what Windows reports when nobody listened at the desk's port; 10052, 10061 and 10065 are its kin.
	for _, number := range []syscall.Errno{syscall.ECONNREFUSED, syscall.ECONNRESET, syscall.EHOSTUNREACH, syscall.ENETUNREACH, 10052, 10054, 10061, 10065} {
		if !isPassing(failed(number)) {
			t.Errorf("%d (%v) ends it", number, number)
		}
	}
	for _, err := range []error{failed(syscall.EBADF), failed(syscall.EINVAL), net.ErrClosed, errors.New("else")} {
		if isPassing(err) {
			t.Errorf("%v does not end it", err)
		}
	}
	if isEcho(failed(syscall.EHOSTUNREACH)) || isEcho(failed(syscall.ENETUNREACH)) {
		t.Error("no way to the desk is not told when sending")
	}
}

func TestADeskThatIsSwitchedOnLaterIsHeard(t *testing.T) {
	off := socket(t)
	address := off.LocalAddr().(*net.UDPAddr)
	_ = off.Close()
	c := Converse(dial(t, address, UDPOptions{}), Manner{Tries: 2, Wait: time.Millisecond}, numbers, nil)
	defer c.Close()
	if got, err := c.Ask(t.Context(), ask("/a"), nil); err != nil || len(got) != 0 {
		t.Fatal(got, err)
	}
	on, err := net.ListenUDP("udp", address)
	if err != nil {
		t.Fatal(err)
	}
	ended := serve(on, 7)
	defer func() { _ = on.Close(); <-ended }()
	c.manner = Manner{}.withDefaults()
	got, err := c.Ask(t.Context(), ask("/a", "/b"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(map[string]int32{"/a": 7, "/b": 7}, got); diff != "" {
		t.Error(diff)
	}
}

// serve is a desk that answers everything with one value, until its socket is closed.
func serve(desk *net.UDPConn, value int32) (ended chan struct{}) {
	ended = make(chan struct{})
	go func() {
		defer close(ended)
		buffer := make([]byte, MaxPacket)
		for {
			n, from, err := desk.ReadFromUDPAddrPort(buffer)
			if err != nil {
				return
			}
			heard, err := Decode(buffer[:n])
			if err != nil {
				continue
			}
			for _, h := range heard {
				packet, err := Message{h.Address, []any{value}}.Encode()
				if err == nil {
					_, _ = desk.WriteToUDPAddrPort(packet, from)
				}
			}
		}
	}()
	return ended
}

// BenchmarkAsk asks a desk on this machine about 2000 parameters, without a limit of pace.
func BenchmarkAsk(b *testing.B) {
	desk := socket(b)
	ended := serve(desk, 7)
	defer func() { _ = desk.Close(); <-ended }()
	c := Converse(dial(b, desk.LocalAddr(), UDPOptions{}), Manner{}, numbers, nil)
	defer c.Close()
	var addresses []string
	for i := range 2000 {
		addresses = append(addresses, fmt.Sprintf("/in/%d", i))
	}
	questions := ask(addresses...)
	b.ReportAllocs()
	for b.Loop() {
		if got, err := c.Ask(b.Context(), questions, nil); err != nil || len(got) != len(questions) {
			b.Fatal(len(got), err)
		}
	}
	b.ReportMetric(float64(len(questions)*b.N)/b.Elapsed().Seconds(), "questions/s")
}
