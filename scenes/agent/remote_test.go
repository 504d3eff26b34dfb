package agent

import (
	"context"
	"errors"
	"fmt"
	"net/netip"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"deskhand/osc"
	"deskhand/scenes"
)

func TestARequestIsTakenDoneAndAnswered(t *testing.T) {
	d := &doer{}
	served(t, d, func(b *bench) {
		b.send(tablet, "/deskhand/swap", int32(1), "lectern", "poet")
		b.expect(`/deskhand/taken i 1 i 0`, `/deskhand/done i 1 s "swap lectern poet" i 7 i 0`)
		b.send(tablet, "/deskhand/swap", "evening-2", "lectern", "pilot", float32(3))
		b.expect(`/deskhand/taken s "evening-2" i 0`, `/deskhand/done s "evening-2" s "swap lectern pilot --allow-rise 3" i 7 i 0`)
		b.send(tablet, "/deskhand/scene", int32(3), "opening")
		b.send(tablet, "/deskhand/next", int32(4))
		b.send(tablet, "/deskhand/undo", int32(5))
		b.expect(`/deskhand/taken i 3 i 0`, `/deskhand/done i 3 s "scene opening" i 7 i 0`,
			`/deskhand/taken i 4 i 0`, `/deskhand/done i 4 s "next scene" i 7 i 0`,
			`/deskhand/taken i 5 i 0`, `/deskhand/done i 5 s "undo" i 7 i 0`)
	})
	want := []Ask{AskSwap{Position: "lectern", Performer: "poet"}, AskSwap{Position: "lectern", Performer: "pilot", Rise: 3}, AskScene{"opening"}, AskNext{From: WhicheverIsOn}, AskUndo{}}
	if !slices.Equal(d.did, want) {
		t.Errorf("did %v, want %v", d.did, want)
	}
}

func TestWhatFailsSaysWhy(t *testing.T) {
	errs := []error{
		&RemoteFailure{CodeRefused, "gets 15.0 dB louder"},
		fmt.Errorf("recall: %w", &RemoteFailure{CodeDesk, "the desk does not answer"}),
		errors.New("the disk\nis full"),
	}
	d := &doer{}
	d.ends = func(Ask) (RemoteDone, error) { return RemoteDone{}, errs[len(d.did)-1] }
	served(t, d, func(b *bench) {
		for id, want := range []string{
			`/deskhand/failed i 0 s "refused" s "gets 15.0 dB louder"`,
			`/deskhand/failed i 1 s "desk" s "recall: the desk does not answer"`,
			`/deskhand/failed i 2 s "trouble" s "the disk is full"`,
		} {
			b.send(tablet, "/deskhand/next", int32(id))
			b.expect(fmt.Sprintf("/deskhand/taken i %d i 0", id), want)
		}
	})
}

func TestStatusAndHoldAreAnsweredWhileARecallGoesOn(t *testing.T) {
	d := &doer{takes: always(3 * time.Second), state: RemoteState{Venue: "net-loft", Desk: DeskThere, Scene: "opening", Next: "harbour",
		Unsettled: 2, On: []RemoteOn{{"lectern", "botanist"}, {"table", ""}}}}
	served(t, d, func(b *bench) {
		b.send(tablet, "/deskhand/next", int32(1))
		b.send(tablet, "/deskhand/undo", int32(2))
		b.send(pedal, "/deskhand/hold", int32(1), true)
		b.deliver(tablet, []byte("rubbish."))
		b.expect(`/deskhand/taken i 1 i 0`, `/deskhand/taken i 2 i 1`, `/deskhand/done i 1 s "hold on" i 0 i 0`)
		b.send(pedal, "/deskhand/status", int32(1))
		b.expect(`/deskhand/state i 1 s "net-loft" s "there" i 1 s "opening" s "harbour" s "next scene" i 1 i 2 i 0 i 1 i 0 i 2 s "lectern" s "botanist" s "table" s ""`)
		time.Sleep(6 * time.Second)
		b.expect(`/deskhand/done i 1 s "next scene" i 7 i 0`, `/deskhand/done i 2 s "undo" i 7 i 0`)
	})
	if !slices.Equal(d.holds, []bool{true}) {
		t.Error(d.holds)
	}
}

