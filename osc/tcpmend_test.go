package osc

import (
	"context"
	"errors"
	"io"
	"net"
	"os"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"testing/synctest"
	"time"
)

// pipes are connections in memory to a desk, on the time of a synctest bubble.
type pipes struct {
	f    Framing
	born time.Time
	ends chan *end // those that the desk took, in order

	mu     sync.Mutex
	refuse error // what connecting gives
	tries  []time.Duration
}

func newPipes(f Framing) *pipes {
	return &pipes{f: f, born: time.Now(), ends: make(chan *end, 1000)}
}

func (p *pipes) dial(ctx context.Context) (net.Conn, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.tries = append(p.tries, time.Since(p.born))
	if p.refuse != nil {
		return nil, p.refuse
	}
	ours, desk := net.Pipe()
	p.ends <- &end{desk, NewFrameReader(desk, p.f), p.f}
	return ours, ctx.Err()
}

func (p *pipes) refuses(err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.refuse = err
}

// tried gives when the link tried to connect, and forgets it.
func (p *pipes) tried() []time.Duration {
	p.mu.Lock()
	defer p.mu.Unlock()
	tries := p.tries
	p.tries = nil
	return tries
}

// overPipes runs a test on a link, in time that stands still until everyone waits.
func overPipes(t *testing.T, o TCPOptions, test func(t *testing.T, p *pipes, link *TCP)) {
	synctest.Test(t, func(t *testing.T) {
		p := newPipes(o.Framing)
		link, err := openTCP(t.Context(), "quay-24:9000", o, p.dial)
		if err != nil {
			t.Fatal(err)
		}
		defer link.Close()
		test(t, p, link)
	})
}

func millis(all ...int) (durations []time.Duration) {
	for _, n := range all {
		durations = append(durations, time.Duration(n)*ms)
	}
	return durations
}

func TestTheLinkIsTriedWithGrowingPausesUntilPatienceIsOver(t *testing.T) {
	overPipes(t, TCPOptions{Framing: Slip}, func(t *testing.T, p *pipes, link *TCP) {
		p.refuses(failed(syscall.ECONNREFUSED))
		_ = (<-p.ends).Close()
		_, err := link.Receive(make([]byte, MaxPacket))
		// Pauses of 50, 100, 200, 400 and then 500 ms.
		same(t, millis(0, 50, 150, 350, 750, 1250, 1750, 2250, 2750), p.tried())
		want := "desk quay-24:9000: the link broke: the desk closed it; tried for 3s to mend it, and at last: nothing listens at that port: " +
			failed(syscall.ECONNREFUSED).Error() + "; check that the desk is on, its address and port, and that OSC over TCP is switched on there and free"
		if err == nil || err.Error() != want {
			t.Errorf("got  %v\nwant %s", err, want)
		}
		if time.Since(p.born) > 3*time.Second {
			t.Errorf("took %v", time.Since(p.born))
		}
	})
}

func TestPatienceIsWhatWasAskedFor(t *testing.T) {
	for patience, want := range map[time.Duration][]time.Duration{
		-1: millis(0), 50 * ms: millis(0), 51 * ms: millis(0, 50), 800 * ms: millis(0, 50, 150, 350, 750),
	} {
		overPipes(t, TCPOptions{Framing: Slip, Patience: patience}, func(t *testing.T, p *pipes, link *TCP) {
			p.refuses(failed(syscall.ECONNREFUSED))
			_ = (<-p.ends).Close()
			if _, err := link.Receive(make([]byte, MaxPacket)); err == nil || errors.Is(err, net.ErrClosed) {
				t.Error(err)
			}
			same(t, want, p.tried())
		})
	}
}

func TestADeskThatClosesEveryConnectionAtOnceIsGivenUp(t *testing.T) {
	overPipes(t, TCPOptions{Framing: Slip, Patience: time.Second}, func(t *testing.T, p *pipes, link *TCP) {
		go func() {
			for e := range p.ends {
				_ = e.Close()
			}
		}()
		defer close(p.ends)
		_, err := link.Receive(make([]byte, MaxPacket))
		if err == nil || !strings.Contains(err.Error(), "at last: the desk closed it; check that the desk is on") {
			t.Error(err)
		}
		same(t, millis(0, 50, 150, 350, 750), p.tried())
		if link.Broken() != 5 {
			t.Errorf("broke %d times, want 5", link.Broken())
		}
	})
}

