package scenes_test

import (
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes"
)

// A room's band that the desk holds, and that is never sent, is heard as it is: were it
// part of the sum that the other bands come near to, it would be heard twice.
func TestAFitLeavesOutABandOfTheRoomThatTheDeskHoldsByItself(t *testing.T) {
	const venue = `safes = ["lectern.eq.4"]
[desk]
profile = "quay-24"
address = "127.0.0.1"
[positions.lectern]
channel = 1
[positions.lectern.strip]
eq.4 = { frequency = 160, gain = 9, q = 1 }
`
	// Four bells for the three bands that are left.
	const voice = `[strip]
eq.1 = { frequency = 250, gain = -3, q = 2 }
eq.2 = { frequency = 1000, gain = -3, q = 2 }
eq.3 = { frequency = 3000, gain = -3, q = 2 }
eq.5 = { frequency = 8000, gain = -3, q = 2 }
`
	b := bookOf(t, files{"venues/pier.toml": venue, "performers/x.toml": voice})
	v := venueOf(t, b, "pier")
	r, err := v.Resolve(castOf(t, b, v, "lectern", "x", nil))
	if err != nil {
		t.Fatal(err)
	}
	if r.EQ == nil {
		t.Fatal("nothing is fitted")
	}
	for i, hz := range r.EQ.Hz {
		if hz < 200 && r.EQ.Target[i] > 0 {
			t.Errorf("at %.0f Hz %.1f dB are wanted of the other bands", hz, r.EQ.Target[i])
		}
	}
	if w, ok := asked(r, "eq.4.gain"); !ok || w.Asked != profiles.Number(9) {
		t.Errorf("the room's band asks for %v", w.Asked)
	}
}

// A scene's Q was found on the venue's desk, whichever desk the performer's own was found
// on.
func TestTheQOfASceneIsTheVenuesDesks(t *testing.T) {
	const scene = "venue = \"pier\"\n[positions.lectern]\nperformer = \"x\"\n[positions.lectern.strip]\neq.1.q = 3\n"
	b := bookOf(t, files{"venues/pier.toml": bargeVenue, "scenes/s.toml": scene,
		"performers/x.toml": dialledOnQuay + "eq.1 = { frequency = 1000, gain = 6, q = 2 }\n"})
	s, err := b.Scene("s")
	if err != nil {
		t.Fatal(err)
	}
	v := venueOf(t, b, "pier")
	r, err := v.Resolve(castOf(t, b, v, "lectern", "x", s))
	if err != nil {
		t.Fatal(err)
	}
	if w, _ := asked(r, "eq.1.q"); w.Asked != profiles.Number(3) {
		t.Errorf("it asks for Q %v (%s)", w.Asked, w.Note)
	}
}

// A band without a switch is let go by its gain, which does nothing to a notch.
func TestAFreedBandWithoutASwitchIsNoNotchAnyMore(t *testing.T) {
	const dinghy = `name = "dinghy-2"
channels = 2
mixes = 1
bands = 2
[link]
port = 47031
[identity]
ask = "/dinghy/name"
says = "dinghy-2"
[channel]
eq.band.kind = { at = "/strip/{channel}/eq/{band}/kind", choice = ["notch", "bell", "low-shelf"] }
eq.band.gain = { at = "/strip/{channel}/eq/{band}/gain", linear = [-15.0, 15.0], steps = 61 }
eq.band.frequency = { at = "/strip/{channel}/eq/{band}/hz", log = [20.0, 20000.0], steps = 200 }
eq.band.q = { at = "/strip/{channel}/eq/{band}/q", log = [0.3, 10.0], steps = 64 }
mute = { at = "/strip/{channel}/off" }
`
	const venue = "[desk]\nprofile = \"dinghy-2\"\naddress = \"127.0.0.1\"\n[positions.lectern]\nchannel = 1\n"
	b := bookOf(t, files{"profiles/dinghy-2.toml": dinghy, "venues/pier.toml": venue,
		"performers/x.toml": "[strip]\neq.1 = { frequency = 1000, gain = 3, q = 1 }\n"})
	v := venueOf(t, b, "pier")
	r, err := v.Resolve(castOf(t, b, v, "lectern", "x", nil))
	if err != nil {
		t.Fatal(err)
	}
	if w, ok := asked(r, "eq.2.kind"); !ok || w.Value != profiles.Word("bell") {
		t.Errorf("the freed band is to be %v", w.Value)
	}
}

// Two positions of the same bands whose microphones differ ask for another EQ each.
func TestEachMicrophoneIsCheckedWhereItsResponseJoinsTheEQ(t *testing.T) {
	venue := strings.Replace(responsesVenue, "quay-24", "raft-8", 1)
	venue = venue[:strings.Index(venue, "[positions.lectern]")] +
		"[positions.first]\nchannel = 1\nmicrophone = \"old\"\ndistance = 0.3\n[positions.second]\nchannel = 2\nmicrophone = \"new\"\ndistance = 0.3\n"
	b := bookOf(t, files{"book.toml": "[eq]\nmicrophones = true\ntolerance = 0.1\n", "venues/loft.toml": venue,
		"performers/x.toml": "[dialled-in]\nsensitivity = -38\ndistance = 0.3\nmicrophone = \"loft/old\"\n[strip]\nfader = 0\n"})
	report := b.Check([]scenes.Named{{Kind: scenes.Performers, Name: "x"}})
	if !strings.Contains(report.Warnings.Error(), "on second at loft") {
		t.Errorf("nothing is said of the second: %v", report.Warnings)
	}
}
