package agent_test

import (
	"os"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes/agent"
)

func TestAHandMoveGoesIntoTheFileAndNowhereElse(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true, ToFiles: true})
	text := s.read(botanist)
	s.hand("channel.3.fader", number(-4))
	e := s.expect(agent.Wrote, "channel.3.fader -6 -> -4")
	want := replaced(t, text, "fader = -6.0", "fader = -4.0")
	if got := s.read(botanist); got != want || e.File != botanist || string(e.Old) != text || string(e.New) != want {
		t.Fatalf("%s is\n%s", e.File, got)
	}
	// A hand that goes on is heard at its rest. What no layer says is new in the file.
	s.hand("channel.3.gate.threshold", number(-40))
	s.hand("channel.3.gate.threshold", number(-50))
	s.expect(agent.Wrote, "channel.3.gate.threshold <nil> -> -50")
	s.mustSend()
	s.mustHold("channel.3.fader", -4.0)
}

func TestAHandMoveOfGainIsKeptAsItWasDialledIn(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true, ToFiles: true})
	before := s.holds("channel.3.input.gain").(float64)
	s.hand("channel.3.input.gain", number(before+2))
	s.expect(agent.Wrote, "channel.3.input.gain 34 -> 36")
	s.mustSend()
}

func TestABandIsKeptWhole(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true, ToFiles: true})
	// A band that is off is set, and then switched on: only then is it in the sound.
	s.hand("channel.3.eq.3.frequency", number(1000)) // where it stands
	s.hand("channel.3.eq.3.gain", number(3))
	s.expect(agent.Moved, "channel.3.eq.3.gain 0 -> 3")
	s.hand("channel.3.eq.3.on", profiles.Switch(true))
	s.until(agent.Wrote)
	s.mustSend()
	if text := s.read(botanist); !strings.Contains(text, "eq.3") {
		t.Errorf("the band is not in the file:\n%s", text)
	}
	// The room's own band is not hers.
	text := s.read(botanist)
	s.hand("channel.3.eq.4.gain", number(-6))
	e := s.expect(agent.Moved, "channel.3.eq.4.gain -4 -> -6")
	if len(e.Apart) != 1 || !strings.Contains(e.Apart[0].Why, "room") || s.read(botanist) != text {
		t.Errorf("it says %v", e.Apart)
	}
}

func TestWhatASceneSetsIsNotThePerformers(t *testing.T) {
	s := newStage(t)
	s.send("opening")
	s.run(agent.Options{ToDesk: true, ToFiles: true})
	text := s.read(pilot)
	s.hand("channel.5.fader", number(-12))
	e := s.expect(agent.Moved, "channel.5.fader -10 -> -12")
	if len(e.Apart) != 1 || !strings.Contains(e.Apart[0].Why, "scene") || s.read(pilot) != text {
		t.Errorf("it says %v", e.Apart)
	}
	s.hand("channel.5.fader", number(-10))
	// The scene's own file goes to the desk as others do.
	s.edit("scenes/opening.toml", "fader = -10.0", "fader = -9.0")
	s.confirmed("channel.5.fader -10 -> -9")
	s.mustSend("channel.5.fader")
	// Without its file its last good version stays in force.
	scene := s.read("scenes/opening.toml")
	check(s, os.Remove(s.path("scenes/opening.toml")))
	s.expect(agent.Trouble) // once, though both are on by it
	s.save("scenes/opening.toml", replaced(t, scene, "fader = -9.0", "fader = -8.0"))
	s.confirmed("channel.5.fader -9 -> -8")
}

func TestOnePerformerOnTwoPositions(t *testing.T) {
	s := newStage(t)
	s.swap("roving", "botanist")
	s.run(agent.Options{ToDesk: true, ToFiles: true})
	s.hand("channel.3.fader", number(-4))
	s.expect(agent.Wrote, "channel.3.fader -6 -> -4")
	// Nobody has saved the file, so the other channel stays as it is.
	if e := s.expect(agent.Saved, "channel.7.fader -6 -> -4"); e.Position != "roving" {
		t.Errorf("it is told of %s", e.Position)
	}
	s.mustSend()
	// The next save takes both there.
	s.edit(botanist, "pan = 0", "pan = 10")
	s.confirmed("channel.3.pan 0 -> 10")
	s.confirmed("channel.7.pan 0 -> 10", "channel.7.fader -6 -> -4")
	s.mustSend("channel.3.pan", "channel.7.fader", "channel.7.pan")
}

func TestASaveThatWasNotHeardOfYetIsNotOverwrittenByAHand(t *testing.T) {
	s := newStage(t)
	s.times.Rest = 1 // at once, so that the hand is faster than the watch of files
	s.run(agent.Options{ToFiles: true})
	s.edit(botanist, "fader = -6.0", "fader = -5.0")
	s.hand("channel.3.fader", number(-4))
	s.expect(agent.Held, "channel.3.fader -4 -> -5")
	if !strings.Contains(s.read(botanist), "fader = -5.0") {
		t.Error("the save was overwritten")
	}
}

func TestWithNobodyOnNothingHappens(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true, ToFiles: true})
	text := s.read(pilot)
	s.edit(pilot, "fader = -8.0", "fader = -9.0") // he is not on
	s.hand("channel.5.fader", number(-20))
	s.hand("channel.3.fader", number(-4))
	s.expect(agent.Wrote, "channel.3.fader -6 -> -4")
	s.mustSend()
	if got := s.read(pilot); got != replaced(t, text, "fader = -8.0", "fader = -9.0") {
		t.Error("his file was changed")
	}
}
