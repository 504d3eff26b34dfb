package osc

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"net"
	"strings"
	"testing"
	"time"
)

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
