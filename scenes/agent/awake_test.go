package agent_test

import (
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/agent"
	"deskhand/scenes/desk"
)

// wallClock is the machine's, whose wall clock is set, or goes on while the machine sleeps.
type wallClock struct {
	clock desk.Clock
	mu    sync.Mutex
	ahead time.Duration
}

func (c *wallClock) now() desk.Moment {
	c.mu.Lock()
	defer c.mu.Unlock()
	m := c.clock()
	m.Wall = m.Wall.Add(c.ahead)
	return m
}

func (c *wallClock) jump(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.ahead += d
}

// jumps puts such a clock into the agent.
func (s *stage) jumps() *wallClock {
	s.clock = &wallClock{clock: desk.MachineClock()}
	return s.clock
}

// watching has the agent run, both ways, with a look of its own at the desk so often.
func watching(t *testing.T, look time.Duration) (*stage, *wallClock) {
	t.Helper()
	s := newStage(t)
	s.times.Look = look
	clock := s.jumps()
	s.run(both)
	return s, clock
}

// awoke waits for the agent to notice a sleep, and to meet the desk anew.
func (s *stage) awoke(text string, changes ...string) {
	s.t.Helper()
	if e := s.expect(agent.Awoke); !strings.HasPrefix(e.Text, text) {
		s.t.Fatalf("it says %q, not %q", e.Text, text)
	}
	if back := s.expect(agent.Back); strings.Join(sayChanges(back), "; ") != strings.Join(changes, "; ") {
		s.t.Fatalf("changed meanwhile: %q, not %q", sayChanges(back), changes)
	}
}

const anHour = "the computer slept for 1 h 0 min, or its clock was set forward by as much"

func TestAfterASleepOfAnHourTheDeskIsMetAnewAndNothingIsSent(t *testing.T) {
	s, clock := watching(t, quick.Look)
	clock.jump(time.Hour)
	s.awoke(anHour)
	s.mustSend()
	// It goes on as before, in both ways.
	s.hand("channel.3.fader", number(-4))
	s.expect(agent.Wrote)
	s.edit(botanist, "gain = -3.0", "gain = -2.0")
	s.confirmed("channel.3.eq.2.gain -3 -> -2")
}

func TestWhatAHandMovedWhileTheComputerSleptIsToldAndGoesIntoNoFile(t *testing.T) {
	s, clock := watching(t, time.Hour)
	file := s.read(botanist)
	s.mock.Misbehave(mockdesk.Trouble{Out: mockdesk.Way{Lose: 1}}) // as to a computer that is asleep
	s.hand("channel.3.fader", number(-4))
	s.mock.Misbehave(mockdesk.Trouble{})
	clock.jump(time.Hour)
	s.awoke(anHour, "channel.3.fader -6 -> -4")
	s.expect(agent.Held, "channel.3.fader -4 -> -6")
	s.mustSend()
	if s.read(botanist) != file {
		t.Error("the file was written")
	}
}

func TestADeskThatWasSwitchedOffAndOnWhileTheComputerSleptIsNotSetUnasked(t *testing.T) {
	s, clock := watching(t, time.Hour)
	s.mock.Restart(0)
	clock.jump(time.Hour)
	s.expect(agent.Awoke)
	if back := s.expect(agent.Back); len(back.Changes) < 5 {
		t.Fatalf("only %q is told", sayChanges(back))
	}
	s.mustSend()
}

func TestAClockThatIsSetBackIsToldAndStopsNothing(t *testing.T) {
	s, clock := watching(t, quick.Look)
	clock.jump(-time.Hour)
	if e := s.expect(agent.Awoke); e.Text != "the clock was set back by 1 h 0 min" {
		t.Error(e.Text)
	}
	s.hand("channel.3.fader", number(-4)) // which rests as long as ever
	s.expect(agent.Wrote)
	s.edit(botanist, "gain = -3.0", "gain = -2.0")
	s.confirmed("channel.3.eq.2.gain -3 -> -2")
	s.stop()
	memory, err := s.readBook().Memory(s.venue)
	if err != nil {
		t.Fatal(err)
	}
	all := 0
	for _, evening := range memory.Evenings() {
		lines, unread, err := memory.Record(evening)
		if all += len(lines); unread > 0 || err != nil {
			t.Error(unread, err)
		}
	}
	if all < 4 { // the swap at first, the clock, what the hand did, what was saved
		t.Errorf("the record has %d lines", all)
	}
}