func TestOneRequestIsDoneAtATimeAndSoManyWait(t *testing.T) {
	d := &doer{takes: always(time.Second)}
	served(t, d, func(b *bench) {
		for id := range int32(mostWaiting + 1) {
			b.send(tablet, "/deskhand/next", id)
			b.expect(fmt.Sprintf("/deskhand/taken i %d i %d", id, id))
		}
		b.send(pedal, "/deskhand/undo", int32(0))
		b.expect(`/deskhand/failed i 0 s "busy" s "8 requests wait already; this was not done"`)
		if got := len(d.deeds()); got != 1 {
			t.Errorf("%d were begun, want 1", got)
		}
		time.Sleep(time.Second)
		b.expect(`/deskhand/done i 0 s "next scene" i 7 i 0`)
		// What was refused may be asked for again, under its id.
		b.send(pedal, "/deskhand/undo", int32(0))
		b.expect(`/deskhand/taken i 0 i 8`)
		time.Sleep(9 * time.Second)
		if got := b.told(); len(got) != 9 || got[8] != `/deskhand/done i 0 s "undo" i 7 i 0` {
			t.Errorf("%q", got)
		}
	})
}

func TestARequestThatArrivesTwiceIsDoneOnceAndAnsweredTwice(t *testing.T) {
	d := &doer{takes: always(time.Second)}
	served(t, d, func(b *bench) {
		b.send(tablet, "/deskhand/swap", int32(1), "lectern", "poet")
		b.send(tablet, "/deskhand/swap", int32(1), "lectern", "poet")
		b.expect(`/deskhand/taken i 1 i 0`, `/deskhand/taken i 1 i 0`)
		time.Sleep(time.Second)
		const answer = `/deskhand/done i 1 s "swap lectern poet" i 7 i 0`
		b.expect(answer)
		b.send(tablet, "/deskhand/swap", float32(1), osc.Symbol("lectern"), "poet", int64(0))
		b.expect(answer)
	})
	if len(d.did) != 1 {
		t.Errorf("did %v", d.did)
	}
}

func TestASenderMayUseANewPortForEachPacket(t *testing.T) {
	d := &doer{takes: always(time.Second)}
	served(t, d, func(b *bench) {
		var ports []netip.AddrPort
		for port := range uint16(mostAskers + 2) {
			from := netip.AddrPortFrom(tablet.Addr(), 40000+port)
			ports = append(ports, from)
			b.send(from, "/deskhand/next", int32(1))
		}
		b.answers()
		time.Sleep(time.Second)
		synctest.Wait()
		var to []netip.AddrPort
		for _, s := range b.answers() {
			to = append(to, s.to)
		}
		if want := ports[2:]; !slices.Equal(to, want) {
			t.Errorf("answered %v, want the latest: %v", to, want)
		}
	})
	if len(d.did) != 1 {
		t.Errorf("did %v", d.did)
	}
}

func TestAnIDIsOfOneSenderAndOneRequest(t *testing.T) {
	d := &doer{}
	served(t, d, func(b *bench) {
		b.send(tablet, "/deskhand/swap", int32(1), "lectern", "poet")
		b.send(pedal, "/deskhand/next", int32(1))
		b.send(tablet, "/deskhand/next", "1")
		b.answers()
		b.send(tablet, "/deskhand/swap", int32(1), "lectern", "pilot")
		b.expect(`/deskhand/failed i 1 s "id-used" s "id 1 was that of another request (swap lectern poet) up to now: count on, or use it again 10 s after its answer"`)
		b.send(tablet, "/deskhand/next", int32(1))
		b.expect(`/deskhand/failed i 1 s "id-used" s "id 1 was that of another request (swap lectern poet) up to now: count on, or use it again 10 s after its answer"`)
		// A status changes nothing and is asked for under any id.
		b.send(tablet, "/deskhand/status", int32(1))
		if got := b.told(); len(got) != 1 || !strings.HasPrefix(got[0], "/deskhand/state i 1 ") {
			t.Errorf("%q", got)
		}
	})
	if want := []Ask{AskSwap{Position: "lectern", Performer: "poet"}, AskNext{From: WhicheverIsOn}, AskNext{From: WhicheverIsOn}}; !slices.Equal(d.did, want) {
		t.Errorf("did %v, want %v", d.did, want)
	}
}

func TestAnIDMayBeUsedAnewTenSecondsAfterItsAnswer(t *testing.T) {
	d := &doer{takes: always(3 * time.Second)}
	served(t, d, func(b *bench) {
		b.send(tablet, "/deskhand/swap", int32(1), "lectern", "poet")
		time.Sleep(3*time.Second + rememberedFor - time.Nanosecond)
		b.answers()
		b.send(tablet, "/deskhand/swap", int32(1), "lectern", "poet")
		b.expect(`/deskhand/done i 1 s "swap lectern poet" i 7 i 0`)
		time.Sleep(time.Nanosecond)
		b.send(tablet, "/deskhand/swap", int32(1), "lectern", "pilot")
		time.Sleep(3 * time.Second)
		b.expect(`/deskhand/taken i 1 i 0`, `/deskhand/done i 1 s "swap lectern pilot" i 7 i 0`)
	})
}

