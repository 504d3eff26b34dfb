package agent_test

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/agent"
)

// silence loses every packet, both ways.
var silence = mockdesk.Trouble{In: mockdesk.Way{Lose: 1}, Out: mockdesk.Way{Lose: 1}}

// both are the flags of an evening.
var both = agent.Options{ToDesk: true, ToFiles: true}

func TestADeskThatFallsSilentIsToldAndAskedAgain(t *testing.T) {
	s := newStage(t)
	s.run(both)
	text := s.read(botanist)
	s.mock.Misbehave(silence)
	began := time.Now()
	e := s.expect(agent.Silent)
	if e.Time.Before(began) {
		t.Error("it was told too early")
	}
	// A hand moves, and nobody sees it.
	s.hand("channel.3.fader", number(-4))
	s.hand("channel.3.pan", number(10))
	s.mock.Misbehave(noTrouble)
	s.expect(agent.Back, "channel.3.pan 0 -> 10", "channel.3.fader -6 -> -4")
	s.expect(agent.Held, "channel.3.pan 10 -> 0", "channel.3.fader -4 -> -6")
	s.mustSend()
	if s.read(botanist) != text {
		t.Error("what nobody saw went into the file")
	}
	// Once more by a hand that is seen, and by a save of another value.
	s.hand("channel.3.fader", number(-3))
	s.expect(agent.Wrote, "channel.3.fader -6 -> -3")
	s.edit(botanist, "lowcut.frequency = 120.0", "lowcut.frequency = 80.0")
	s.confirmed()
	s.mustSend("channel.3.lowcut.frequency")
	s.mustHold("channel.3.pan", 10.0)
}

func TestASaveWhileTheDeskIsSilentIsHeardWhenItIsBack(t *testing.T) {
	s := newStage(t)
	s.run(both)
	s.mock.Misbehave(silence)
	s.expect(agent.Silent)
	s.edit(botanist, "fader = -6.0", "fader = -4.0")
	s.mock.Misbehave(noTrouble)
	s.expect(agent.Back)
	s.confirmed("channel.3.fader -6 -> -4")
}

// restarts are the ways in which a desk may be switched off and on beside the agent.
var restarts = map[string]func(s *stage){
	"in no time": func(s *stage) { s.mock.Restart(0) },
	"so long that it is missed": func(s *stage) {
		s.mock.Restart(2 * time.Second)
		s.expect(agent.Silent)
	},
	"while the agent was away": func(s *stage) {
		s.stop()
		s.mock.Restart(0)
		s.launch(both)
	},
	"while it is read": func(s *stage) {
		s.mock.Misbehave(mockdesk.Trouble{Rate: 300})
		s.hand("channel.3.pan", number(10))
		time.AfterFunc(150*time.Millisecond, func() { s.mock.Restart(0); s.mock.Misbehave(noTrouble) })
	},
}

// What a desk begins with must never get into a performer's file, and nothing is sent to
// it unasked.
func TestADeskThatWasRestartedChangesNoFileAndIsSentNothing(t *testing.T) {
	for name, restart := range restarts {
		t.Run(name, func(t *testing.T) {
			s := newStage(t)
			s.swap("table-left", "pilot")
			s.run(both)
			texts := s.read(botanist) + s.read(pilot)
			restart(s)
			held := make(map[string]bool)
			for len(held) < 2 {
				e := s.next()
				switch e.Kind {
				case agent.Held:
					held[e.Position] = true
				case agent.Wrote:
					if name != "while it is read" || !slices.Equal(sayChanges(e), []string{"channel.3.pan 0 -> 10"}) {
						t.Fatalf("it told %s", sayEvent(e))
					}
					texts = replaced(t, texts, "pan = 0", "pan = 10")
				case agent.Back, agent.Began, agent.Silent:
				default:
					t.Fatalf("it told %s", sayEvent(e))
				}
			}
			// A save, and a hand that begins to set the desk up again, change nothing of that.
			s.edit(pilot, "pan = -10", "pan = -20")
			texts = replaced(t, texts, "pan = -10", "pan = -20")
			if e := s.next(); e.Kind != agent.Held && e.Kind != agent.Saved {
				t.Fatalf("it told %s", sayEvent(e))
			}
			s.hand("channel.3.fader", number(-20))
			s.expect(agent.Held, "channel.3.fader -20 -> -6")
			s.mustSend()
			if s.read(botanist)+s.read(pilot) != texts {
				t.Error("a file was changed")
			}
			// Swapped on anew they are in step again.
			s.swap("lectern", "botanist")
			s.swap("table-left", "pilot")
			s.hand("channel.3.fader", number(-4))
			if e := s.until(agent.Wrote); !slices.Equal(sayChanges(e), []string{"channel.3.fader -6 -> -4"}) {
				t.Fatalf("it told %s", sayEvent(e))
			}
		})
	}
}

