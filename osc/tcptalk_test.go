package osc

import (
	"errors"
	"fmt"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

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