func TestADoubledHoldThatComesLateHoldsNothing(t *testing.T) {
	d := &doer{}
	served(t, d, func(b *bench) {
		b.send(tablet, "/deskhand/hold", int32(1), "on")
		b.send(tablet, "/deskhand/hold", int32(2), "off")
		b.send(tablet, "/deskhand/hold", int32(1), "on")
		b.expect(`/deskhand/done i 1 s "hold on" i 0 i 0`, `/deskhand/done i 2 s "hold off" i 0 i 0`, `/deskhand/done i 1 s "hold on" i 0 i 0`)
	})
	if !slices.Equal(d.holds, []bool{true, false}) {
		t.Error(d.holds)
	}
}

func TestASenderThatAsksTooMuchIsBusyAlone(t *testing.T) {
	d := &doer{}
	served(t, d, func(b *bench) {
		for id := range int32(mostOfOne) {
			b.send(tablet, "/deskhand/hold", id, id%2)
		}
		b.answers()
		b.send(tablet, "/deskhand/hold", int32(mostOfOne), 1.0)
		b.expect(`/deskhand/failed i 128 s "busy" s "too many requests within a few seconds; this was not done"`)
		b.send(pedal, "/deskhand/next", int32(1))
		b.expect(`/deskhand/taken i 1 i 0`, `/deskhand/done i 1 s "next scene" i 7 i 0`)
		time.Sleep(rememberedFor)
		b.send(tablet, "/deskhand/hold", int32(mostOfOne), 1.0)
		b.expect(`/deskhand/done i 128 s "hold on" i 0 i 0`)
	})
	if got := len(d.holds); got != mostOfOne+1 {
		t.Errorf("held %d times", got)
	}
}

func TestSoManyIDsAreKnownAtATime(t *testing.T) {
	l := newLedger()
	now := time.Now()
	of := func(n int) remoteMark {
		return remoteMark{netip.AddrFrom4([4]byte{10, 0, 0, byte(n / mostOfOne)}), remoteID{int64(n)}}
	}
	for n := range mostIDs {
		if !l.hasRoom(of(n).sender) {
			t.Fatalf("no room for %d", n)
		}
		e := &ledgerEntry{remoteMark: of(n)}
		l.add(e)
		l.settle(e, []byte("answer"), now)
	}
	if l.hasRoom(of(mostIDs).sender) {
		t.Error("room for more")
	}
	if l.find(of(0), now.Add(rememberedFor-1)) == nil {
		t.Error("forgotten too early")
	}
	if l.find(of(0), now.Add(rememberedFor)) != nil || len(l.known)+len(l.answered)+len(l.of) != 0 {
		t.Errorf("%d, %d and %d are left", len(l.known), len(l.answered), len(l.of))
	}
}

func TestTheEndWaitsForWhatIsBeingDoneAndTellsOfIt(t *testing.T) {
	d := &doer{takes: always(time.Hour)}
	served(t, d, func(b *bench) {
		b.send(tablet, "/deskhand/next", int32(1))
		b.send(tablet, "/deskhand/undo", int32(2))
		b.answers()
		begun := time.Now()
		if err := b.end(); err != nil {
			t.Error(err)
		}
		if took := time.Since(begun); took != 0 { // by the bubble's clock, which stands still while something runs
			t.Errorf("took %s", took)
		}
		got := b.told()
		slices.Sort(got) // which of them is first is open
		want := []string{`/deskhand/failed i 1 s "broken" s "broke off: next scene"`, `/deskhand/failed i 2 s "ending" s "the agent is ending; this was not done"`}
		if !slices.Equal(got, want) {
			t.Errorf("%q, want %q", got, want)
		}
		select {
		case <-b.closed:
		default:
			t.Error("the port is open still")
		}
	})
	if len(d.did) != 1 {
		t.Errorf("did %v", d.did)
	}
}

func TestWhatComesWhileTheAgentEndsIsRefused(t *testing.T) {
	d := &doer{}
	served(t, d, func(b *bench) {
		ending := make(chan struct{}) // of the bubble, or it would not know what waits
		d.ends = func(Ask) (RemoteDone, error) { <-ending; return RemoteDone{Text: "muted"}, nil }
		b.send(tablet, "/deskhand/next", int32(1))
		b.cancel()
		b.told()
		b.send(tablet, "/deskhand/undo", int32(2))
		b.send(tablet, "/deskhand/hold", int32(3), true)
		b.expect(`/deskhand/failed i 2 s "ending" s "the agent is ending; this was not done"`,
			`/deskhand/failed i 3 s "ending" s "the agent is ending; this was not done"`)
		close(ending)
		b.expect(`/deskhand/done i 1 s "muted" i 0 i 0`)
	})
	if len(d.did) != 1 || len(d.holds) != 0 {
		t.Errorf("did %v, held %v", d.did, d.holds)
	}
}

