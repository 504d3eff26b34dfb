package agent_test

import (
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/agent"
)

func TestASwapBesideItIsNoHandMove(t *testing.T) {
	s := newStage(t)
	s.run(both)
	texts := s.read(botanist)
	s.swap("lectern", "pilot")
	s.hand("channel.3.fader", number(-4))
	e := s.expect(agent.Wrote, "channel.3.fader -8 -> -4")
	if e.Performer != "pilot" || s.read(botanist) != texts {
		t.Errorf("it went to %s", e.Performer)
	}
	s.sent()
	s.edit(botanist, "fader = -6.0", "fader = -7.0") // who is off
	s.edit(pilot, "fader = -4.0", "fader = -5.0")
	s.confirmed("channel.3.fader -4 -> -5")
}

// A slow recall of another command's looks like hands at work for longer than any rest.
func TestASlowSwapBesideItIsNoHandMove(t *testing.T) {
	s := newStage(t)
	s.run(both)
	texts := s.read(botanist) + s.read(pilot)
	s.mock.Misbehave(mockdesk.Trouble{Rate: 150})
	s.swap("lectern", "pilot")
	s.mock.Misbehave(noTrouble)
	s.hand("channel.3.pan", number(30))
	s.expect(agent.Wrote, "channel.3.pan -10 -> 30")
	if s.read(botanist)+s.read(pilot) != replaced(t, texts, "pan = -10", "pan = 30") {
		t.Error("what the swap did went into a file")
	}
}

// halfWay has the agent run beside a recall of another command's that has moved the lectern's
// fader, and remembers so much of it. Its end remembers more.
func (s *stage) halfWay(held scenes.Values) (end func(scenes.Values)) {
	s.t.Helper()
	s.swap("table-left", "pilot")
	s.run(both)
	remember := func(held scenes.Values, change func(unfinished map[string]bool)) {
		s.t.Helper()
		memory, err := s.readBook().Memory(s.venue)
		check(s, err)
		change(memory.Unfinished)
		memory.Hold(held)
		check(s, memory.Save(time.Now()))
	}
	remember(held, func(unfinished map[string]bool) { unfinished["lectern"] = true })
	s.hand("channel.3.fader", number(-4))
	s.hand("channel.5.fader", number(-4)) // of a position beside it
	s.expect(agent.Wrote, "channel.5.fader -8 -> -4")
	return func(held scenes.Values) {
		s.t.Helper()
		remember(held, func(unfinished map[string]bool) { delete(unfinished, "lectern") })
	}
}

// What moves on a position while a recall of another command's is under way there is that
// recall's, however long it pauses.
func TestWhatMovesDuringARecallBesideItIsNoHandMove(t *testing.T) {
	s := newStage(t)
	text := s.read(botanist)
	end := s.halfWay(nil)
	s.hand("channel.5.pan", number(0))
	s.expect(agent.Wrote, "channel.5.pan -10 -> 0")
	if s.read(botanist) != text {
		t.Error("it went into her file")
	}
	end(scenes.Values{parameter(t, "channel.3.fader"): number(-4)}) // with what it has set
	s.expect(agent.Held, "channel.3.fader -4 -> -6")
	s.mustSend()
}

// What is remembered is two files: at a recall's end, the agent may read the one that is
// written first before the other.
func TestARecallBesideItWhoseEndIsReadHalfWayIsNoHandMove(t *testing.T) {
	s := newStage(t)
	text := s.read(botanist)
	end := s.halfWay(scenes.Values{parameter(t, "channel.3.fader"): number(-4)})
	end(nil)
	s.expect(agent.Held, "channel.3.fader -4 -> -6")
	if s.read(botanist) != text {
		t.Error("it went into her file")
	}
	s.mustSend()
}

func TestAHandMoveThatASwapFoundIsNotTheNextPerformers(t *testing.T) {
	s := newStage(t)
	s.run(both)
	texts := s.read(pilot)
	s.hand("channel.3.gate.threshold", number(-50)) // no file says it
	s.swap("lectern", "pilot")
	s.hand("channel.3.pan", number(30))
	for { // it may have gone into the file of the one before, if that was faster
		if e := s.until(agent.Wrote); e.Performer == "pilot" {
			break
		}
	}
	if s.read(pilot) != replaced(t, texts, "pan = -10", "pan = 30") {
		t.Error("it went to the next performer")
	}
}

func TestAnUndoBesideItIsNotRecalledAgain(t *testing.T) {
	s := newStage(t)
	s.run(both)
	s.edit(botanist, "fader = -6.0", "fader = -4.0")
	s.confirmed("channel.3.fader -6 -> -4")
	s.sent()
	s.undo()
	s.mustSend("channel.3.fader")
	s.expect(agent.Held, "channel.3.fader -6 -> -4")
	s.edit(botanist, "pan = 0", "pan = 10")
	s.confirmed("channel.3.pan 0 -> 10")
	s.mustSend("channel.3.pan")
	s.mustHold("channel.3.fader", -6.0)
	// An undo of a swap puts the one before on again.
	s.swap("lectern", "pilot")
	s.undo()
	s.hand("channel.3.main", profiles.Switch(false))
	if e := s.until(agent.Wrote); e.Performer != "botanist" {
		t.Errorf("it went to %s", e.Performer)
	}
}

func TestAPerformerWhoIsTakenOff(t *testing.T) {
	s := newStage(t)
	s.swap("table-left", "pilot")
	s.run(both)
	text := s.read(botanist)
	s.swap("lectern", "")
	s.hand("channel.3.fader", number(-20))
	s.edit(botanist, "fader = -6.0", "fader = -4.0")
	s.hand("channel.5.fader", number(-4))
	s.expect(agent.Wrote, "channel.5.fader -8 -> -4")
	if s.read(botanist) != replaced(t, text, "fader = -6.0", "fader = -4.0") {
		t.Error("her file was changed")
	}
}
