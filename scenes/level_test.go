package scenes_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes"
)

// at gives values by name, as a place holds them.
func at(values map[string]profiles.Value) func(string) profiles.Value {
	return func(name string) profiles.Value { return values[name] }
}

func TestSpeechIsToldWhereItGetsLouder(t *testing.T) {
	v, err := bookOf(t, nil).Venue("net-loft")
	if err != nil {
		t.Fatal(err)
	}
	number, on := profiles.Number, profiles.Switch(true)
	before := map[string]profiles.Value{
		"input.gain": number(30), "fader": number(-6), "main": on,
		"send.1.on": on, "send.1.level": number(-12), "send.1.tap": profiles.Word("pre"),
	}
	after := map[string]profiles.Value{
		"input.gain": number(28), "fader": number(-4.8), "main": on,
		"send.1.on": on, "send.1.level": number(-6), "send.1.tap": profiles.Word("pre"),
	}
	sounds := v.Sounds(profiles.Place{Part: profiles.Channel, Number: 3}, at(before), at(after), nil)
	steps := sounds.Steps()
	// Mains: 28 - 4.8 - (30 - 6) = -0.8; mix 1: 28 - 6 - (30 - 12) = +4.
	if len(steps) != 2 || math.Abs(steps[0].By()+0.8) > 1e-9 || steps[0].Mix != 0 || math.Abs(steps[1].By()-4) > 1e-9 || steps[1].Mix != 1 {
		t.Errorf("steps %+v", steps)
	}
	var causes []string
	for _, c := range sounds.Causes(1) {
		causes = append(causes, fmt.Sprintf("%s %+.1f", c.Stage, c.By))
	}
	if got := strings.Join(causes, ", "); got != "send +6.0, gain -2.0" {
		t.Error(got)
	}
}

// A mix's own fader, EQ and make-up count for all that is in it, and in no other place.
func TestAMixIsLouderInItself(t *testing.T) {
	v, err := bookOf(t, nil).Venue("net-loft")
	if err != nil {
		t.Fatal(err)
	}
	before := map[string]profiles.Value{"fader": profiles.Number(-10)}
	after := map[string]profiles.Value{"fader": profiles.Number(-7), "compressor.on": profiles.Switch(true), "compressor.makeup": profiles.Number(2)}
	steps := v.Sounds(profiles.Place{Part: profiles.Mix, Number: 2}, at(before), at(after), nil).Steps()
	// -7 + 2 - (-10)
	if len(steps) != 1 || steps[0].Mix != 2 || math.Abs(steps[0].By()-5) > 1e-9 {
		t.Errorf("steps %+v", steps)
	}
}

// BenchmarkComparisonOfASceneOf48Channels holds a scene against what the desk has: what
// differs, and what that does to speech.
func BenchmarkComparisonOfASceneOf48Channels(b *testing.B) {
	venue := "[desk]\nprofile = \"barge-48\"\naddress = \"127.0.0.1\"\n[mixes]\nwedge = 1\nstream = 2\n"
	for n := 1; n <= 48; n++ {
		venue += fmt.Sprintf("[positions.seat-%d]\nchannel = %d\nstrip.eq.4 = { frequency = 160, gain = -3, q = 2 }\n", n, n)
	}
	const performer = "[strip]\ninput.gain = 30\nfader = -6\nlowcut = { on = true, frequency = 100 }\n" +
		"eq.1 = { frequency = 300, gain = -3, q = 1 }\neq.2 = { frequency = 2500, gain = -2, q = 2 }\neq.3 = { kind = \"high-shelf\", frequency = 8000, gain = 2 }\n" +
		"send.wedge = { on = true, level = -12 }\nsend.stream = { on = true, level = -9 }\n"
	v, err := bookOf(b, files{"venues/hall.toml": venue, "performers/x.toml": performer}).Venue("hall")
	if err != nil {
		b.Fatal(err)
	}
	book := bookOf(b, files{"venues/hall.toml": venue, "performers/x.toml": performer})
	var all []*scenes.Resolved
	holds := make(scenes.Values)
	for _, q := range v.Desk.Profile.Parameters() {
		control, _ := v.Desk.Profile.Control(q)
		holds[q] = control.Start
	}
	for _, name := range v.PositionNames() {
		cast, err := book.CastFor(v, name, "x", nil)
		if err != nil {
			b.Fatal(err)
		}
		r, err := v.Resolve(cast)
		if err != nil {
			b.Fatal(err)
		}
		all = append(all, r)
	}
	for b.Loop() {
		for _, r := range all {
			place := r.Position.Place()
			changes := v.Compare(holds, r.Wanted)
			wanted := make(map[string]profiles.Value, len(changes))
			for _, c := range changes {
				wanted[c.Parameter.Name] = c.To
			}
			before := func(name string) profiles.Value { return holds[profiles.Parameter{Place: place, Name: name}] }
			after := func(name string) profiles.Value {
				if to, ok := wanted[name]; ok {
					return to
				}
				return before(name)
			}
			if len(v.Sounds(place, before, after, nil).Steps()) == 0 {
				b.Fatal("nothing differs")
			}
		}
	}
}
