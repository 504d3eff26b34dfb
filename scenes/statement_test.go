package scenes_test

import (
	"fmt"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
)

func exactly(_ profiles.Parameter, x, y profiles.Value) bool { return x == y }

func lines(changes []scenes.Change) []string {
	var all []string
	for _, c := range changes {
		all = append(all, fmt.Sprintf("%s %s -> %s (%s)", c.Parameter.Name, c.Spec.Say(c.From), c.Spec.Say(c.To), c.Origin))
	}
	return all
}

func TestTwoPerformersDifferInWhatTheirFilesSay(t *testing.T) {
	b := bookOf(t, files{
		"performers/x.toml": "[dialled-in]\nsensitivity = -38\ndistance = 0.3\n[strip]\ninput.gain = 30\nfader = -6\npan = 0\n",
		"performers/y.toml": "[strip]\ninput.gain = 30\nfader = -4\nmain = true\n[at.net-loft.strip]\nsend.wedge.level = -9\n",
	})
	stated := func(name string) scenes.Statement {
		p, err := b.Performer(name)
		if err != nil {
			t.Fatal(err)
		}
		return scenes.Statement{Entries: b.State(p)}
	}
	want := []string{
		"fader -6.0 dB -> -4.0 dB (performers/y.toml:3)",
		"pan centre -> unknown (performers/x.toml:7)",
		"dialled-in.sensitivity -38.0 dB -> unknown (performers/x.toml:1)",
		"dialled-in.distance 0.3 m -> unknown (performers/x.toml:1)",
		"main unknown -> on (performers/y.toml:4)",
		"at.net-loft.send.wedge.level unknown -> -9.0 dB (performers/y.toml:6)",
	}
	if diff := cmp.Diff(want, lines(scenes.Differences(stated("x"), stated("y"), exactly))); diff != "" {
		t.Errorf("differences (-want +got):\n%s", diff)
	}
	if same := scenes.Differences(stated("x"), stated("x"), exactly); len(same) > 0 {
		t.Errorf("a file differs from itself: %v", same)
	}
}

func TestWhatAReadingDoesNotMentionIsNoDifference(t *testing.T) {
	v := venueOf(t, bookOf(t, nil), "net-loft")
	fader, pan := parameter(t, "channel.3.fader"), parameter(t, "channel.3.pan")
	desk := scenes.Statement{Partial: true, Entries: v.StateValues(scenes.Values{fader: profiles.Number(-4)})}
	file := scenes.Statement{Entries: v.StateReading(&scenes.Reading{Values: scenes.Values{fader: profiles.Number(-6), pan: profiles.Number(0)}})}
	for _, found := range [][]scenes.Change{scenes.Differences(desk, file, v.Same), scenes.Differences(file, desk, v.Same)} {
		if len(found) != 1 || found[0].Parameter != fader {
			t.Errorf("differences: %v", lines(found))
		}
	}
}

func TestTheMuteIsStatedWhereTheSceneSaysWhoIsOpen(t *testing.T) {
	b := bookOf(t, nil)
	s, err := b.Scene("ballads")
	if err != nil {
		t.Fatal(err)
	}
	v, all, err := b.ResolveScene(s)
	if err != nil {
		t.Fatal(err)
	}
	got := make(map[string]string)
	for _, r := range all {
		for _, e := range v.State(r) {
			if e.Parameter.Name == "mute" {
				got[r.Position.Name] = e.Value.String() + " " + e.Origin.String()
			}
		}
	}
	want := map[string]string{
		"lectern": "off scenes/ballads.toml:8", "bench": "on scenes/ballads.toml:12",
		"table-left": "on scenes/ballads.toml:15", "roving": "on scenes/ballads.toml:18",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestASettingMayBeNamedByItsBeginning(t *testing.T) {
	v := venueOf(t, bookOf(t, nil), "net-loft")
	lectern, err := v.Position("lectern")
	if err != nil {
		t.Fatal(err)
	}
	for word, want := range map[string]string{"fader": "fader", "eq": "eq", "eq.2": "eq.2", "eq.2.gain": "eq.2.gain", "send.wedge": "send.1", "send.loop.level": "send.3.level"} {
		if got, err := v.SettingName(lectern, word); err != nil || got != want {
			t.Errorf("%s: %q, %v", word, got, err)
		}
	}
	for word, want := range map[string]string{
		"fadr":      `channel 3 has no setting "fadr": did you mean "fader"?`,
		"compresor": `channel 3 has no setting "compresor": did you mean "compressor"?`,
	} {
		if _, err := v.SettingName(lectern, word); err == nil || err.Error() != want {
			t.Errorf("%s: %v", word, err)
		}
	}
}
