//go:build !darwin

package agent

import (
	"context"
	"net"
	"net/netip"
	"slices"
	"testing"
	"time"

	"deskhand/osc"
	"deskhand/scenes"
)

// The whole net 127.0.0.0/8 is this machine's own on Linux and Windows. One of its addresses is listed.
const listedHere = "127.0.0.2"

// openHere has a Remote listen on loopback, to one address only, until the test ends.
func openHere(tb testing.TB, d RemoteDoer) *Remote {
	tb.Helper()
	who := scenes.RemoteSettings{From: []netip.Prefix{netip.MustParsePrefix(listedHere + "/32")}}
	r, err := OpenRemote("127.0.0.1:0", who, d, func(err error) { tb.Error(err) })
	if err != nil {
		tb.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error)
	go func() { ended <- r.Serve(ctx) }()
	tb.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			tb.Error(err)
		}
	})
	return r
}

// sender is a socket that asks a Remote.
type sender struct {
	testing.TB
	conn   *net.UDPConn
	asked  int // packets sent
	buffer []byte
}

func senderAt(tb testing.TB, address string, r *Remote) *sender {
	tb.Helper()
	conn, err := net.DialUDP("udp4", &net.UDPAddr{IP: net.ParseIP(address)}, r.Address().(*net.UDPAddr))
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { _ = conn.Close() })
	return &sender{TB: tb, conn: conn, buffer: make([]byte, osc.MaxPacket)}
}

// ask sends a request as a sender should: again under the same id after 10 ms, until the answer is there.
func (s *sender) ask(address string, arguments ...any) osc.Message {
	s.Helper()
	packet, err := osc.Message{Address: address, Arguments: arguments}.Encode()
	if err != nil {
		s.Fatal(err)
	}
	for range 1000 {
		s.asked++
		if _, err := s.conn.Write(packet); err != nil {
			s.Fatal(err)
		}
		_ = s.conn.SetReadDeadline(time.Now().Add(10 * time.Millisecond))
		for {
			n, err := s.conn.Read(s.buffer)
			if err != nil {
				break // Nothing more came in time.
			}
			heard, err := osc.Decode(s.buffer[:n])
			if err != nil {
				s.Fatal(err)
			}
			if m := heard[0].Message; m.Address != takenAddress && m.Arguments[0] == arguments[0] {
				return m
			}
		}
	}
	s.Fatalf("no answer to %s", address)
	return osc.Message{}
}

// times asks for so many swaps, and gives how long each took, shortest first.
func (s *sender) times(firstID, n int) []time.Duration {
	s.Helper()
	var took []time.Duration
	for id := firstID; id < firstID+n; id++ {
		begun := time.Now()
		if m := s.ask("/deskhand/swap", int32(id), "lectern", "poet"); m.Address != doneAddress {
			s.Fatal(m)
		}
		took = append(took, time.Since(begun))
	}
	slices.Sort(took)
	return took
}

// flood sends packets as fast as the system takes them, and closes the channel when all are sent.
func (s *sender) flood(packets int) <-chan struct{} {
	over := make(chan struct{})
	go func() {
		defer close(over)
		packet, _ := osc.Message{Address: "/deskhand/swap", Arguments: []any{int32(1), "lectern", "pilot"}}.Encode()
		for range packets {
			_, _ = s.conn.Write(packet)
		}
	}()
	return over
}

func TestARequestComesThroughAFloodOfStrangersAndIsDoneOnce(t *testing.T) {
	const strangers, asked = 100_000, 40
	d := &doer{}
	r := openHere(t, d)
	tablet, stranger := senderAt(t, listedHere, r), senderAt(t, "127.0.0.3", r)
	quiet := tablet.times(0, asked)
	repeated := tablet.asked - asked

	over := stranger.flood(strangers)
	var flooded []time.Duration
	next := asked
	for open := true; open && next < 2*asked; next++ { // ids are known for a while, and only so many
		flooded = append(flooded, tablet.times(next, 1)...)
		select {
		case <-over:
			open = false
		case <-time.After(5 * time.Millisecond): // spreads the requests over the flood
		}
	}
	<-over
	slices.Sort(flooded)
	t.Logf("no flood: %d requests, median %s, longest %s, %d packets sent again", len(quiet), quiet[len(quiet)/2], quiet[len(quiet)-1], repeated)
	t.Logf("%d packets of strangers: %d requests, median %s, longest %s, %d packets sent again; %d strangers counted", strangers,
		len(flooded), flooded[len(flooded)/2], flooded[len(flooded)-1], tablet.asked-repeated-next, r.Counts().Strangers)

	for _, ask := range d.deeds() {
		if ask != (AskSwap{Position: "lectern", Performer: "poet", Rise: 0}) {
			t.Fatalf("did what a stranger asked for: %s", ask)
		}
	}
	if got := len(d.deeds()); got != next {
		t.Errorf("%d requests were done, want %d", got, next)
	}
	m := tablet.ask("/deskhand/status", "flood")
	if counted, _ := m.Arguments[9].(int32); counted < 1 || uint64(counted) != r.Counts().Strangers {
		t.Errorf("the state tells of %v strangers, want %d", m.Arguments[9], r.Counts().Strangers)
	}
}

func TestAStrangerIsNotAnswered(t *testing.T) {
	d := &doer{}
	r := openHere(t, d)
	stranger, tablet := senderAt(t, "127.0.0.3", r), senderAt(t, listedHere, r)
	<-stranger.flood(3)
	// The state comes after what the strangers sent.
	if m := tablet.ask("/deskhand/status", int32(1)); m.Arguments[9] != int32(3) {
		t.Errorf("%v", m)
	}
	_ = stranger.conn.SetReadDeadline(time.Now())
	if n, err := stranger.conn.Read(stranger.buffer); err == nil {
		t.Errorf("a stranger was answered: %q", stranger.buffer[:n])
	}
	if len(d.deeds()) != 0 {
		t.Error(d.deeds())
	}
}

// BenchmarkRequest is a question for the state and its answer, over loopback.
func BenchmarkRequest(b *testing.B) {
	tablet := senderAt(b, listedHere, openHere(b, &doer{}))
	for b.Loop() {
		tablet.ask("/deskhand/status", int32(1))
	}
}