func TestAPortThatFailsEndsTheServiceOnceTheRecallIsOver(t *testing.T) {
	d := &doer{takes: always(2 * time.Second)}
	served(t, d, func(b *bench) {
		b.send(tablet, "/deskhand/next", int32(1))
		begun := time.Now()
		_ = b.Close()
		err := <-b.ended
		b.ended <- nil
		if err == nil || !strings.Contains(err.Error(), "remote control has ended") {
			t.Error(err)
		}
		if took := time.Since(begun); took != 2*time.Second {
			t.Errorf("ended after %s, while the recall takes 2 s", took)
		}
	})
}

func TestAnswersGoToThePortThatTheBookSays(t *testing.T) {
	served(t, &doer{}, func(b *bench) {
		b.remote.answerPort = 9101
		b.send(tablet, "/deskhand/next", int32(1))
		b.send(tablet, "/deskhand/next", int32(1))
		b.send(tablet, "/deskhand/next")
		for _, s := range b.answers() {
			if want := netip.AddrPortFrom(tablet.Addr(), 9101); s.to != want {
				t.Errorf("%s went to %s, want %s", s.message, s.to, want)
			}
		}
	})
}

func TestARemoteNeedsSomeoneToListenTo(t *testing.T) {
	_, err := OpenRemote("127.0.0.1:0", scenes.RemoteSettings{}, &doer{}, nil)
	if err == nil || !strings.Contains(err.Error(), `write [remote] from = ["192.168.7.20"] in book.toml`) {
		t.Error(err)
	}
}

func TestARemoteThatIsNeverServedCanBeClosed(t *testing.T) {
	r, err := OpenRemote("127.0.0.1:0", scenes.RemoteSettings{From: []netip.Prefix{netip.MustParsePrefix("127.0.0.1/32")}}, &doer{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	at := r.Address().String()
	if err := r.Close(); err != nil {
		t.Error(err)
	}
	if err := r.Serve(t.Context()); err == nil {
		t.Error("it served on a closed port")
	}
	again, err := OpenRemote(at, scenes.RemoteSettings{From: []netip.Prefix{netip.MustParsePrefix("127.0.0.1/32")}}, &doer{}, nil)
	if err != nil {
		t.Fatal("the port is not free: ", err)
	}
	_ = again.Close()
}

// stuck is a doer that does not return from Hold at once, against what it promises.
type stuck struct {
	doer
	free chan struct{}
}

func (s *stuck) Hold(bool) { <-s.free }

func TestWhatThereIsNoRoomForIsCountedAsLost(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &stuck{free: make(chan struct{})}
		ctx, cancel := context.WithCancel(t.Context())
		b := &bench{T: t, wire: newWire(), ended: make(chan error)}
		b.remote = newRemote(b.wire, d, nil)
		go func() { b.ended <- b.remote.Serve(ctx) }()
		b.send(tablet, "/deskhand/hold", int32(1), true)
		for id := range int32(mostArrived + 5) {
			b.send(tablet, "/deskhand/status", id)
		}
		if got := b.remote.Counts(); got != (RemoteCounts{Lost: 5}) {
			t.Errorf("%+v", got)
		}
		close(d.free)
		if got := len(b.told()); got != 1+mostArrived {
			t.Errorf("%d answers, want those to the hold and to %d status", got, mostArrived)
		}
		cancel()
		if err := <-b.ended; err != nil {
			t.Error(err)
		}
	})
}

// What waits elsewhere is refused there; what is being handed over carries when it was asked for.
func TestWhatIsAskedForIsHeldAgainstTheSleepsSinceItCame(t *testing.T) {
	d := &doer{takes: always(3 * time.Second)}
	served(t, d, func(b *bench) {
		b.send(tablet, "/deskhand/next", int32(1))
		b.send(pedal, "/deskhand/next", int32(2))
		b.told()
		d.mu.Lock()
		d.absences = 1
		d.mu.Unlock()
		b.send(tablet, "/deskhand/undo", int32(3))
		time.Sleep(4 * time.Second)
		b.expect(`/deskhand/taken i 3 i 2`, `/deskhand/failed i 2 s "late" s "`+errLate.Text+`"`,
			`/deskhand/done i 1 s "next scene" i 7 i 0`)
	})
	if want := []Ask{AskNext{From: WhicheverIsOn}, AskUndo{}}; !slices.Equal(d.did, want) || d.asSince != 1 {
		t.Errorf("did %v, the last as from %d, want %v", d.did, d.asSince, want)
	}
}
