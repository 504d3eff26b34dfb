package mockdesk_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"

	"github.com/google/go-cmp/cmp"
)

func TestAHandMovesAControlAndFollowersAreTold(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	s.follow()
	q := s.parameter("channel.2.input.gain")
	held, err := s.desk.Move(q, profiles.Number(28.7)) // steps of half a dB
	if err != nil || held != profiles.Number(28.5) {
		t.Errorf("the hand has set %v, %v", held, err)
	}
	e := s.await(mockdesk.HandMove)
	if e.Setting != (profiles.Setting{Parameter: q, Value: held}) || !e.Changed {
		t.Errorf("what happened was %+v", e)
	}
	s.mustHold("channel.2.input.gain", held)
	s.mustHear("channel.2.input.gain", held)

	if _, err := s.desk.Move(q, held); err != nil {
		t.Fatal(err)
	}
	if e := s.await(mockdesk.HandMove); e.Changed {
		t.Error("a hand that moved nothing has changed something")
	}
	s.mustHearNothingYet()
}

func TestAHandCantMoveWhatIsNotThere(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	for path, want := range map[string]string{
		"channel.3.pan":        "channel.3.pan: quay-24 has no such parameter",
		"channel.1.input.gain": "channel.1.input.gain: 200.0 dB is out of the desk's range, -6.0 dB to 60.0 dB",
	} {
		q := s.parameter(path)
		if _, err := s.desk.Move(q, profiles.Number(200)); fmt.Sprint(err) != want {
			t.Errorf("%v, not %s", err, want)
		}
		if err := s.desk.MoveAfter(1, profiles.Setting{Parameter: q, Value: profiles.Number(200)}); fmt.Sprint(err) != want {
			t.Errorf("%v, not %s", err, want)
		}
	}
}

func TestAHandMovesInTheMiddleOfARecall(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	other := s.newPeer()
	other.follow()
	fader := profiles.Setting{Parameter: s.parameter("channel.1.fader"), Value: profiles.Number(-10)}
	if err := s.desk.MoveAfter(2, fader); err != nil {
		t.Fatal(err)
	}
	s.tell("channel.1.fader", profiles.Number(-20))
	s.tell("channel.1.pan", profiles.Number(7))
	s.tell("channel.1.mute", profiles.Switch(true))
	other.mustHear("channel.1.fader", profiles.Number(-20))
	other.mustHear("channel.1.pan", profiles.Number(7))
	other.mustHear("channel.1.fader", profiles.Number(-10)) // the hand, before what came next
	other.mustHear("channel.1.mute", profiles.Switch(true))
	s.mustHold("channel.1.fader", profiles.Number(-10))
}

func TestARestartForgetsEverythingAndHearsNothingForAWhile(t *testing.T) {
	clock := newClock()
	s := newStage(t, mockdesk.Options{Now: clock.Now})
	s.follow()
	s.tell("channel.1.pan", profiles.Number(7))
	s.await(mockdesk.Set)
	s.desk.Restart(3 * time.Second)
	s.await(mockdesk.Restarted)
	s.mustHold("channel.1.pan", profiles.Number(0))

	s.tell("channel.1.pan", profiles.Number(8))
	s.until(func(c mockdesk.Counts) bool { return c.Missed == 1 })
	clock.turn(3 * time.Second)
	s.mustHearNothingYet() // which is answered, now that the desk is there again
	s.mustHold("channel.1.pan", profiles.Number(0))

	if _, err := s.desk.Move(s.parameter("channel.1.pan"), profiles.Number(9)); err != nil {
		t.Fatal(err)
	}
	s.mustHearNothingYet() // the request to follow was forgotten too
}

func TestADeskRestartsInTheMiddleOfARecall(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	s.desk.RestartAfter(2, 0)
	s.tell("channel.1.mute", profiles.Switch(true))
	s.tell("channel.2.mute", profiles.Switch(true))
	s.await(mockdesk.Restarted)
	s.tell("main.mute", profiles.Switch(true))
	s.mustHearNothingYet() // all three were taken
	s.mustHold("channel.1.mute", profiles.Switch(false))
	s.mustHold("channel.2.mute", profiles.Switch(false))
	s.mustHold("main.mute", profiles.Switch(true))
}

func TestARestartInTheMiddleOfABundleDropsTheRestOfIt(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	s.desk.RestartAfter(1, 0)
	bundle, err := osc.EncodeBundle(
		osc.Message{Address: "/lane/1/out/mute", Arguments: []any{int32(1)}},
		osc.Message{Address: "/lane/2/out/mute", Arguments: []any{int32(1)}},
	)
	if err != nil {
		t.Fatal(err)
	}
	s.sendRaw(bundle)
	s.await(mockdesk.Restarted)
	s.mustHearNothingYet()
	s.mustHold("channel.1.mute", profiles.Switch(false))
	s.mustHold("channel.2.mute", profiles.Switch(false))
}

// A desk that takes a message every two weeks takes the first of a hundred, keeps ten
// waiting, and drops what comes while those wait. Whether the first has left the queue
// before the eleventh comes is a matter of moments.
func TestADeskDropsWhatItsQueueHasNoRoomFor(t *testing.T) {
	s := newStage(t, mockdesk.Options{Trouble: mockdesk.Trouble{Rate: 1e-6, Queue: 10}})
	for i := range 100 {
		s.send("/lane/1/out/side", float32(i)/200)
	}
	s.until(func(c mockdesk.Counts) bool { return c.Received == 100 && c.Settings == 1 })
	overrun := s.desk.Counts().Overrun
	if overrun != 89 && overrun != 90 {
		t.Errorf("%d packets were dropped, not 89 or 90", overrun)
	}
	s.desk.Misbehave(mockdesk.Trouble{}) // the queue goes on at once, at the new pace
	s.mustHearNothingYet()
	if c := s.desk.Counts(); c.Settings != 100-overrun || c.Overrun != overrun {
		t.Errorf("after %d dropped of 100 the desk has counted %+v", overrun, c)
	}
}

