package agent_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/scenes/agent"
	"deskhand/scenes/recall"
)

// evening runs the example's running order: opening, ballads, the bell, questions.
func eventOf(t *testing.T, edits ...string) *stage {
	t.Helper()
	s := newStage(t, edits...)
	s.runOrder()
	return s
}

var live = agent.Options{Order: "winter-talks", Live: true}

func (s *stage) runOrder() {
	s.t.Helper()
	s.run(live)
	s.foreseen()
}

// foreseen waits until the next scene is worked out, or there is none.
func (s *stage) foreseen() *agent.View {
	s.t.Helper()
	return s.view("the next scene is worked out", func(v *agent.View) bool { return v.Order != nil && (v.Next == nil || !v.Next.Unread) })
}

// isOn holds the view against the number of the scene that is to be on.
func (s *stage) isOn(number int) {
	s.t.Helper()
	if got := s.agent.View().Number; got != number {
		s.t.Fatalf("scene %d is on, not %d", got, number)
	}
}

func next(from int) agent.Ask { return agent.AskNext{From: from} }

// mute of a channel on the mock desk.
func (s *stage) mustBeMuted(muted bool, channels ...int) {
	s.t.Helper()
	for _, n := range channels {
		s.mustHold(fmt.Sprintf("channel.%d.mute", n), muted)
	}
}

// The lectern is channel 3, the left of the table 5, the bench 6 and the roving one 7.
func TestARunningOrderIsPlayedFromItsFirstSceneToItsLast(t *testing.T) {
	s := eventOf(t)
	s.isOn(0)
	s.ask(next(0))
	s.mustHold("channel.3.label", "Botanist")
	s.mustHold("channel.5.label", "Pilot")
	s.mustBeMuted(false, 3, 5)
	s.ask(next(1))
	s.mustHold("channel.3.label", "Poet")
	s.mustBeMuted(false, 3)
	s.mustBeMuted(true, 5, 6, 7)
	s.ask(next(2))
	s.mustBeMuted(false, 3, 6)
	s.ask(next(3))
	s.mustBeMuted(false, 3, 7)
	s.mustBeMuted(true, 5, 6)
	if v := s.agent.View(); v.NextItem() != nil || v.Next != nil || v.Item().Title != "Questions" {
		t.Errorf("after the last one, %v is next", v.NextItem())
	}
	if err := s.refused(next(4)); !strings.Contains(err.Error(), "no more scenes") {
		t.Errorf("after the last one: %v", err)
	}
	s.ask(agent.AskBack{From: 4})
	s.isOn(3)
	s.mustBeMuted(false, 3, 6)
}

func TestWhoAsksTwiceOrBesideAnotherMovesByOneScene(t *testing.T) {
	s := eventOf(t)
	s.ask(next(0))
	var beside *agent.Beside
	if err := s.refused(next(0)); !errors.As(err, &beside) || beside.On != 1 {
		t.Errorf("the second one got %v", err)
	}
	s.isOn(1)
}

func TestUndoTakesBackTheStepInTheRunningOrderToo(t *testing.T) {
	s := eventOf(t)
	s.ask(next(0))
	s.ask(next(1))
	s.ask(agent.AskSwap{Position: "lectern", Performer: "pilot"})
	s.ask(agent.AskUndo{}) // the swap, which was no step
	s.isOn(2)
	s.mustHold("channel.3.label", "Poet")
	s.ask(agent.AskUndo{})
	s.isOn(1)
	s.mustHold("channel.3.label", "Botanist")
	s.mustBeMuted(false, 5)
}

func TestAnEventGoesOnWhereItWasInTheSameEvening(t *testing.T) {
	s := eventOf(t)
	s.ask(next(0))
	s.ask(next(1))
	s.again(live)
	s.isOn(2)
	s.stop()
	// A scene before it is taken out of the file while nothing runs: the title tells.
	s.edit("running-orders/winter-talks.toml", `[[scenes]]
scene = "opening"
start = "19:30"
length = "45m"
notes = "House lights down first. The pilot leans in when he laughs."
`, "")
	s.run(live)
	s.isOn(1)
	if got := s.agent.View().Item().Title; got != "Ballads" {
		t.Errorf("%q is on", got)
	}
	from := live
	from.FromStart = true
	s.again(from)
	s.isOn(0)
}

func TestAnotherEveningBeginsAnew(t *testing.T) {
	s := eventOf(t)
	s.ask(next(0))
	s.stop()
	s.edit(".deskhand/net-loft/state.toml", "since = "+time.Now().Format("2006-"), "since = 2001-")
	s.run(live)
	s.isOn(0)
}

