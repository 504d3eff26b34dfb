package scenes_test

import (
	"fmt"
	"slices"
	"testing"

	"deskhand/profiles"
)

func TestWhatASafeCovers(t *testing.T) {
	for _, c := range []struct {
		safe    string
		covers  []string
		spares  []string
		ofQuay  int // how many parameters of a quay-24 it covers, -1 where that says nothing
		comment string
	}{
		{"lectern", []string{"channel.3.fader", "channel.3.eq.2.gain"}, []string{"channel.4.fader", "main.fader"}, -1, "a whole position"},
		{"lectern.eq", []string{"channel.3.eq.on", "channel.3.eq.2.gain"}, []string{"channel.3.fader", "channel.4.eq.on"}, 21, "4 bands of 5 and a switch"},
		{"lectern.send.stream", []string{"channel.3.send.2.level", "channel.3.send.2.on"}, []string{"channel.3.send.1.level"}, 4, "a send by the mix's name"},
		{"channel.3", []string{"channel.3.fader"}, []string{"channel.13.fader", "mix.3.fader"}, -1, "a channel"},
		{"channel.3.fader", []string{"channel.3.fader"}, []string{"channel.3.pan"}, 1, "one parameter"},
		{"channel.*.fader", []string{"channel.3.fader"}, []string{"mix.1.fader", "main.fader"}, 24, "of every channel"},
		{"mix.2", []string{"mix.2.fader", "mix.2.eq.1.gain"}, []string{"mix.1.fader", "channel.2.fader"}, -1, "a mix"},
		{"mix.stream.fader", []string{"mix.2.fader"}, []string{"mix.1.fader"}, 1, "a mix by name"},
		{"main", []string{"main.fader", "main.eq.1.gain"}, []string{"channel.3.main", "mix.1.fader"}, -1, "the main mix, and not who goes there"},
		{"main.fader", []string{"main.fader"}, []string{"channel.3.fader"}, 1, "one parameter of the main mix"},
		{"channel.*.main", []string{"channel.3.main"}, []string{"main.fader"}, 24, "who goes to the main mix"},
		{"input.delay", []string{"channel.3.input.delay"}, []string{"channel.3.input.gain"}, 24, "a bare name"},
		{"input", []string{"channel.3.input.delay", "channel.9.input.gain"}, []string{"channel.3.fader"}, -1, "the beginning of names"},
		{"send.loop", []string{"channel.9.send.3.level"}, []string{"channel.9.send.1.level", "mix.3.fader"}, 24 * 4, "a mix's sends everywhere"},
		{"eq.*.gain", []string{"channel.3.eq.4.gain"}, []string{"channel.3.eq.4.q", "main.eq.1.gain"}, 24 * 4, "any band"},
		{"*.fader", []string{"channel.3.fader", "mix.2.fader", "main.fader"}, []string{"main.mute"}, 24 + 8 + 1, "of every place"},
		{"fader", []string{"channel.3.fader"}, []string{"main.fader"}, 24, "of every channel"},
	} {
		t.Run(c.safe, func(t *testing.T) {
			venue := fmt.Sprintf("safes = [%q]\n", c.safe) + plainVenue + "[mixes]\nwedge = 1\nstream = 2\nloop = 3\n[positions.lectern]\nchannel = 3\n"
			v := venueOf(t, bookOf(t, files{"venues/shed.toml": venue}), "shed")
			isSafe := func(q profiles.Parameter) bool {
				safe, ok := v.SafeFor(q)
				return ok && safe.Text == c.safe && safe.Line == 1
			}
			for _, path := range slices.Concat(c.covers, c.spares) {
				q, err := profiles.ParseParameter(path)
				if err != nil {
					t.Fatal(err)
				}
				if isSafe(q) != slices.Contains(c.covers, path) {
					t.Errorf("%s: safe is %v", path, isSafe(q))
				}
			}
			n := 0
			for _, q := range v.Desk.Profile.Parameters() {
				if isSafe(q) {
					n++
				}
			}
			if c.ofQuay >= 0 && n != c.ofQuay {
				t.Errorf("covers %d parameters, want %d (%s)", n, c.ofQuay, c.comment)
			}
		})
	}
}

func TestASafeThatIsNothingIsAFault(t *testing.T) {
	for _, safe := range []string{"", ".", "channel", "channel.0", "channel.25", "channel.03", "channel.x", "mix", "mix.9", "mix.wegde", "main.gate", "send.wegde", "eq.5", "lectern.fadr", "\\u001b[31m", "channel.3.fader.x"} {
		t.Run(safe, func(t *testing.T) {
			venue := fmt.Sprintf("safes = [\"fader\", \"%s\"]\n", safe) + plainVenue + "[mixes]\nwedge = 1\n[positions.lectern]\nchannel = 3\n"
			_, err := bookOf(t, files{"venues/shed.toml": venue}).Venue("shed")
			if err == nil {
				t.Error("no fault")
			}
		})
	}
}
