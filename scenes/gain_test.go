package scenes_test

import (
	"math"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestGainCarriesOverByMicrophoneAndDistance(t *testing.T) {
	for _, c := range []struct {
		gain     float64
		from, to scenes.Dialled
		want     float64
	}{
		// The same again: nothing to make up.
		{30, scenes.Dialled{Sensitivity: -38, Distance: 0.3}, scenes.Dialled{Sensitivity: -38, Distance: 0.3}, 30},
		// 10 dB less sensitive: 10 dB more gain.
		{30, scenes.Dialled{Sensitivity: -38, Distance: 0.3}, scenes.Dialled{Sensitivity: -48, Distance: 0.3}, 40},
		// Twice as far: 20 log10(2) = 6.0206 dB more.
		{30, scenes.Dialled{Sensitivity: -38, Distance: 0.2}, scenes.Dialled{Sensitivity: -38, Distance: 0.4}, 36.0206},
		// Ten times as near: 20 dB less.
		{30, scenes.Dialled{Sensitivity: -38, Distance: 0.5}, scenes.Dialled{Sensitivity: -38, Distance: 0.05}, 10},
		// The botanist at the lectern: 34.0 + (-38 - -34) + 20 log10(0.40/0.30) = 34 - 4 + 2.4988.
		{34, scenes.Dialled{Sensitivity: -38, Distance: 0.3}, scenes.Dialled{Sensitivity: -34, Distance: 0.4}, 32.4988},
	} {
		if got := scenes.CarryGain(c.gain, c.from, c.to); math.Abs(got-c.want) > 5e-5 {
			t.Errorf("%v from %v to %v: %v, want %v", c.gain, c.from, c.to, got, c.want)
		}
	}
}

func TestAGainCarriedThereAndBackIsTheSame(t *testing.T) {
	dialled := rapid.Custom(func(t *rapid.T) scenes.Dialled {
		return scenes.Dialled{Sensitivity: rapid.Float64Range(-90, 0).Draw(t, "sensitivity"), Distance: rapid.Float64Range(0.005, 10).Draw(t, "distance")}
	})
	rapid.Check(t, func(t *rapid.T) {
		gain, from, to := rapid.Float64Range(-40, 90).Draw(t, "gain"), dialled.Draw(t, "from"), dialled.Draw(t, "to")
		if back := scenes.CarryGain(scenes.CarryGain(gain, from, to), to, from); math.Abs(back-gain) > 1e-9 {
			t.Errorf("%v came back as %v", gain, back)
		}
	})
}

func TestTheGainsOfTheExample(t *testing.T) {
	b := bookOf(t, nil)
	for _, c := range []struct{ position, performer, want string }{
		{"lectern", "botanist", "32.5"},    // 34.0 - 4 + 20 log10(0.40/0.30) = 32.50
		{"lectern", "poet", "27"},          // 28.5 - 4 + 2.50 = 27.00
		{"lectern", "pilot", "24.5"},       // 36.0 - 20 + 20 log10(0.40/0.15) = 16 + 8.52 = 24.52
		{"table-left", "pilot", "26.5"},    // 36.0 - 20 + 20 log10(0.50/0.15) = 16 + 10.46 = 26.46
		{"table-left", "botanist", "34.5"}, // 34.0 - 4 + 20 log10(0.50/0.30) = 30 + 4.44 = 34.44
		{"bench", "bell-founder", "18"},    // the same headset at the same place
		{"roving", "pilot", "26.5"},        // 36.0 + 0 + 20 log10(0.05/0.15) = 36 - 9.54 = 26.46
		{"roving", "bell-founder", "30"},   // 18.0 + (-42 - -54) = 30
	} {
		if got := said(resolve(t, b, c.position, c.performer), "input.gain"); got != c.want {
			t.Errorf("%s on %s: %s dB, want %s", c.performer, c.position, got, c.want)
		}
	}
}

// cellar is a venue with three ways of saying how far the talker is.
const cellar = plainVenue + `[microphones.gooseneck]
sensitivity = -34
phantom = true
[positions.near]
channel = 1
microphone = "gooseneck"
distance = 0.4
[positions.somewhere]
channel = 2
microphone = "gooseneck"
[positions.bare]
channel = 3
`

func TestWhichGainIsCarriedOver(t *testing.T) {
	const asIs = "the gain is taken as it is: "
	const dialledIn = "[dialled-in]\nsensitivity = -38\ndistance = 0.3\n"
	const dialledInHere = "[at.cellar.dialled-in]\nsensitivity = -44\ndistance = 0.4\n"
	for _, c := range []struct {
		name, position, performer, scene string
		want, warning                    string
	}{
		{"performer's, dialled in: 34 - 4 + 2.5", "near", dialledIn + "[strip]\ninput.gain = 34\n", "", "32.5", ""},
		{"performer's, nobody knows how", "near", "[strip]\ninput.gain = 34\n", "", "34",
			"performers/x.toml:2: " + asIs + "nothing says how it was dialled in ([dialled-in] with sensitivity and distance)"},
		{"performer's for this venue needs no carrying", "near", dialledIn + "[strip]\ninput.gain = 34\n[at.cellar.strip]\ninput.gain = 20\n", "", "20", ""},
		{"performer's for this venue, dialled in with another: 20 - 10", "near", "[at.cellar.strip]\ninput.gain = 20\n" + dialledInHere, "", "10", ""},
		{"scene's needs no carrying", "near", dialledIn + "[strip]\ninput.gain = 34\n", "input.gain = 21", "21", ""},
		{"no distance", "somewhere", dialledIn + "[strip]\ninput.gain = 34\n", "", "34",
			`performers/x.toml:5: ` + asIs + `position "somewhere" does not say its microphone and distance (venues/cellar.toml:11)`},
		{"no microphone", "bare", dialledIn + "[strip]\ninput.gain = 34\n", "", "34",
			`performers/x.toml:5: ` + asIs + `position "bare" does not say its microphone and distance (venues/cellar.toml:14)`},
		// 30 - 4 + 20 log10(0.4/0.09) = 26 + 12.96: more than four times as far.
		{"rough distances", "near", "[dialled-in]\nsensitivity = -38\ndistance = 0.09\n[strip]\ninput.gain = 30\n", "", "39",
			"performers/x.toml:5: the gain carried over is a rough guide only: the distances, 0.09 m and 0.4 m, are more than a factor of 4 apart"},
		// Exactly four times as far is not yet rough: 30 - 4 + 12.04.
		{"four times as far", "near", "[dialled-in]\nsensitivity = -38\ndistance = 0.1\n[strip]\ninput.gain = 30\n", "", "38", ""},
		// 70 - 4 + 2.5 = 68.5, of which a quay-24 has 60.
		{"beyond the desk", "near", dialledIn + "[strip]\ninput.gain = 70\n", "", "60",
			"performers/x.toml:5: the gain carried over, 68.5 dB, is out of the desk's range: it is set to 60.0 dB, -8.5 dB off; move the microphone or use another"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bookOf(t, files{"venues/cellar.toml": cellar, "performers/x.toml": c.performer,
				"scenes/x.toml": "venue = \"cellar\"\n[positions." + c.position + "]\nperformer = \"x\"\nstrip." + strings.TrimPrefix(c.scene+"\n", "strip.")})
			if c.scene == "" {
				b = bookOf(t, files{"venues/cellar.toml": cellar, "performers/x.toml": c.performer,
					"scenes/x.toml": "venue = \"cellar\"\n[positions." + c.position + "]\nperformer = \"x\"\n"})
			}
			s, err := b.Scene("x")
			if err != nil {
				t.Fatal(err)
			}
			_, all, err := b.ResolveScene(s)
			if err != nil {
				t.Fatal(err)
			}
			if got := said(all[0], "input.gain"); got != c.want {
				t.Errorf("gain %s, want %s", got, c.want)
			}
			var want []string
			if c.warning != "" {
				want = []string{c.warning}
			}
			if diff := cmp.Diff(want, texts(all[0].Warnings)); diff != "" {
				t.Errorf("warnings (-want +got):\n%s", diff)
			}
		})
	}
}