func TestTheNextSceneIsKeptWorkedOutWhileTheDeskIsFollowed(t *testing.T) {
	s := eventOf(t)
	s.ask(next(0))
	differs := func(v *agent.View, path string) bool {
		if v.Next == nil || v.Next.Plan == nil {
			return false
		}
		for _, c := range v.Next.Plan.Changes() {
			if c.Parameter.String() == path {
				return true
			}
		}
		return false
	}
	if v := s.foreseen(); differs(v, "channel.7.pan") || !differs(v, "channel.3.compressor.on") {
		t.Fatalf("before: %v", v.Next.Plan.Changes())
	}
	// Nobody is on the roving microphone; the scene wants its low cut at 120 Hz.
	s.ask(next(1))
	s.ask(agent.AskBack{From: 2})
	s.foreseen()
	s.hand("channel.7.lowcut.frequency", profiles.Number(300))
	s.view("the moved low cut is ahead", func(v *agent.View) bool { return differs(v, "channel.7.lowcut.frequency") })
	s.edit("performers/poet.toml", "pan = 0", "pan = 20")
	s.view("the saved pan is ahead", func(v *agent.View) bool { return differs(v, "channel.3.pan") })
}

// What is ahead of a desk that doesn't answer is not known.
func TestNothingIsSaidToBeAheadOfASilentDesk(t *testing.T) {
	s := eventOf(t)
	s.ask(next(0))
	s.foreseen()
	s.mock.Restart(patience)
	s.view("the desk is silent, and what is ahead not known", func(v *agent.View) bool {
		return v.Desk == agent.DeskSilent && v.Next.Unread && v.Next.Plan == nil
	})
}

// The next key is taken as soon as all is confirmed: a place that somebody has come to is read
// before the recall, and not once more after it.
func TestWhoComesByARecallIsNotReadOnceMore(t *testing.T) {
	const bystander = "channel.5.input.delay" // which no scene speaks of
	s := newStage(t)
	s.times.Look, s.times.Rest = time.Hour, time.Hour
	s.runOrder()
	before := s.timesAsked(bystander)
	s.ask(next(0))
	if v := s.agent.View(); v.Positions[1].Performer != "pilot" || v.Positions[1].Proof != agent.Proved {
		t.Errorf("the left of the table is %+v", v.Positions[1])
	}
	if got := s.timesAsked(bystander) - before; got != 1 {
		t.Errorf("%s was asked for %d times, not once", bystander, got)
	}
}

func TestAFaultInTheNextSceneShowsBeforeItMatters(t *testing.T) {
	s := eventOf(t)
	s.ask(next(0))
	good := s.read("performers/poet.toml")
	s.save("performers/poet.toml", good+"\n[strip.eq.3]\nfrequncy = 300.0\n")
	v := s.view("the fault shows", func(v *agent.View) bool { return v.Next != nil && v.Next.Err != nil })
	if !strings.Contains(v.Next.Err.Error(), "frequncy") {
		t.Errorf("the fault is %v", v.Next.Err)
	}
	if err := s.refused(next(1)); !strings.Contains(err.Error(), "frequncy") {
		t.Errorf("the key gets %v", err)
	}
	s.isOn(1)
	s.save("performers/poet.toml", good)
	s.view("the fault is gone", func(v *agent.View) bool { return v.Next != nil && v.Next.Err == nil && v.Next.Plan != nil })
	s.ask(next(1))
}

func TestAFaultInTheRunningOrderLeavesItAsItWas(t *testing.T) {
	s := eventOf(t)
	s.ask(next(0))
	good := s.read("running-orders/winter-talks.toml")
	s.save("running-orders/winter-talks.toml", good+"\n[[scenes]]\nscene = \"balads\"\n")
	e := s.until(agent.Fault)
	if !strings.Contains(e.Faults.Error(), `did you mean "ballads"?`) {
		t.Errorf("told: %v", e.Faults)
	}
	s.ask(next(1))
	s.save("running-orders/winter-talks.toml", good+"\n[[scenes]]\ntitle = \"Good night\"\n[scenes.positions.roving]\nopen = false\n")
	s.view("the new scene is there", func(v *agent.View) bool { return len(v.Order.Items) == 5 })
	s.isOn(2)
}

func TestWhatGetsTooLoudIsKnownAheadAndLetThroughOnlyOnceAllowed(t *testing.T) {
	s := eventOf(t)
	s.ask(next(0))
	s.edit("performers/poet.toml", "fader = -6.0", "fader = 8.0")
	s.edit("venues/net-loft.toml", "rise = 12.0", "rise = 3.0")
	v := s.view("the limit shows", func(v *agent.View) bool { return v.Next != nil && v.Next.Refused != nil })
	var refused *recall.Refused
	if err := s.refused(next(1)); !errors.As(err, &refused) || refused.Rise == 0 || refused.Rise != v.Next.Refused.Rise {
		t.Fatalf("the key gets %v, ahead was %v", err, v.Next.Refused)
	}
	s.isOn(1)
	s.ask(agent.AskNext{From: 1, Rise: refused.Rise + 0.1})
	s.mustHold("channel.3.fader", 8.0)
}

