package osc

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
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

func TestPacketsGoBothWaysOverTCP(t *testing.T) {
	bothFramings(t, func(t *testing.T, f Framing) {
		listener := listening(t, anyPort)
		link := dialTCP(t, listener.Addr(), patient(f))
		desk := accept(t, listener, f)
		long := strings.Repeat("\xc0/\xdb.", MaxPacket/4)
		for _, packet := range []string{"/in|", "/a\xc0\xdb", long} {
			sent := make(chan error, 1)
			go func() { sent <- link.Send([]byte(packet)) }()
			desk.hears(t, packet)
			if err := <-sent; err != nil {
				t.Fatal(err)
			}
			go func() { _, _ = desk.Write(framed(f, packet)) }()
			expect(t, link, packet)
		}
		if link.Broken() != 0 {
			t.Errorf("broke %d times", link.Broken())
		}
	})
}

func TestWhatDoesNotFitIntoTheBufferIsCutOffOverTCP(t *testing.T) {
	listener := listening(t, anyPort)
	link := dialTCP(t, listener.Addr(), patient(Sized))
	desk := accept(t, listener, Sized)
	desk.writes(t, framed(Sized, "/one/two", "/six"))
	buffer := make([]byte, 5)
	for _, want := range []string{"/one/", "/six"} {
		if n, err := link.Receive(buffer); err != nil || string(buffer[:n]) != want {
			t.Errorf("%q, %v, want %q", buffer[:n], err, want)
		}
	}
}

func TestTheGreetingComesFirstOnEveryConnection(t *testing.T) {
	bothFramings(t, func(t *testing.T, f Framing) {
		greeting := []Message{{"/hello", []any{"net-loft"}}, {Address: "/follow"}}
		o := patient(f)
		o.Greeting = greeting
		listener := listening(t, anyPort)
		link := dialTCP(t, listener.Addr(), o)
		all := follow(link)
		for range 3 {
			desk := accept(t, listener, f)
			for _, packet := range encoded(t, greeting...) {
				desk.hears(t, packet)
			}
			desk.says(t, "/now")
			arrives(t, all, "/now")
			if err := link.Send([]byte("/in|")); err != nil {
				t.Fatal(err)
			}
			desk.hears(t, "/in|")
			_ = desk.Close()
		}
	})
}

func TestALinkThatTheDeskClosesIsMadeAnewAndSaysSo(t *testing.T) {
	bothFramings(t, func(t *testing.T, f Framing) {
		listener := listening(t, anyPort)
		link := dialTCP(t, listener.Addr(), patient(f))
		all := follow(link)
		desk := accept(t, listener, f)
		desk.says(t, "/one")
		_ = desk.Close()
		arrives(t, all, "/one")
		desk = accept(t, listener, f)
		desk.says(t, "/two")
		arrives(t, all, "/two")
		if link.Broken() != 1 {
			t.Errorf("broke %d times, want once", link.Broken())
		}
	})
}

func TestAfterWhatCannotBeReadTheLinkIsMadeAnew(t *testing.T) {
	sized := func(size uint32) []byte { return binary.BigEndian.AppendUint32(nil, size) }
	cases := []struct {
		name  string
		f     Framing
		bytes []byte
		close bool
	}{
		{"half a packet, then the end", Slip, framed(Slip, "/half/packet")[:6], true},
		{"half a packet, then the end, with sizes", Sized, framed(Sized, "/half/packet")[:9], true},
		{"half a size, then the end", Sized, []byte{0, 0}, true},
		{"2 GB", Sized, sized(0x7fffffff), false},
		{"2 GB in fours", Sized, sized(0x7ffffffc), false},
		{"less than nothing", Sized, sized(0x80000000), false},
		{"nothing", Sized, sized(0), false},
		{"no multiple of 4", Sized, sized(6), false},
		{"no end", Slip, []byte(strings.Repeat("/", MaxPacket+1)), false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			listener := listening(t, anyPort)
			link := dialTCP(t, listener.Addr(), patient(c.f))
			all := follow(link)
			desk := accept(t, listener, c.f)
			desk.says(t, "/one")
			arrives(t, all, "/one")
			used := allocatedBy(func() {
				desk.writes(t, c.bytes)
				if c.close {
					_ = desk.Close()
				}
				desk = accept(t, listener, c.f)
			})
			desk.says(t, "/two")
			arrives(t, all, "/two")
			if used > 4<<20 {
				t.Errorf("%d bytes allocated", used)
			}
			if link.Broken() != 1 {
				t.Errorf("broke %d times, want once", link.Broken())
			}
		})
	}
}

