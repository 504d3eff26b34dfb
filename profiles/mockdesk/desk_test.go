package mockdesk_test

import (
	"context"
	"math"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"

	"pgregory.net/rapid"
)

func TestADeskHoldsEveryParameterFromTheStart(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	for _, q := range s.profile.Parameters() {
		control, _ := s.profile.Control(q)
		if v, ok := s.desk.Holds(q); !ok || v != control.Start {
			t.Errorf("%s holds %v, %v, not %v", q, v, ok, control.Start)
		}
	}
	s.mustHold("channel.1.fader", profiles.Silence) // nothing is heard of a desk that was just switched on
	s.mustHold("channel.1.input.phantom", profiles.Switch(false))
	if _, ok := s.desk.Holds(profiles.Who); ok {
		t.Error("the desk's model is no parameter")
	}
}

// A program that sets every control of the desk and then asks about it hears what it has set.
func TestEveryParameterCanBeSetAndReadBack(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	link, err := osc.DialUDP(ctx, s.desk.Addr(), osc.UDPOptions{})
	if err != nil {
		t.Fatal(err)
	}
	talk := osc.Converse(link, osc.Manner{Pace: 20_000, Burst: 20}, s.profile.Hear, nil)
	defer talk.Close()

	all := s.profile.Parameters()
	settings := make([]profiles.Setting, len(all))
	for i, q := range all {
		control, _ := s.profile.Control(q)
		v := profiles.Word("bell")
		if steps := control.Curve.Steps(); steps > 0 {
			v = control.Curve.At((i * 7) % steps)
		}
		settings[i] = profiles.Setting{Parameter: q, Value: v}
	}
	messages, held, err := tell(s.profile, settings)
	if err != nil {
		t.Fatal(err)
	}
	if err := talk.Tell(ctx, messages...); err != nil {
		t.Fatal(err)
	}
	answers, err := talk.Ask(ctx, s.profile.Ask(all), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range held {
		if got, ok := answers[want.Parameter]; !ok || got != want.Value {
			t.Errorf("%s was set to %v and answers %v, %v", want.Parameter, want.Value, got, ok)
		}
		s.mustHold(want.Parameter.String(), want.Value)
	}
	if c := s.desk.Counts(); c.Settings != len(all) || c.Questions < len(all) || c.Unplaced+c.Malformed+c.Overrun != 0 {
		t.Errorf("of %d parameters set and asked about the desk has counted %+v", len(all), c)
	}
}

func TestADeskPutsEachValueOnItsGridAndClamps(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	for _, test := range []struct {
		address string
		sent    any
		path    string
		want    profiles.Value
	}{
		{"/lane/1/front/gain", float32(0.5242), "channel.1.input.gain", profiles.Number(28.5)}, // step 69 is at 0.5227
		{"/lane/1/front/gain", float32(1.5), "channel.1.input.gain", profiles.Number(60)},
		{"/lane/1/front/gain", float32(-2), "channel.1.input.gain", profiles.Number(-6)},
		{"/lane/1/out/level", int32(0), "channel.1.fader", profiles.Silence},
		{"/lane/1/front/normal", int32(0), "channel.1.input.invert", profiles.Switch(true)},
		{"/lane/1/toward/2/tap", int32(9), "channel.1.send.2.tap", profiles.Word("post")},
		{"/hall/tag/name", "winter lectures", "main.label", profiles.Word("winter lectu")},
	} {
		s.send(test.address, test.sent)
		if e := s.await(mockdesk.Set); e.Setting.Parameter.String() != test.path || e.Setting.Value != test.want {
			t.Errorf("%s %v has set %s to %v, not %s to %v", test.address, test.sent, e.Setting.Parameter, e.Setting.Value, test.path, test.want)
		}
		s.mustHold(test.path, test.want)
		s.send(test.address)
		s.mustHear(test.path, test.want)
	}
}

func TestADeskSaysWhoItIs(t *testing.T) {
	for says, want := range map[string]string{"": "quay-24", "quay-32": "quay-32"} {
		s := newStage(t, mockdesk.Options{Says: says})
		question := s.profile.AskWho()
		s.send(question.Message.Address)
		s.mustHear(profiles.Who.String(), profiles.Word(want))
		if e := s.await(mockdesk.Asked); e.Setting.Parameter != profiles.Who {
			t.Errorf("the desk was asked about %s", e.Setting.Parameter)
		}
	}
}

func TestASilentDeskTakesEverythingAndAnswersNothing(t *testing.T) {
	s := newStage(t, mockdesk.Options{Silent: true})
	s.follow()
	s.tell("channel.1.pan", profiles.Number(-30))
	s.await(mockdesk.Set)
	s.mustHold("channel.1.pan", profiles.Number(-30))
	s.send("/quay/model")
	s.await(mockdesk.Asked)
	if _, err := s.desk.Move(s.parameter("channel.1.mute"), profiles.Switch(true)); err != nil {
		t.Fatal(err)
	}
	// All was done before Move returned: if the desk had sent anything, it would be there.
	_ = s.conn.SetReadDeadline(time.Now().Add(time.Millisecond))
	if n, err := s.conn.Read(make([]byte, 100)); err == nil {
		t.Errorf("a silent desk has sent %d bytes", n)
	}
}

func TestFollowersAreToldOfChangesButNotOfTheirOwn(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	other, stranger := s.newPeer(), s.newPeer()
	s.follow()
	other.follow()

	s.tell("channel.1.pan", profiles.Number(-30))
	other.mustHear("channel.1.pan", profiles.Number(-30))
	s.mustHearNothingYet()
	stranger.mustHearNothingYet()

	s.tell("channel.1.pan", profiles.Number(-30)) // no change
	if e := s.await(mockdesk.Set); !e.Changed {
		t.Error("a new value did not count as a change")
	}
	if e := s.await(mockdesk.Set); e.Changed {
		t.Error("the same value counted as a change")
	}
	other.mustHearNothingYet()
}

func TestFollowersAreToldUntilTheirRequestLapses(t *testing.T) {
	clock := newClock()
	s := newStage(t, mockdesk.Options{Now: clock.Now})
	move := func(pan float64) {
		t.Helper()
		if _, err := s.desk.Move(s.parameter("channel.1.pan"), profiles.Number(pan)); err != nil {
			t.Fatal(err)
		}
	}
	s.follow()
	clock.turn(8*time.Second - 1) // quay-24: lapses = "8s"
	move(1)
	s.mustHear("channel.1.pan", profiles.Number(1))

	s.follow() // asked again in time
	clock.turn(8*time.Second - 1)
	move(2)
	s.mustHear("channel.1.pan", profiles.Number(2))

	clock.turn(1)
	move(3)
	s.mustHearNothingYet()
}

func TestNoMoreThanAFewCanFollow(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	for range 64 {
		s.newPeer().follow()
	}
	s.follow() // the 65th
	if _, err := s.desk.Move(s.parameter("channel.1.pan"), profiles.Number(1)); err != nil {
		t.Fatal(err)
	}
	s.mustHearNothingYet()
}

func TestWhatIsNoSenseHarmsNothing(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	s.tell("channel.1.pan", profiles.Number(5))
	s.await(mockdesk.Set)
	for _, packet := range []string{
		"", "\x00", "nonsense", "/lane/1/out/side", "#bundle\x00", "/lane/1/out/side\x00\x00\x00\x00,f\x00\x00\x00",
		"#bundle\x00\x00\x00\x00\x00\x00\x00\x00\x01\xff\xff\xff\xff", strings.Repeat("\xff", 60_000),
	} {
		s.sendRaw([]byte(packet))
	}
	s.until(func(c mockdesk.Counts) bool { return c.Malformed == 8 })

	for _, arguments := range [][]any{
		{"left"}, {nil}, {true}, {float32(math.NaN())}, {math.Inf(1)}, {[]byte{1}}, {osc.Array{float32(0.2)}}, {osc.Impulse{}, float32(0)},
	} {
		s.send("/lane/1/out/side", arguments...)
		s.await(mockdesk.Unplaced)
	}
	s.send("/lane/3/out/side", float32(0)) // there are two channels
	s.await(mockdesk.Unplaced)
	s.send("/lane/*/out/side", float32(0))
	s.await(mockdesk.Unplaced)
	s.send("/quay/model", "another")
	s.await(mockdesk.Unplaced)
	if c := s.desk.Counts(); c.Unplaced != 11 || c.Settings != 1 {
		t.Errorf("counted %+v", c)
	}
	s.mustHold("channel.1.pan", profiles.Number(5))
}

// An old program leaves the type tags out: its arguments can't be known, so its
// message is a question and sets nothing.
func TestAMessageWithoutTypeTagsIsAQuestion(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	s.tell("channel.1.pan", profiles.Number(5))
	s.sendRaw([]byte("/lane/1/out/side\x00\x00\x00\x00\x3f\x80\x00\x00"))
	s.mustHear("channel.1.pan", profiles.Number(5))
	s.mustHold("channel.1.pan", profiles.Number(5))
}

func TestABundleIsActedOnInItsOrder(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	bundle, err := osc.EncodeBundle(
		osc.Message{Address: "/lane/1/out/mute", Arguments: []any{int32(1)}},
		osc.Message{Address: "/lane/1/out/mute"},
		osc.Message{Address: "/lane/1/out/mute", Arguments: []any{int32(0)}},
	)
	if err != nil {
		t.Fatal(err)
	}
	s.sendRaw(bundle)
	s.mustHear("channel.1.mute", profiles.Switch(true))
	s.await(mockdesk.Set)
	s.await(mockdesk.Set)
	s.mustHold("channel.1.mute", profiles.Switch(false))
}

func TestNoPacketHarmsADesk(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	rapid.Check(t, func(t *rapid.T) {
		head := rapid.SampledFrom([]string{"", "/lane/1/out/side\x00\x00\x00\x00", "#bundle\x00\x00\x00\x00\x00\x00\x00\x00\x01", "/lane/1/tag/name\x00\x00\x00\x00,s\x00\x00"}).Draw(t, "head")
		s.sendRaw(append([]byte(head), rapid.SliceOfN(rapid.Byte(), 0, 64).Draw(t, "rest")...))
	})
	// The desk still has its wits: what was sent first is answered first, so that all
	// has been taken when the model is told.
	s.send("/quay/model")
	for s.receive().Address != "/quay/model" {
	}
}

func TestADeskCantStartWhereAnotherRunsOrWhereThereIsNothing(t *testing.T) {
	first := newStage(t, mockdesk.Options{})
	for listen, want := range map[string]string{
		first.desk.Addr():    "is another one running there? choose another port",
		"127.0.0.1:notaport": `mock desk: listen on "127.0.0.1:notaport"`,
		"192.0.2.1:9000":     "mock desk: listen on 192.0.2.1:9000", // an address for documentation (RFC 5737)
	} {
		d, err := mockdesk.Start(quay(t), mockdesk.Options{Listen: listen})
		if err == nil {
			d.Close()
		}
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, not %s", listen, err, want)
		}
	}
}