func TestADeskWithTheOtherFramingIsGivenUpWithWhatToDo(t *testing.T) {
	for f, want := range map[Framing]string{
		Slip:  "check that it frames its packets with SLIP",
		Sized: "check that it frames its packets with sizes",
	} {
		overPipes(t, TCPOptions{Framing: f}, func(t *testing.T, p *pipes, link *TCP) {
			go func() {
				for e := range p.ends {
					_, _ = e.Write(framed(Slip+Sized-f, "/one"))
				}
			}()
			defer close(p.ends)
			_, err := link.Receive(make([]byte, MaxPacket))
			if !errors.Is(err, ErrFrame) || !strings.Contains(err.Error(), want) {
				t.Errorf("%v: %v", f, err)
			}
		})
	}
}

func TestTroubleIsOverWhenAPacketArrives(t *testing.T) {
	overPipes(t, TCPOptions{Framing: Sized, Patience: 100 * ms}, func(t *testing.T, p *pipes, link *TCP) {
		all := follow(link)
		for range 20 {
			e := <-p.ends
			e.says(t, "/one")
			arrives(t, all, "/one")
			_ = e.Close()
		}
		synctest.Wait()
		var want []time.Duration
		for i := range 20 {
			want = append(want, time.Duration(i)*50*ms)
		}
		same(t, want, p.tried())
	})
}

func TestTroubleIsOverWhenAConnectionStands(t *testing.T) {
	overPipes(t, TCPOptions{Framing: Sized, Patience: 100 * ms}, func(t *testing.T, p *pipes, link *TCP) {
		all := follow(link)
		for range 20 {
			e := <-p.ends
			time.Sleep(101 * ms) // A desk that says nothing and closes what is idle.
			_ = e.Close()
		}
		(<-p.ends).says(t, "/one")
		arrives(t, all, "/one")
	})
}

func TestWhatIsSentWhileTheLinkIsBrokenIsLostWithoutAnError(t *testing.T) {
	overPipes(t, TCPOptions{Framing: Slip}, func(t *testing.T, p *pipes, link *TCP) {
		p.refuses(failed(syscall.ECONNREFUSED))
		all := follow(link)
		_ = (<-p.ends).Close()
		for range 5 {
			if err := link.Send([]byte("/in|")); err != nil {
				t.Fatal(err)
			}
			time.Sleep(100 * ms)
		}
		p.refuses(nil)
		e := <-p.ends
		synctest.Wait()
		go func() { _ = link.Send([]byte("/now")) }()
		e.hears(t, "/now")
		e.says(t, "/one")
		arrives(t, all, "/one")
		if link.Broken() != 1 {
			t.Errorf("broke %d times, want once", link.Broken())
		}
	})
}

func TestADeskThatTakesNothingLosesTheConnection(t *testing.T) {
	overPipes(t, TCPOptions{Framing: Slip}, func(t *testing.T, p *pipes, link *TCP) {
		all := follow(link)
		<-p.ends // It never reads.
		if err := link.Send([]byte("/in|")); err != nil {
			t.Fatal(err)
		}
		same(t, time.Second, time.Since(p.born))
		e := <-p.ends
		same(t, 1050*ms, time.Since(p.born))
		e.says(t, "/one")
		arrives(t, all, "/one")
	})
}

func TestADeskThatStopsWithinAPacketLosesTheConnection(t *testing.T) {
	for _, f := range framings {
		overPipes(t, TCPOptions{Framing: f, Stall: 300 * ms}, func(t *testing.T, p *pipes, link *TCP) {
			all := follow(link)
			e := <-p.ends
			time.Sleep(time.Hour) // Silence between packets is no fault.
			e.writes(t, framed(f, "/half/packet")[:7])
			time.Sleep(250 * ms)
			e.writes(t, framed(f, "/half/packet")[7:])
			arrives(t, all, "/half/packet")
			time.Sleep(time.Hour)
			e.writes(t, framed(f, "/half/packet")[:7])
			stopped := time.Now()
			(<-p.ends).says(t, "/one")
			arrives(t, all, "/one")
			same(t, 350*ms, time.Since(stopped))
		})
	}
}