func TestARestartForgetsWhatWaitsInTheQueue(t *testing.T) {
	s := newStage(t, mockdesk.Options{Trouble: mockdesk.Trouble{Rate: 1e-6}})
	for range 5 {
		s.tell("channel.1.mute", profiles.Switch(true))
	}
	s.until(func(c mockdesk.Counts) bool { return c.Received == 5 && c.Settings == 1 })
	s.desk.Restart(0)
	s.desk.Misbehave(mockdesk.Trouble{})
	s.mustHearNothingYet()
	s.mustHold("channel.1.mute", profiles.Switch(false))
}

// lost gives which of a hundred settings a desk with this trouble has not taken.
func lost(t *testing.T, trouble mockdesk.Trouble) []int {
	t.Helper()
	s := newStage(t, mockdesk.Options{Trouble: trouble})
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	link, err := osc.DialUDP(ctx, s.desk.Addr(), osc.UDPOptions{})
	if err != nil {
		t.Fatal(err)
	}
	talk := osc.Converse(link, osc.Manner{Tries: 100}, s.profile.Hear, nil)
	defer talk.Close()
	var settings []profiles.Setting
	for i := range 100 {
		settings = append(settings, profiles.Setting{Parameter: s.parameter("channel.1.pan"), Value: profiles.Number(float64(i + 1))})
	}
	messages, _, err := tell(s.profile, settings)
	if err != nil {
		t.Fatal(err)
	}
	if err := talk.Tell(ctx, messages...); err != nil {
		t.Fatal(err)
	}
	// A question is asked until it gets through, and packets keep their order here.
	if answers, err := talk.Ask(ctx, s.profile.Ask([]profiles.Parameter{s.parameter("channel.1.pan")}), nil); err != nil || len(answers) != 1 {
		t.Fatalf("%v, %v", answers, err)
	}
	taken := make(map[profiles.Value]bool)
	for len(s.events) > 0 {
		if e := <-s.events; e.What == mockdesk.Set {
			taken[e.Setting.Value] = true
		}
	}
	var missing []int
	for i, setting := range settings {
		if !taken[setting.Value] {
			missing = append(missing, i)
		}
	}
	return missing
}

func TestTheSameSeedLosesTheSamePackets(t *testing.T) {
	trouble := mockdesk.Trouble{Seed: 5, In: mockdesk.Way{Lose: 0.3}}
	first := lost(t, trouble)
	// Of 100 packets lost with 0.3 each, fewer than 12 or more than 50 are lost in one
	// of some 50,000 seeds: four standard deviations of 4.6.
	if len(first) < 12 || len(first) > 50 {
		t.Errorf("%d of 100 packets were lost, not about 30", len(first))
	}
	if diff := cmp.Diff(first, lost(t, trouble)); diff != "" {
		t.Error(diff)
	}
	trouble.Seed = 6
	if cmp.Equal(first, lost(t, trouble)) {
		t.Error("another seed has lost the same packets")
	}
	if missing := lost(t, mockdesk.Trouble{Seed: 5}); len(missing) > 0 {
		t.Errorf("a good network has lost %v", missing)
	}
}

func TestAnswersMayBeLostThoughTheDeskHasTakenAll(t *testing.T) {
	s := newStage(t, mockdesk.Options{Trouble: mockdesk.Trouble{Out: mockdesk.Way{Lose: 1}}})
	s.tell("channel.1.pan", profiles.Number(7))
	s.send("/lane/1/out/side")
	s.await(mockdesk.Asked)
	s.mustHold("channel.1.pan", profiles.Number(7))
	s.desk.Misbehave(mockdesk.Trouble{})
	s.mustHearNothingYet()
}

func TestPacketsMayComeTwice(t *testing.T) {
	s := newStage(t, mockdesk.Options{Trouble: mockdesk.Trouble{In: mockdesk.Way{Double: 1}, Out: mockdesk.Way{Double: 1}}})
	s.tell("channel.1.pan", profiles.Number(7))
	for range 2 {
		if e := s.await(mockdesk.Set); e.Setting.Value != profiles.Number(7) {
			t.Errorf("set %v", e.Setting)
		}
	}
	s.send("/lane/1/out/side") // two questions, of which each is answered twice
	for range 4 {
		s.mustHear("channel.1.pan", profiles.Number(7))
	}
}

func TestPacketsMayComeLateAndOutOfOrderButAllOfThemCome(t *testing.T) {
	for name, way := range map[string]mockdesk.Way{"held back": {Reorder: 0.5}, "delayed": {Delay: 10 * time.Millisecond}} {
		t.Run(name, func(t *testing.T) {
			s := newStage(t, mockdesk.Options{Trouble: mockdesk.Trouble{Seed: 1, In: way, Out: way}})
			came := make(map[profiles.Value]bool)
			var order []float64
			for i := range 50 {
				s.tell("channel.1.pan", profiles.Number(float64(i+1)))
			}
			for range 50 {
				v := s.await(mockdesk.Set).Setting.Value
				came[v] = true
				n, _ := v.Number()
				order = append(order, n)
			}
			if len(came) != 50 {
				t.Errorf("only %d of 50 values came", len(came))
			}
			overtaken := 0
			for i := range order[1:] {
				if order[i+1] < order[i] {
					overtaken++
				}
			}
			if overtaken == 0 {
				t.Error("no packet has overtaken another")
			}
			s.send("/quay/model")
			s.mustHear(profiles.Who.String(), profiles.Word("quay-24"))
		})
	}
}
