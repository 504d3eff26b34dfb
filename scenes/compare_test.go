package scenes_test

import (
	"fmt"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
)

func TestAChangeSaysAllThatThoseWhoUseItNeed(t *testing.T) {
	b := bookOf(t, files{"venues/net-loft.toml": changed(t, "venues/net-loft.toml", `safes = ["main", "input.delay"]`, `safes = ["pan"]`)})
	d := after(t, b, "net-loft", "lectern", "pilot", nil)
	r := resolve(t, b, "lectern", "botanist")
	var lines []string
	for _, c := range d.venue.Compare(d.holds, r.Wanted) {
		from, to := c.Spec.SayBoth(c.From, c.To)
		line := fmt.Sprintf("%s %s -> %s (%s)", c.Parameter.Name, from, to, c.Origin)
		if c.Safe != nil {
			line += fmt.Sprintf(" safe by %s, line %d", c.Safe.Text, c.Safe.Line)
		}
		if c.Rounded() {
			line += " for " + c.Spec.Say(c.Asked)
		}
		lines = append(lines, line)
	}
	// What differs from the pilot, whose gain at the lectern is 24.5 dB: in the desk's
	// order, from top to bottom. The room's EQ 4 is not in it.
	want := []string{
		`label "Pilot" -> "Botanist" (performers/botanist.toml:10)`,
		"input.gain 24.5 dB -> 32.5 dB (performers/botanist.toml:11)",
		"lowcut.frequency 101 Hz -> 120 Hz (performers/botanist.toml:12)",
		"eq.1.kind bell -> low-shelf (performers/botanist.toml:17)",
		"eq.1.frequency 403 Hz -> 250 Hz (performers/botanist.toml:18)",
		"eq.1.gain -3.0 dB -> -2.5 dB (performers/botanist.toml:19)",
		"eq.1.q 1.0 -> 0.71 (performers/botanist.toml:20) for 0.7",
		"eq.2.on off -> on (performers/botanist.toml:23)",
		"eq.2.frequency 1.0 kHz -> 2.48 kHz (performers/botanist.toml:24) for 2.5 kHz",
		"eq.2.gain 0.0 dB -> -3.0 dB (performers/botanist.toml:25)",
		"eq.2.q 1.0 -> 1.4 (performers/botanist.toml:26)",
		"eq.3.on on -> off (venues/net-loft.toml:36)",
		"send.1.on off -> on (performers/botanist.toml:29)",
		"send.1.level -inf dB -> -12.0 dB (performers/botanist.toml:29)",
		"pan L10 -> centre (performers/botanist.toml:14) safe by pan, line 6",
		"fader -8.0 dB -> -6.0 dB (performers/botanist.toml:13)",
	}
	if diff := cmp.Diff(want, lines); diff != "" {
		t.Errorf("changes (-want +got):\n%s", diff)
	}
}

func TestWhatWasNotKnownIsNoMoveOfAHand(t *testing.T) {
	v := venueOf(t, bookOf(t, nil), "net-loft")
	fader, pan, gain := parameter(t, "channel.3.fader"), parameter(t, "channel.3.pan"), parameter(t, "channel.3.input.gain")
	before := scenes.Values{fader: profiles.Number(-6), gain: profiles.Number(30)}
	now := scenes.Values{fader: profiles.Number(-4), pan: profiles.Number(10)}
	moves := v.Moves(before, now)
	if len(moves) != 1 || moves[0].Parameter != fader || moves[0].From != profiles.Number(-6) || moves[0].To != profiles.Number(-4) {
		t.Errorf("moves: %v", moves)
	}
}
