package agent_test

import (
	"slices"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/agent"
)

// Two bands for the three that the files ask for: they are fitted to each other, so that
// no single one of them is in any file.
func TestFittedBandsAreKeptTogether(t *testing.T) {
	s := newStage(t, "bands = 4", "bands = 2")
	s.run(both)
	text := s.read(botanist)
	gain := s.holds("channel.3.eq.1.gain").(float64)
	s.hand("channel.3.eq.1.gain", number(gain-1))
	e := s.expect(agent.Moved)
	if len(e.Apart) != 1 || !strings.Contains(e.Apart[0].Why, "fitted") || s.read(botanist) != text {
		t.Fatalf("it says %v", e.Apart)
	}
	// Another fit must not be half there.
	s.edit(botanist, "gain = -3.0", "gain = -6.0")
	s.expect(agent.Held)
	s.mustSend()
	s.edit(botanist, "pan = 0", "pan = 10")
	s.confirmed("channel.3.pan 0 -> 10")
	s.mustSend("channel.3.pan")
	// Once that is settled by the file, the next one goes there whole.
	s.swap("lectern", "botanist")
	s.sent()
	s.edit(botanist, "gain = -6.0", "gain = -2.0")
	s.confirmed()
	for _, name := range s.sent() {
		if !strings.HasPrefix(name, "channel.3.eq.") {
			t.Errorf("%s was sent", name)
		}
	}
}

// A gain in steps of 6 dB: the trim makes up for the rest, and both are one in the file.
func TestAGainWithCoarseStepsIsKeptWithItsTrim(t *testing.T) {
	s := newStage(t, "linear = [-6.0, 60.0], steps = 133", "linear = [-6.0, 60.0], steps = 12")
	s.run(both)
	s.mustHold("channel.3.input.gain", 30.0) // 34 dB, carried over to 32.5 dB
	s.mustHold("channel.3.input.trim", 2.5)
	s.hand("channel.3.input.trim", number(1.5))
	s.expect(agent.Wrote, "channel.3.input.gain 34 -> 33")
	s.hand("channel.3.input.gain", number(24))
	s.expect(agent.Wrote) // 25.5 dB, for which the desk's own split would be another
	s.mustSend()
	s.edit(botanist, "pan = 0", "pan = 10")
	s.confirmed("channel.3.pan 0 -> 10")
	s.mustSend("channel.3.pan")
}

// What OSC does not reach is for a hand: told, and never a reason to mute.
func TestWhatIsForAHandIsToldAndNotSent(t *testing.T) {
	s := newStage(t, `input.gain = { at = "/lane/{channel}/front/gain", linear = [-6.0, 60.0], steps = 133 }`,
		`input.gain = { by-hand = "turn the gain knob", linear = [-6.0, 60.0], steps = 133 }`)
	s.run(agent.Options{ToDesk: true, ToFiles: true, Restore: true})
	s.edit(botanist, "input.gain = 34.0", "input.gain = 36.0")
	e := s.expect(agent.Saved, "channel.3.input.gain 32.5 -> 34.5")
	if e.Changes[0].Hand != "turn the gain knob" {
		t.Errorf("it does not say what to do: %+v", e.Changes[0])
	}
	s.mock.Restart(0)
	s.until(agent.Recalled)
	s.mustHold("channel.3.mute", false)
	s.mustHold("channel.3.fader", -6.0)
}

// A switch that can be told and not asked: it is as we set it last.
func TestWhatCannotBeAskedIsSentWhenAFileChangesIt(t *testing.T) {
	s := newStage(t, `main = { at = "/lane/{channel}/out/main" }`, `main = { at = "/lane/{channel}/out/main", asked = false }`)
	s.run(both)
	s.edit(loft, "main = true", "main = false")
	e := s.until(agent.Recalled)
	if !slices.ContainsFunc(e.Plan.Changes(), func(c scenes.Change) bool { return c.Parameter.Name == "main" && c.To == profiles.Switch(false) }) {
		t.Fatalf("it told %s", sayEvent(e))
	}
	s.mustHold("channel.3.main", false)
	s.edit(botanist, "pan = 0", "pan = 10")
	s.until(agent.Recalled)
	s.mustHold("channel.3.pan", 10.0)
	s.mustHold("channel.3.mute", false)
}