func TestAWrongEscapeCostsOnePacketAndNotTheLink(t *testing.T) {
	listener := listening(t, anyPort)
	link := dialTCP(t, listener.Addr(), patient(Slip))
	desk := accept(t, listener, Slip)
	desk.writes(t, []byte("\xc0/o\xdb/e\xc0\xc0/two\xc0"))
	expect(t, link, "/two")
	if link.Spoilt() != 1 || link.Broken() != 0 {
		t.Errorf("%d spoilt, broke %d times", link.Spoilt(), link.Broken())
	}
}

func TestCloseEndsAReceiveOverTCPThatWaits(t *testing.T) {
	bothFramings(t, func(t *testing.T, f Framing) {
		for name, before := range map[string][]byte{"for a packet": nil, "within one": framed(f, "/half/packet")[:7]} {
			listener := listening(t, anyPort)
			link := dialTCP(t, listener.Addr(), patient(f))
			desk := accept(t, listener, f)
			all := follow(link)
			desk.says(t, "/one")
			arrives(t, all, "/one")
			desk.writes(t, before)
			if err := link.Close(); err != nil {
				t.Fatal(err)
			}
			if got := <-all; !errors.Is(got.err, net.ErrClosed) {
				t.Errorf("%s: %v", name, got.err)
			}
			if err := link.Close(); err != nil {
				t.Errorf("%s: closing it again: %v", name, err)
			}
			if err := link.Send([]byte("/in|")); !errors.Is(err, net.ErrClosed) {
				t.Errorf("%s: sending: %v", name, err)
			}
			if _, err := link.Receive(make([]byte, 4)); !errors.Is(err, net.ErrClosed) {
				t.Errorf("%s: receiving again: %v", name, err)
			}
		}
	})
}

func TestADeskThatNeverReadsCannotHoldASenderForEver(t *testing.T) {
	listener := listening(t, anyPort)
	o := patient(Slip)
	o.Stall = 20 * time.Millisecond
	link := dialTCP(t, listener.Addr(), o)
	accept(t, listener, Slip)
	packet := []byte(strings.Repeat("/in|", MaxPacket/4))
	for link.Broken() == 0 {
		// This fills what the system keeps, and then comes back without an error, as a lost packet does.
		if err := link.Send(packet); err != nil {
			t.Fatal(err)
		}
	}
}

func TestCloseEndsASendThatWaits(t *testing.T) {
	listener := listening(t, anyPort)
	link := dialTCP(t, listener.Addr(), patient(Slip))
	accept(t, listener, Slip)
	packet := []byte(strings.Repeat("/in|", MaxPacket/4))
	sent, ended := make(chan struct{}, 1), make(chan error)
	go func() {
		for {
			if err := link.Send(packet); err != nil {
				ended <- err
				return
			}
			select {
			case sent <- struct{}{}:
			default:
			}
		}
	}()
	<-sent
	if err := link.Close(); err != nil {
		t.Fatal(err)
	}
	if err := <-ended; !errors.Is(err, net.ErrClosed) {
		t.Error(err)
	}
}

// table is a desk over TCP that answers everything with one value, to anyone, until it is switched off.
type table struct {
	listener net.Listener
	busy     sync.WaitGroup
	mu       sync.Mutex
	ends     []net.Conn // nil once switched off
}

// seat switches on a desk that closes each connection after so many answers, or never if that is 0.
func seat(listener net.Listener, f Framing, value int32, answers int) *table {
	d := &table{listener: listener, ends: []net.Conn{}}
	d.busy.Go(func() {
		for {
			conn, err := listener.Accept()
			if err != nil || !d.keeps(conn) {
				return
			}
			d.busy.Go(func() { answerAll(conn, f, value, answers) })
		}
	})
	return d
}

func (d *table) keeps(conn net.Conn) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.ends == nil {
		_ = conn.Close()
		return false
	}
	d.ends = append(d.ends, conn)
	return true
}

func (d *table) switchOff() {
	_ = d.listener.Close()
	d.mu.Lock()
	for _, conn := range d.ends {
		_ = conn.Close()
	}
	d.ends = nil
	d.mu.Unlock()
	d.busy.Wait()
}