// goleak, after all tests, sees whether anything was left running.
func TestCloseEndsADeskInTheMiddleOfEverything(t *testing.T) {
	for _, trouble := range []mockdesk.Trouble{
		{In: mockdesk.Way{Delay: time.Hour}},
		{Out: mockdesk.Way{Delay: time.Hour}},
		{In: mockdesk.Way{Reorder: 1}, Out: mockdesk.Way{Reorder: 1}},
		{Rate: 1e-6},
	} {
		desk, err := mockdesk.Start(quay(t), mockdesk.Options{Trouble: trouble})
		if err != nil {
			t.Fatal(err)
		}
		conn, err := net.Dial("udp", desk.Addr())
		if err != nil {
			t.Fatal(err)
		}
		packet, _ := osc.Message{Address: "/quay/model"}.Encode()
		for range 50 {
			_, _ = conn.Write(packet) // refused once the desk is closed
		}
		conn.Close()
		for range 2 {
			if err := desk.Close(); err != nil {
				t.Error(err)
			}
		}
	}
}

func TestADeskMayBeUsedFromSeveralGoroutines(t *testing.T) {
	s := newStage(t, mockdesk.Options{Trouble: mockdesk.Trouble{In: mockdesk.Way{Reorder: 0.5, Double: 0.5}, Out: mockdesk.Way{Lose: 0.5}}})
	q := s.parameter("channel.1.pan")
	s.follow()
	var all sync.WaitGroup
	for i, do := range []func(){
		func() { _, _ = s.desk.Move(q, profiles.Number(1)) },
		func() { _ = s.desk.MoveAfter(2, profiles.Setting{Parameter: q, Value: profiles.Number(2)}) },
		func() { s.desk.Restart(0) },
		func() { s.desk.RestartAfter(3, 0) },
		func() { s.desk.Misbehave(mockdesk.Trouble{Rate: 1e4, Queue: 3}) },
		func() { s.desk.Holds(q) },
		func() { s.desk.Counts() },
	} {
		peer := s.newPeer()
		all.Go(func() {
			for n := range 20 {
				do()
				packet, _ := osc.Message{Address: "/lane/1/out/side", Arguments: []any{float32(i*20+n) / 200}}.Encode()
				_, _ = peer.conn.Write(packet)
			}
		})
	}
	all.Wait()
}