// The clock jumps in the middle of a swap that opens the lectern.
func TestAnEventAcrossASleepLeavesMutedWhatWasHalfSetAndGoesOnWhenAsked(t *testing.T) {
	s := newStage(t)
	clock := s.jumps()
	s.runOrder()
	s.ask(next(0))
	s.atSet(func(set profiles.Setting) {
		if set.Parameter.String() == "channel.3.lowcut.frequency" {
			clock.jump(time.Hour)
			s.onSet = nil
		}
	})
	e := s.agent.Ask(s.t.Context(), next(1))
	if away := new(desk.Away); !errors.As(e.Err, &away) || e.Result == nil {
		t.Fatal(sayEvent(e))
	}
	s.mustBeMuted(true, 3)
	s.isOn(1)
	s.until(agent.Awoke)
	s.until(agent.Back)
	s.foreseen()
	s.ask(next(1))
	s.mustBeMuted(false, 3)
	s.isOn(2)
}

func TestWhatWaitedWhileTheComputerSleptIsNotDoneButForTheMute(t *testing.T) {
	s := newStage(t)
	clock := s.jumps()
	s.runOrder()
	before := s.agent.Absences()
	clock.jump(time.Hour)
	s.until(agent.Back)
	s.sent()
	var failure *agent.RemoteFailure
	if e := s.agent.AskSince(t.Context(), next(0), before); !errors.As(e.Err, &failure) || failure.Code != agent.CodeLate {
		t.Error(sayEvent(e))
	}
	s.mustSend()
	if e := s.agent.AskSince(t.Context(), agent.AskMute{}, before); e.Err != nil {
		t.Error(sayEvent(e))
	}
	s.mustBeMuted(true, 3)
}

func TestARequestThatWaitedWhileTheComputerSleptIsAnsweredAndNotDone(t *testing.T) {
	s := newStage(t)
	clock := s.jumps()
	from := s.remote(t, agent.Options{})
	pedal := s.sender(t, from.link.RemoteAddr().String())
	s.atSet(func(profiles.Setting) { // the first is being done, and the second waits behind it
		pedal.ask("/deskhand/swap", int32(2), "lectern", "botanist")
		pedal.ask("/deskhand/status", int32(3))
		pedal.answer() // so the one before it is waiting
		clock.jump(time.Hour)
		s.onSet = nil
	})
	from.ask("/deskhand/swap", int32(1), "lectern", "poet")
	for code, m := range map[string]osc.Message{"broken": from.answer(), "late": pedal.answer()} {
		if m.Address != "/deskhand/failed" || m.Arguments[1] != code {
			t.Errorf("answered with %s %v, not %s", m.Address, m.Arguments, code)
		}
	}
	s.mustHold("channel.3.mute", true)
}

// What files and desk last agreed on is the later, whatever the clock says of it.
func TestAClockThatIsSetBackBetweenTwoCommandsMakesNoHandMoves(t *testing.T) {
	s := newStage(t)
	ahead := s.jumps()
	ahead.jump(time.Hour)
	s.run(agent.Options{ToDesk: true})
	s.edit(botanist, "gain = -3.0", "gain = -2.0") // agreed on at a time an hour ahead
	s.confirmed("channel.3.eq.2.gain -3 -> -2")
	s.stop()
	s.swap("lectern", "poet") // by the right time
	s.swap("lectern", "botanist")
	s.edit(botanist, "gain = -2.0", "gain = -1.0")
	s.swap("lectern", "botanist")
	ahead.jump(-time.Hour)
	s.launch(agent.Options{ToDesk: true})
	if e := s.expect(agent.Began); len(e.Changes) > 0 {
		t.Errorf("told as changed: %q", sayChanges(e))
	}
}