func answerAll(conn net.Conn, f Framing, value int32, answers int) {
	defer conn.Close()
	frames, buffer := NewFrameReader(conn, f), make([]byte, MaxPacket)
	for said := 0; answers == 0 || said < answers; {
		n, err := frames.Next(buffer)
		if err != nil {
			return
		}
		heard, err := Decode(buffer[:n])
		if err != nil {
			return
		}
		for _, h := range heard {
			packet, err := Message{h.Address, []any{value}}.Encode()
			if err != nil {
				return
			}
			if _, err := conn.Write(AppendFrame(nil, packet, f)); err != nil {
				return
			}
			said++
		}
	}
}

func manyQuestions(n int, value int32) ([]Question[string], map[string]int32) {
	var addresses []string
	want := make(map[string]int32)
	for i := range n {
		addresses = append(addresses, fmt.Sprintf("/in/%d", i))
		want[addresses[i]] = value
	}
	return ask(addresses...), want
}

func TestTwoHundredQuestionsAreAnsweredOverTCP(t *testing.T) {
	bothFramings(t, func(t *testing.T, f Framing) {
		desk := seat(listening(t, anyPort), f, 7, 0)
		defer desk.switchOff()
		link := dialTCP(t, desk.listener.Addr(), patient(f))
		c := Converse(link, Manner{Tries: 1000}, numbers, nil)
		defer c.Close()
		questions, want := manyQuestions(200, 7)
		got, err := c.Ask(t.Context(), questions, nil)
		if err != nil {
			t.Fatal(err)
		}
		same(t, want, got)
		if link.Broken() != 0 {
			t.Errorf("broke %d times", link.Broken())
		}
	})
}

func TestEveryQuestionIsAnsweredByADeskThatKeepsClosingTheLink(t *testing.T) {
	bothFramings(t, func(t *testing.T, f Framing) {
		desk := seat(listening(t, anyPort), f, 7, 25)
		defer desk.switchOff()
		link := dialTCP(t, desk.listener.Addr(), patient(f))
		c := Converse(link, Manner{Tries: 1000, Wait: 10 * time.Millisecond, MaxWait: 20 * time.Millisecond}, numbers, nil)
		defer c.Close()
		questions, want := manyQuestions(200, 7)
		got, err := c.Ask(t.Context(), questions, nil)
		if err != nil {
			t.Fatal(err)
		}
		same(t, want, got)
		if link.Broken() < 7 {
			t.Errorf("broke %d times; 200 answers take 8 connections", link.Broken())
		}
	})
}

func TestAConversationGoesOnWithADeskThatWasRestarted(t *testing.T) {
	desk := seat(listening(t, anyPort), Sized, 7, 0)
	at := desk.listener.Addr()
	link := dialTCP(t, at, patient(Sized))
	c := Converse(link, Manner{Tries: 1000}, numbers, nil)
	defer c.Close()
	if got, err := c.Ask(t.Context(), ask("/a"), nil); err != nil || got["/a"] != 7 {
		t.Fatal(got, err)
	}
	desk.switchOff()
	answered := make(chan error)
	go func() {
		got, err := c.Ask(t.Context(), ask("/a"), nil)
		if err == nil && !cmp.Equal(map[string]int32{"/a": 8}, got) {
			err = fmt.Errorf("got %v", got)
		}
		answered <- err
	}()
	desk = seat(listening(t, at.String()), Sized, 8, 0)
	defer desk.switchOff()
	if err := <-answered; err != nil {
		t.Fatal(err)
	}
	if link.Broken() == 0 {
		t.Error("nothing tells that the link was lost")
	}
}

func TestADeskThatNeverComesBackIsGivenUpWithWhatToDo(t *testing.T) {
	desk := seat(listening(t, anyPort), Slip, 7, 0)
	o := TCPOptions{Framing: Slip, Patience: 200 * time.Millisecond}
	link := dialTCP(t, desk.listener.Addr(), o)
	c := Converse(link, Manner{Tries: 1000}, numbers, nil)
	defer c.Close()
	if _, err := c.Ask(t.Context(), ask("/a"), nil); err != nil {
		t.Fatal(err)
	}
	desk.switchOff()
	_, err := c.Ask(t.Context(), ask("/a"), nil)
	if err == nil || errors.Is(err, net.ErrClosed) {
		t.Fatal(err)
	}
	for _, want := range []string{"the link to the desk has ended: desk " + desk.listener.Addr().String() + ": the link broke: ",
		"; tried for 200ms to mend it, and at last: ", "; check that the desk is on"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%v\n does not say %q", err, want)
		}
	}
	if again := link.Send([]byte("/in|")); again == nil || !strings.Contains(err.Error(), again.Error()) {
		t.Errorf("sending: %v", again)
	}
	if _, again := link.Receive(make([]byte, 4)); again == nil || !strings.Contains(err.Error(), again.Error()) {
		t.Errorf("receiving: %v", again)
	}
	if err := link.Close(); err != nil {
		t.Error("closing:", err)
	}
	if err := link.Send([]byte("/in|")); !errors.Is(err, net.ErrClosed) {
		t.Error("sending when closed:", err)
	}
}