func TestTheMessageThatKeepsTheLinkOpenIsRepeated(t *testing.T) {
	o := TCPOptions{Framing: Sized, Greeting: []Message{{Address: "/hello"}}, Alive: Message{Address: "/alive"}, AliveEvery: 10 * time.Second}
	packets := encoded(t, o.Greeting[0], o.Alive)
	synctest.Test(t, func(t *testing.T) {
		p := newPipes(Sized)
		var heard []sending
		busy := sync.WaitGroup{}
		busy.Go(func() {
			for e := range p.ends {
				buffer := make([]byte, MaxPacket)
				for range 4 { // Then it closes the connection.
					n, err := e.frames.Next(buffer)
					if err != nil {
						return
					}
					heard = append(heard, sending{time.Since(p.born), string(buffer[:n])})
				}
				_ = e.Close()
			}
		})
		link, err := openTCP(t.Context(), "quay-24:9000", o, p.dial)
		if err != nil {
			t.Fatal(err)
		}
		all := follow(link)
		time.Sleep(time.Minute + ms)
		if err := link.Close(); err != nil {
			t.Fatal(err)
		}
		if got := <-all; !errors.Is(got.err, net.ErrClosed) {
			t.Error(got)
		}
		close(p.ends)
		busy.Wait()
		at := func(n int, packet string) sending { return sending{time.Duration(n) * ms, packet} }
		same(t, []sending{
			at(0, packets[0]), at(10000, packets[1]), at(20000, packets[1]), at(30000, packets[1]),
			at(30050, packets[0]), at(40000, packets[1]), at(50000, packets[1]), at(60000, packets[1]),
		}, heard)
	})
}

func TestKeepingTheLinkOpenEndsWithALinkThatIsDead(t *testing.T) {
	o := TCPOptions{Framing: Slip, Alive: Message{Address: "/alive"}, AliveEvery: time.Second}
	overPipes(t, o, func(t *testing.T, p *pipes, link *TCP) {
		p.refuses(failed(syscall.ECONNREFUSED))
		_ = (<-p.ends).Close()
		_, _ = link.Receive(make([]byte, MaxPacket))
		link.keeper.Wait()
	})
}

func TestCloseEndsThePauseBeforeATry(t *testing.T) {
	overPipes(t, TCPOptions{Framing: Slip}, func(t *testing.T, p *pipes, link *TCP) {
		p.refuses(failed(syscall.ECONNREFUSED))
		all := follow(link)
		_ = (<-p.ends).Close()
		time.Sleep(200 * ms)
		if err := link.Close(); err != nil {
			t.Fatal(err)
		}
		if got := <-all; !errors.Is(got.err, net.ErrClosed) {
			t.Error(got.err)
		}
		same(t, 200*ms, time.Since(p.born))
	})
}

func TestCloseEndsATryToConnect(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := newPipes(Slip)
		first := true
		link, err := openTCP(t.Context(), "quay-24:9000", TCPOptions{Framing: Slip}, func(ctx context.Context) (net.Conn, error) {
			if first {
				first = false
				return p.dial(ctx)
			}
			<-ctx.Done() // as from a network that swallows everything
			return nil, ctx.Err()
		})
		if err != nil {
			t.Fatal(err)
		}
		all := follow(link)
		_ = (<-p.ends).Close()
		time.Sleep(200 * ms)
		if err := link.Close(); err != nil {
			t.Fatal(err)
		}
		if got := <-all; !errors.Is(got.err, net.ErrClosed) {
			t.Error(got.err)
		}
		same(t, 200*ms, time.Since(p.born))
	})
}

func TestCloseEndsAGreetingThatIsNotTaken(t *testing.T) {
	o := TCPOptions{Framing: Slip, Greeting: []Message{{Address: "/hello"}}, Stall: time.Hour}
	synctest.Test(t, func(t *testing.T) {
		p := newPipes(Slip)
		go func() { _, _ = (<-p.ends).frames.Next(make([]byte, 100)) }()
		link, err := openTCP(t.Context(), "quay-24:9000", o, p.dial)
		if err != nil {
			t.Fatal(err)
		}
		conn, _ := link.current()
		_ = conn.Close() // The first desk is gone; the second reads nothing.
		all := follow(link)
		<-p.ends
		synctest.Wait()
		if err := link.Close(); err != nil {
			t.Fatal(err)
		}
		if got := <-all; !errors.Is(got.err, net.ErrClosed) {
			t.Error(got.err)
		}
		same(t, 50*ms, time.Since(p.born))
	})
}