func TestACarriedGainSaysHowItCameAbout(t *testing.T) {
	w, _ := asked(resolve(t, bookOf(t, nil), "lectern", "botanist"), "input.gain")
	if want := "34.0 dB at -38 dB re 1 V/Pa and 0.3 m, carried over to -34 dB and 0.4 m"; w.Note != want {
		t.Errorf("note %q, want %q", w.Note, want)
	}
}

func TestAnOutOfRangeGainOfTheVenueIsAFault(t *testing.T) {
	_, err := stacked(t, "input.gain = 70", "", "", "")
	wantFaults(t, err, "venues/shed.toml:9: input.gain: 70.0 dB is out of the desk's range, -6.0 dB to 60.0 dB")
}

// hut is a made-up desk with steps of 6 dB of gain, a trim beside it, two bands of EQ
// without switches, and one parameter of its own.
const hut = `name = "hut-8"
channels = 8
mixes = 2
bands = 2
[link]
port = 47025
pace = 100
burst = 4
window = 4
wait = "100ms"
tries = 4
linger = "100ms"
[identity]
ask = "/hut"
says = "hut-8"
[channel]
label = { at = "/{channel}/label", text = 8 }
input.gain = { at = "/{channel}/gain", linear = [0.0, 60.0], steps = 11 }
input.trim = { at = "/{channel}/trim", linear = [-10.0, 10.0], steps = 201 }
eq.band.frequency = { at = "/{channel}/{band}/f", log = [100.0, 10000.0], steps = 201 }
eq.band.gain = { at = "/{channel}/{band}/g", linear = [-12.0, 12.0], steps = 49 }
eq.band.q = { at = "/{channel}/{band}/q", log = [0.5, 8.0], steps = 41 }
fader = { at = "/{channel}/fader", linear = [-60.0, 6.0], steps = 67 }
mute = { at = "/{channel}/mute" }
`