func TestWhatIsWrongWithATCPLinkIsSaid(t *testing.T) {
	nobody := listening(t, anyPort)
	_ = nobody.Close()
	free := nobody.Addr().String()
	cases := []struct {
		name, desk string
		o          TCPOptions
		want       string
	}{
		{"no port", "192.168.1.20", patient(Slip), "give its address and OSC port, such as 192.168.1.20:9000"},
		{"no framing", free, TCPOptions{}, "say how it tells packets apart on TCP: with SLIP (OSC 1.1) or with sizes (OSC 1.0)"},
		{"greeting", free, TCPOptions{Framing: Slip, Greeting: []Message{{Address: "hello"}}}, `greeting for desk ` + free + `: OSC address "hello": must start with a slash`},
		{"alive", free, TCPOptions{Framing: Slip, AliveEvery: 1}, `message that keeps the link to desk ` + free + ` open: OSC address "": must start with a slash`},
		{"nobody there", free, TCPOptions{Framing: Slip}, "desk " + free + ": nothing listens at that port"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			link, err := DialTCP(t.Context(), c.desk, c.o)
			if err == nil {
				_ = link.Close()
			}
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

func TestConnectingOverTCPEndsWithTheContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := DialTCP(ctx, listening(t, anyPort).Addr().String(), patient(Slip)); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

func TestWhatIsNoPacketIsNotSentOverTCP(t *testing.T) {
	listener := listening(t, anyPort)
	link := dialTCP(t, listener.Addr(), patient(Sized))
	desk := accept(t, listener, Sized)
	for _, n := range []int{0, 5, MaxPacket + 1} {
		if err := link.Send(make([]byte, n)); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("packet of %d bytes can't be sent", n)) {
			t.Errorf("%d bytes: %v", n, err)
		}
	}
	if err := link.Send([]byte("/in|")); err != nil {
		t.Fatal(err)
	}
	desk.hears(t, "/in|")
}

func TestReceivingAndSendingOverTCPAllocateNothing(t *testing.T) {
	bothFramings(t, func(t *testing.T, f Framing) {
		listener := listening(t, anyPort)
		link := dialTCP(t, listener.Addr(), patient(f))
		desk := accept(t, listener, f)
		packet, frame, buffer := []byte("/in|"), framed(f, "/in|"), make([]byte, MaxPacket)
		allocations := testing.AllocsPerRun(100, func() {
			if err := link.Send(packet); err != nil {
				t.Fatal(err)
			}
			if _, err := desk.frames.Next(buffer); err != nil {
				t.Fatal(err)
			}
			if _, err := desk.Write(frame); err != nil {
				t.Fatal(err)
			}
			if _, err := link.Receive(buffer); err != nil {
				t.Fatal(err)
			}
		})
		if allocations != 0 {
			t.Errorf("%v allocations", allocations)
		}
	})
}

// BenchmarkAskTCP asks a desk on this machine about 2000 parameters, without a limit of pace.
func BenchmarkAskTCP(b *testing.B) {
	for _, f := range framings {
		b.Run(f.String(), func(b *testing.B) {
			desk := seat(listening(b, anyPort), f, 7, 0)
			defer desk.switchOff()
			c := Converse(dialTCP(b, desk.listener.Addr(), TCPOptions{Framing: f}), Manner{}, numbers, nil)
			defer c.Close()
			questions, _ := manyQuestions(2000, 7)
			b.ReportAllocs()
			for b.Loop() {
				if got, err := c.Ask(b.Context(), questions, nil); err != nil || len(got) != len(questions) {
					b.Fatal(len(got), err)
				}
			}
			b.ReportMetric(float64(len(questions)*b.N)/b.Elapsed().Seconds(), "questions/s")
		})
	}
}