func TestRestoreTakesTheBookToADeskThatWasRestarted(t *testing.T) {
	s := newStage(t)
	s.swap("table-left", "pilot")
	s.hand("channel.5.mute", profiles.Switch(true)) // closed, and to stay so
	s.run(agent.Options{ToDesk: true, ToFiles: true, Restore: true})
	texts := s.read(botanist) + s.read(pilot)
	s.mock.Restart(0)
	s.expect(agent.Back)
	s.confirmed()
	s.mustHold("channel.3.fader", -6.0)
	s.mustHold("channel.3.label", "Botanist")
	s.mustHold("channel.5.label", "Pilot")
	s.mustHold("channel.5.mute", true)
	s.mustHold("channel.3.mute", false)
	s.hand("channel.3.fader", number(-4))
	s.expect(agent.Wrote, "channel.3.fader -6 -> -4")
	if s.read(botanist)+s.read(pilot) != replaced(t, texts, "fader = -6.0", "fader = -4.0") {
		t.Error("more of a file was changed")
	}
}

func TestAnotherDesk(t *testing.T) {
	s := newStage(t)
	s.run(both)
	address := s.mock.Addr()
	check(s, s.mock.Close())
	s.expect(agent.Silent)
	s.startDesk(mockdesk.Options{Listen: address, Says: "ferry-9"})
	s.expect(agent.Other)
	s.edit(botanist, "fader = -6.0", "fader = -4.0")
	check(s, s.mock.Close())
	s.expect(agent.Silent)
	s.mustSend()
}

func TestWithoutADeskAtFirst(t *testing.T) {
	s := newStage(t)
	s.mock.Misbehave(silence)
	s.launch(both)
	s.expect(agent.Silent)
	s.mock.Misbehave(noTrouble)
	s.expect(agent.Began)
	s.edit(botanist, "fader = -6.0", "fader = -4.0")
	s.confirmed("channel.3.fader -6 -> -4")
}

func TestWhatTheDeskDoesNotTellIsFoundByLooking(t *testing.T) {
	s := newStage(t)
	s.edit("profiles/quay-24.toml", "[follow]\nask = \"/quay/keep-telling\"\nlapses = \"3s\"\n", "")
	s.run(both)
	s.hand("channel.3.fader", number(-4))
	s.expect(agent.Wrote, "channel.3.fader -6 -> -4")
	s.hand("channel.3.fader", number(-5))
	s.hand("channel.3.eq.2.gain", number(-4))
	s.expect(agent.Wrote)
}

func TestANetworkThatLosesPackets(t *testing.T) {
	s := newStage(t)
	s.run(both)
	lossy := mockdesk.Way{Lose: 0.08, Double: 0.2, Reorder: 0.2, Delay: 4 * time.Millisecond}
	s.mock.Misbehave(mockdesk.Trouble{Seed: 7, In: lossy, Out: lossy})
	for level := -7.0; level > -12; level-- {
		s.hand("channel.3.fader", number(level))
		s.expect(agent.Wrote, fmt.Sprintf("channel.3.fader %v -> %v", level+1, level))
		s.edit(botanist, "lowcut.frequency = 120.0", "lowcut.frequency = 80.0")
		s.confirmed()
		s.edit(botanist, "lowcut.frequency = 80.0", "lowcut.frequency = 120.0")
		s.confirmed()
	}
	s.mustSend("channel.3.lowcut.frequency")
}

func TestPositionsThatMoveToAnotherChannel(t *testing.T) {
	s := newStage(t)
	s.run(both)
	s.edit(loft, "channel = 3\n", "channel = 4\n")
	e := s.expect(agent.Held)
	if e.Position != "lectern" || !slices.ContainsFunc(sayChanges(e), func(c string) bool { return strings.HasPrefix(c, "channel.4.fader ") }) {
		t.Fatalf("it told %s", sayEvent(e))
	}
	s.mustSend()
	s.swap("lectern", "botanist")
	s.sent()
	s.hand("channel.3.fader", number(-4)) // nobody's
	s.hand("channel.4.fader", number(-4))
	s.expect(agent.Wrote, "channel.4.fader -6 -> -4")
	s.mustSend()
	// A venue with a fault leaves the last good one in force.
	s.edit(loft, "channel = 4\n", "channel = four\n")
	s.expect(agent.Fault)
	s.edit(botanist, "fader = -4.0", "fader = -5.0")
	s.confirmed("channel.4.fader -4 -> -5")
}

func TestAPerformerWhoseFileIsGone(t *testing.T) {
	s := newStage(t)
	s.run(both)
	text := s.read(botanist)
	check(s, os.Remove(s.path(botanist)))
	s.expect(agent.Trouble)
	s.hand("channel.3.fader", number(-4))
	s.save(botanist, replaced(t, text, "pan = 0", "pan = 10"))
	s.sawBoth(agent.Recalled, agent.Wrote)
	if s.read(botanist) != replaced(t, replaced(t, text, "pan = 0", "pan = 10"), "fader = -6.0", "fader = -4.0") {
		t.Error("the file is otherwise")
	}
}