// hutVenue is a place with such a desk.
const hutVenue = `[desk]
profile = "hut-8"
address = "127.0.0.1"
[microphones.m]
sensitivity = -40
phantom = true
[positions.stool]
channel = 1
microphone = "m"
distance = 0.2
`

func TestADeskWithCoarseGainTakesTheStepBelowAndTrimsTheRest(t *testing.T) {
	for _, c := range []struct {
		name, strip string
		gain, trim  string
	}{
		{"on a step", "input.gain = 30", "30", ""},
		{"between two steps", "input.gain = 34.5", "30", "4.5"},
		{"nearer to the step above", "input.gain = 35.9", "30", "5.9"},
		{"beside a trim of its own", "input.gain = 34.5\ninput.trim = -2", "30", "2.5"},
		{"at the top", "input.gain = 60", "60", ""},
		{"at the bottom", "input.gain = 0", "0", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bookOf(t, files{"profiles/hut-8.toml": hut, "venues/hut.toml": hutVenue,
				"performers/x.toml": "[dialled-in]\nsensitivity = -40\ndistance = 0.2\n[strip]\n" + c.strip + "\n"})
			v := venueOf(t, b, "hut")
			r, err := v.Resolve(castOf(t, b, v, "stool", "x", nil))
			if err != nil {
				t.Fatal(err)
			}
			if gain, trim := said(r, "input.gain"), said(r, "input.trim"); gain != c.gain || trim != c.trim {
				t.Errorf("gain %s and trim %q, want %s and %q", gain, trim, c.gain, c.trim)
			}
		})
	}
}

func TestAMissingPhantomSwitchIsTold(t *testing.T) {
	b := bookOf(t, files{"profiles/hut-8.toml": hut, "venues/hut.toml": hutVenue})
	v := venueOf(t, b, "hut")
	r, err := v.Resolve(castOf(t, b, v, "stool", "", nil))
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Left) != 1 || r.Left[0].Entry.Name != "input.phantom" || r.Left[0].Entry.Value != profiles.Switch(true) {
		t.Errorf("left: %v", r.Left)
	}
}
