package agent_test

import (
	"strings"
	"testing"

	"deskhand/scenes/agent"
)

func TestWhatChangedOnBothSidesIsLeftAloneOnBoth(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true, ToFiles: true})
	s.bothMove()
	// All other values go on, both ways.
	s.edit(botanist, "lowcut.frequency = 120.0", "lowcut.frequency = 80.0")
	s.confirmed()
	s.mustSend("channel.3.lowcut.frequency")
	s.hand("channel.3.pan", number(10))
	s.expect(agent.Wrote, "channel.3.pan 0 -> 10")
	s.mustHold("channel.3.fader", -4.0)
	if !strings.Contains(s.read(botanist), "fader = -5.0") {
		t.Error("the file was overwritten")
	}
	// It is so after a restart, too.
	s.again(agent.Options{ToDesk: true, ToFiles: true})
	s.expect(agent.Held, "channel.3.fader -4 -> -5")
	s.mustSend()
	s.mustHold("channel.3.fader", -4.0)
}

func TestAPersonSettlesByTheFile(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true, ToFiles: true})
	s.bothMove()
	s.swap("lectern", "botanist")
	s.mustHold("channel.3.fader", -5.0)
	s.sent()
	s.edit(botanist, "fader = -5.0", "fader = -6.0")
	s.confirmed("channel.3.fader -5 -> -6")
	s.hand("channel.3.fader", number(-3))
	s.expect(agent.Wrote, "channel.3.fader -6 -> -3")
}

func TestAPersonSettlesByTheDesk(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true, ToFiles: true})
	s.bothMove()
	s.edit(botanist, "fader = -5.0", "fader = -4.0") // which is what keep writes
	s.edit(botanist, "pan = 0", "pan = 10")
	s.confirmed("channel.3.pan 0 -> 10")
	s.mustSend("channel.3.pan")
	s.hand("channel.3.fader", number(-3))
	s.expect(agent.Wrote, "channel.3.fader -4 -> -3")
}

func TestBothChangingWhileItRuns(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{}) // which has both differences stand
	s.hand("channel.3.fader", number(-4))
	s.expect(agent.Moved, "channel.3.fader -6 -> -4")
	s.edit(botanist, "fader = -6.0", "fader = -5.0")
	s.expect(agent.Held, "channel.3.fader -4 -> -5")
	// Once they say the same they agree, and go on from there.
	s.hand("channel.3.fader", number(-5))
	s.hand("channel.3.pan", number(10))
	s.expect(agent.Moved, "channel.3.pan 0 -> 10") // so that both have rested
	s.edit(botanist, "fader = -5.0", "fader = -7.0")
	s.expect(agent.Saved, "channel.3.fader -5 -> -7")
	s.mustSend()
}

// bothMove has a save and a hand change the same value while the agent is away, and starts
// it again.
func (s *stage) bothMove() {
	s.t.Helper()
	s.stop()
	s.edit(botanist, "fader = -6.0", "fader = -5.0")
	s.hand("channel.3.fader", number(-4))
	s.launch(agent.Options{ToDesk: true, ToFiles: true})
	s.expect(agent.Began, "channel.3.fader -6 -> -4")
	s.expect(agent.Held, "channel.3.fader -4 -> -5")
	s.sent()
}