func TestADeskThatDoesNotTakeTheGreetingIsNotConnected(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := newPipes(Slip)
		_, err := openTCP(t.Context(), "quay-24:9000", TCPOptions{Framing: Slip, Greeting: []Message{{Address: "/hello"}}}, p.dial)
		if !errors.Is(err, os.ErrDeadlineExceeded) || !strings.Contains(err.Error(), "desk quay-24:9000: the desk took nothing for 1s: ") {
			t.Error(err)
		}
	})
}

func TestTheFirstConnectionIsNotWaitedForLongerThanPatience(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		born := time.Now()
		swallowing := func(ctx context.Context) (net.Conn, error) {
			<-ctx.Done()
			return nil, ctx.Err()
		}
		_, err := openTCP(t.Context(), "quay-24:9000", TCPOptions{Framing: Slip, Patience: 2 * time.Second}, swallowing)
		if !errors.Is(err, context.DeadlineExceeded) || !strings.Contains(err.Error(), "desk quay-24:9000: it does not answer: ") {
			t.Error(err)
		}
		same(t, 2*time.Second, time.Since(born))
	})
}

func TestWhyAConnectionBrokeIsNeverTakenForOurClosing(t *testing.T) {
	overPipes(t, TCPOptions{Framing: Slip, Patience: -1}, func(t *testing.T, p *pipes, link *TCP) {
		<-p.ends // It never reads, so sending breaks the link.
		all := follow(link)
		_ = link.Send([]byte("/in|"))
		got := <-all
		if got.err == nil || errors.Is(got.err, net.ErrClosed) || errors.Is(got.err, io.EOF) || !strings.Contains(got.err.Error(), "the desk took nothing for 1s") {
			t.Error(got.err)
		}
	})
}

func TestClosingALinkWithoutPatienceIsStillOurClosing(t *testing.T) {
	overPipes(t, TCPOptions{Framing: Slip, Patience: -1}, func(t *testing.T, p *pipes, link *TCP) {
		all := follow(link)
		synctest.Wait() // It is in Receive.
		if err := link.Close(); err != nil {
			t.Fatal(err)
		}
		if got := <-all; !errors.Is(got.err, net.ErrClosed) {
			t.Error(got.err)
		}
	})
}

// nosy is a connection on which someone else wants to send as soon as the first writing begins.
type nosy struct {
	net.Conn
	begun   atomic.Bool
	intrude func()
	mu      sync.Mutex
	written []string
}

func (n *nosy) SetWriteDeadline(time.Time) error {
	if n.begun.Swap(true) {
		return nil
	}
	go n.intrude()
	for range 1000 {
		runtime.Gosched() // A chance to come first.
	}
	return nil
}

func (n *nosy) Write(frames []byte) (int, error) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.written = append(n.written, string(frames))
	return len(frames), nil
}

func TestNothingIsSentBeforeTheGreeting(t *testing.T) {
	greeting := Message{Address: "/hello"}
	gone, _ := net.Pipe()
	ours, _ := net.Pipe()
	sent := make(chan error, 1)
	first, second := &nosy{Conn: gone, intrude: func() {}}, &nosy{Conn: ours}
	connections := make(chan net.Conn, 2)
	connections <- first
	connections <- second
	o := patient(Sized)
	o.Greeting = []Message{greeting}
	link, err := openTCP(t.Context(), "quay-24:9000", o, func(context.Context) (net.Conn, error) { return <-connections, nil })
	if err != nil {
		t.Fatal(err)
	}
	defer link.Close()
	second.intrude = func() { sent <- link.Send([]byte("/in|")) }
	_ = first.Close()
	all := follow(link)
	if err := <-sent; err != nil {
		t.Fatal(err)
	}
	same(t, []string{string(framed(Sized, encoded(t, greeting)...)), string(framed(Sized, "/in|"))}, second.written)
	_ = link.Close()
	if got := <-all; !errors.Is(got.err, net.ErrClosed) {
		t.Error(got.err)
	}
}