func TestHeldMeansThatNothingIsSent(t *testing.T) {
	s := eventOf(t)
	s.agent.Hold(true)
	for _, ask := range []agent.Ask{next(0), agent.AskSwap{Position: "lectern", Performer: "poet"}, agent.AskUndo{}, agent.AskMute{}} {
		if err := s.refused(ask); !errors.Is(err, agent.ErrHeld) {
			t.Errorf("%s got %v", ask, err)
		}
	}
	s.hand("channel.3.fader", profiles.Number(-3))
	s.view("the hand shows all the same", func(v *agent.View) bool { return len(v.Positions[0].Moves) == 1 })
	if e := s.agent.Ask(t.Context(), agent.AskKeep{Position: "lectern"}); e.Err != nil || e.Kind != agent.Wrote {
		t.Errorf("keep sends nothing, and came to %s", sayEvent(e))
	}
	s.agent.Hold(false)
	s.ask(next(0))
}

func TestAHandsMovesShowAndAKeyKeepsThem(t *testing.T) {
	s := eventOf(t)
	s.ask(next(0))
	s.hand("channel.3.fader", profiles.Number(-4))
	s.hand("channel.3.eq.2.gain", profiles.Number(-1.5))
	s.view("both moves show", func(v *agent.View) bool {
		return len(v.Positions[0].Moves) == 2 && v.Positions[0].Proof == agent.Proved
	})
	e := s.agent.Ask(t.Context(), agent.AskKeep{Position: "lectern"})
	if e.Kind != agent.Wrote || e.Err != nil {
		t.Fatalf("keep: %s", sayEvent(e))
	}
	text := s.read(botanist)
	for _, line := range []string{"fader = -4.0\n", "gain = -1.5\n"} {
		if !strings.Contains(text, line) {
			t.Errorf("the file lacks %q:\n%s", line, text)
		}
	}
	s.view("nothing is left to keep", func(v *agent.View) bool { return len(v.Positions[0].Moves) == 0 })
	if e := s.agent.Ask(t.Context(), agent.AskKeep{Position: "lectern"}); e.Kind != agent.Moved || e.Err != nil {
		t.Errorf("keep once more: %s", sayEvent(e))
	}
	if e := s.agent.Ask(t.Context(), agent.AskKeep{Position: "lectrn"}); e.Err == nil || !strings.Contains(e.Err.Error(), `"lectern"`) {
		t.Errorf("keep of a wrong word: %s", sayEvent(e))
	}
}

func TestMuteAllReadsAndSendsNothingButMutes(t *testing.T) {
	s := eventOf(t)
	s.ask(next(0))
	s.ask(agent.AskMute{})
	s.mustBeMuted(true, 3, 5, 6, 7)
	s.mustHold("channel.3.label", "Botanist")
	v := s.agent.View()
	if got := v.Positions[0]; got.Performer != "botanist" || got.Scene != "opening" || got.Proof != agent.Proved {
		t.Errorf("the lectern is %+v", got)
	}
	s.isOn(1)
	s.ask(agent.AskItem{Number: 1}) // the same scene opens what it wants open
	s.mustBeMuted(false, 3, 5)
}

func TestMuteAllCutsShortWhatIsBeingDone(t *testing.T) {
	s := eventOf(t, "pace = 20000 ", "pace = 60 ", "burst = 256 ", "burst = 4 ")
	begun := make(chan struct{}, 1000)
	s.atSet(func(profiles.Setting) { begun <- struct{}{} })
	outcome := make(chan agent.Event, 1)
	go func() { outcome <- s.agent.Ask(t.Context(), next(0)) }()
	<-begun // the first mute
	s.ask(agent.AskMute{})
	if e := <-outcome; e.Err == nil {
		t.Errorf("the scene was not cut short: %s", sayEvent(e))
	}
	s.mustBeMuted(true, 3, 5, 6, 7)
	s.isOn(0)
	s.ask(next(0)) // and the same key goes on from there
	s.mustBeMuted(false, 3, 5)
}

func TestWhatIsForAHandIsAskedForWhileMuted(t *testing.T) {
	s := eventOf(t, `input.gain = { at = "/lane/{channel}/front/gain",`, `input.gain = { by-hand = "turn the gain knob",`)
	outcome := make(chan agent.Event, 2)
	for n, done := range []bool{false, true} {
		go func() { outcome <- s.agent.Ask(t.Context(), next(0)) }()
		v := s.view("a hand is asked", func(v *agent.View) bool { return len(v.ByHand) > 0 })
		if got := v.ByHand[0].Parameter.String(); got != "channel.5.input.gain" {
			t.Errorf("for a hand: %s", got)
		}
		s.mustBeMuted(true, 5)
		s.agent.HandDid(done)
		e := <-outcome
		if complete := e.Result != nil && e.Result.Complete(); complete != done {
			t.Fatalf("time %d: complete %v, the hand did it %v: %s", n+1, complete, done, sayEvent(e))
		}
		s.mustBeMuted(!done, 5)
	}
	s.isOn(1)
}

func TestTheEventGoesOnAfterItsLastSceneIsOn(t *testing.T) {
	s := eventOf(t)
	for number := range 4 {
		s.ask(next(number))
	}
	s.hand("channel.3.fader", profiles.Number(-3)) // which is seen later than the next scene would be worked out
	s.view("the hand shows", func(v *agent.View) bool { return len(v.Positions[0].Moves) == 1 && v.Next == nil })
	s.isOn(4)
}
