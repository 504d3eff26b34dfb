package scenes_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
)

// bell writes a bell at a frequency as the lines of a strip.
func bell(number, frequency int) string {
	return fmt.Sprintf("eq.%d = { frequency = %d, gain = -3, q = 1 }\n", number, frequency)
}

// off writes the same, switched off.
func off(band string) string { return strings.Replace(band, " }", ", on = false }", 1) }

// bandsOf gives the frequency that is asked for in each of four bands, "off" where the
// band is to be off, and "" where nothing is asked for.
func bandsOf(r *scenes.Resolved) []string {
	bands := make([]string, 4)
	for i := range bands {
		name := func(field string) string { return fmt.Sprintf("eq.%d.%s", i+1, field) }
		w, ok := asked(r, name("frequency"))
		if said(r, name("on")) == "off" {
			bands[i] = "off"
		}
		if ok {
			bands[i] = strings.TrimSpace(bands[i] + " " + w.Asked.String())
		}
	}
	return bands
}

func TestEQOfRoomAndVoiceAddUp(t *testing.T) {
	for _, c := range []struct {
		name                             string
		position, performer, here, scene string
		want                             []string
	}{
		{"nobody has any", "", "", "", "", []string{"", "", "", ""}},
		{"the room's alone", bell(4, 160), "", "", "", []string{"off", "off", "off", "160"}},
		{"the voice's alone", "", bell(2, 2500), "", "", []string{"off", "2500", "off", "off"}},
		{"both", bell(4, 160), bell(2, 2500), "", "", []string{"off", "2500", "off", "160"}},
		{"the room keeps its number", bell(2, 160), bell(2, 2500), "", "", []string{"2500", "160", "off", "off"}},
		{"the voice's own numbers come before those that must move", bell(1, 160), bell(1, 400) + bell(2, 2500), "", "", []string{"160", "2500", "400", "off"}},
		{"numbers beyond the desk: the room's to the top, the voice's to the bottom", bell(7, 160), bell(9, 2500), "", "", []string{"2500", "off", "off", "160"}},
		{"the room's place does not depend on the voice", bell(7, 160), bell(4, 400), "", "", []string{"400", "off", "off", "160"}},
		{"as many as the desk has", bell(1, 100) + bell(2, 200), bell(1, 300) + bell(2, 400), "", "", []string{"100", "200", "300", "400"}},
		{"layers of the voice win value by value", "", bell(2, 2500), "eq.2.frequency = 3000\n", "eq.2.frequency = 3500\n", []string{"off", "3500", "off", "off"}},
		{"a band of the scene is the voice's", bell(4, 160), bell(2, 2500), "", bell(3, 5000), []string{"off", "2500", "5000", "160"}},
		{"switched off by a later layer, it stays ready", "", bell(2, 2500), "", "eq.2.on = false\n", []string{"off", "off 2500", "off", "off"}},
		{"switched off and in the room's way, it is dropped", bell(2, 160), off(bell(2, 2500)), "", "", []string{"off", "160", "off", "off"}},
		{"switched on again", "", off(bell(2, 2500)), "", "eq.2.on = true\n", []string{"off", "2500", "off", "off"}},
		{"the room's switched off in the venue", off(bell(4, 160)), bell(2, 2500), "", "", []string{"off", "2500", "off", "off 160"}},
		{"a room that wants it flat", "eq.1.on = false\n", "", "", "", []string{"off", "off", "off", "off"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := stacked(t, c.position, c.performer, c.here, c.scene)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(c.want, bandsOf(r)); diff != "" {
				t.Errorf("bands (-want +got):\n%s", diff)
			}
		})
	}
}

func TestABandInUseIsOnAndABellUnlessItSaysOtherwise(t *testing.T) {
	r, err := stacked(t, "", bell(2, 2500)+"eq.3 = { kind = \"low-pass\", frequency = 9000 }\n", "", "")
	if err != nil {
		t.Fatal(err)
	}
	got := []string{said(r, "eq.on"), said(r, "eq.2.on"), said(r, "eq.2.kind"), said(r, "eq.3.on"), said(r, "eq.3.kind")}
	if diff := cmp.Diff([]string{"on", "on", `"bell"`, "on", `"low-pass"`}, got); diff != "" {
		t.Error(diff)
	}
}

func TestALayerMaySwitchTheWholeEQOff(t *testing.T) {
	r, err := stacked(t, "", bell(2, 2500), "", "eq.on = false\n")
	if err != nil {
		t.Fatal(err)
	}
	if w, _ := asked(r, "eq.on"); said(r, "eq.on") != "off" || w.Origin.String() != "scenes/x.toml:5" {
		t.Errorf("EQ %s from %s", said(r, "eq.on"), w.Origin)
	}
}

func TestABandSaysWhereItIsWritten(t *testing.T) {
	r, err := stacked(t, bell(2, 160), bell(2, 2500), "", "")
	if err != nil {
		t.Fatal(err)
	}
	w, _ := asked(r, "eq.1.frequency")
	if w.Written != "eq.2.frequency" || w.Note != "written as EQ 2" || w.Room || w.Origin.String() != "performers/x.toml:2" {
		t.Errorf("the voice's band: %+v", w)
	}
	w, _ = asked(r, "eq.2.frequency")
	if w.Written != "eq.2.frequency" || w.Note != "" || !w.Room || w.Origin.String() != "venues/shed.toml:9" {
		t.Errorf("the room's band: %+v", w)
	}
}

func TestMoreBandsThanTheDeskHasAreFitted(t *testing.T) {
	r, err := stacked(t, bell(1, 100)+bell(4, 200), bell(1, 300)+bell(2, 400), "", bell(3, 500))
	if err != nil {
		t.Fatal(err)
	}
	if r.EQ == nil || r.EQ.Why != "quay-24 has 4 bands of EQ and 5 are wanted" {
		t.Fatalf("fitted: %+v", r.EQ)
	}
	of := []string{"the room's EQ 1 (venues/shed.toml:9)", "the room's EQ 4 (venues/shed.toml:10)",
		"the voice's EQ 1 (performers/x.toml:2)", "the voice's EQ 2 (performers/x.toml:3)", "the voice's EQ 3 (scenes/x.toml:5)"}
	if diff := cmp.Diff(of, r.EQ.Of); diff != "" {
		t.Errorf("of (-want +got):\n%s", diff)
	}
	// Five bells of -3 dB, less than an octave from each other, are one wide dip, which four
	// can be.
	if math.Abs(r.EQ.Largest) > 0.5 || len(r.Warnings) > 0 {
		t.Errorf("off by %s; warnings %v", r.EQ.Say(), texts(r.Warnings))
	}
	for _, w := range r.Wanted {
		if strings.HasPrefix(w.Parameter.Name, "eq.") && w.Parameter.Name != "eq.on" && !w.Fitted {
			t.Errorf("%s does not say that it is fitted", w.Parameter)
		}
	}
}

func TestAFitThatIsFarOffIsWarnedOf(t *testing.T) {
	narrow := func(number, frequency int) string {
		return fmt.Sprintf("eq.%d = { frequency = %d, gain = -9, q = 8 }\n", number, frequency)
	}
	r, err := stacked(t, narrow(1, 100)+narrow(2, 315), narrow(1, 800)+narrow(2, 2000)+narrow(3, 5000), "", "")
	if err != nil {
		t.Fatal(err)
	}
	// Four can take four of the five; the one that is left is 9 dB too loud at its centre.
	if r.EQ == nil || math.Abs(r.EQ.Largest-9) > 0.5 || len(r.Warnings) != 1 {
		t.Fatalf("fitted %+v, warnings %v", r.EQ, texts(r.Warnings))
	}
	if got := r.Warnings[0].Error(); !strings.Contains(got, "; the nearest that its own bands come to the room's EQ 1") || !strings.Contains(got, "(more than 1.5 dB)") {
		t.Error(got)
	}
}

func TestABandWithoutWhatItNeedsIsAFault(t *testing.T) {
	for strip, want := range map[string][]string{
		"eq.2 = { frequency = 2500 }\n":                 {"EQ 2 has no gain: a bell needs one", "EQ 2 has no q: a bell needs one"},
		"eq.2 = { kind = \"notch\", frequency = 50 }\n": {"EQ 2 has no q: a notch needs one"},
		"eq.2 = { kind = \"low-shelf\", gain = -2 }\n":  {"EQ 2 has no frequency: a low-shelf needs one"},
		"eq.2 = { kind = \"high-pass\", on = true }\n":  {"EQ 2 has no frequency: a high-pass needs one"},
		"eq.2 = { frequency = 2500, on = false }\n":     nil, // off, and not yet finished
	} {
		_, err := stacked(t, "", strip, "", "")
		switch {
		case want == nil && err != nil:
			t.Errorf("%s: %v", strip, err)
		case want != nil:
			for i := range want {
				want[i] = "performers/x.toml:2: " + want[i]
			}
			wantFaults(t, err, want...)
		}
	}
}

func TestSwitchingOffABandThatOnlyTheRoomHasIsWarnedOf(t *testing.T) {
	r, err := stacked(t, bell(4, 160), bell(2, 2500), "", "eq.4.on = false\n")
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"scenes/x.toml:5: EQ 4 is switched off, but it is no band of the voice: the room's EQ 4 (venues/shed.toml:9) stays"}
	if diff := cmp.Diff(want, texts(r.Warnings)); diff != "" {
		t.Error(diff)
	}
	if got := bandsOf(r)[3]; got != "160" {
		t.Errorf("band 4: %s", got)
	}
}

func TestASafeBandIsNeitherUsedNorFreed(t *testing.T) {
	safe := "safes = [\"lectern.eq.3\"]\n"
	for _, c := range []struct {
		name, performer string
		want            []string
	}{
		{"left alone", bell(2, 2500), []string{"off", "2500", "", "160"}},
		{"its number moves", bell(3, 2500), []string{"2500", "off", "", "160"}},
		{"taken only where nothing else is free, and then told as safe", bell(1, 100) + bell(2, 200) + bell(3, 300), []string{"100", "200", "300", "160"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			venue := safe + plainVenue + "[positions.lectern]\nchannel = 1\n[positions.lectern.strip]\n" + bell(4, 160)
			b := bookOf(t, files{"venues/shed.toml": venue, "performers/x.toml": "[strip]\n" + c.performer})
			v := venueOf(t, b, "shed")
			r, err := v.Resolve(castOf(t, b, v, "lectern", "x", nil))
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(c.want, bandsOf(r)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestADeskWithoutBandSwitchesHasFreeBandsFlat(t *testing.T) {
	b := bookOf(t, files{"profiles/hut-8.toml": hut, "venues/hut.toml": hutVenue, "performers/x.toml": "[strip]\n" + bell(2, 2500)})
	v := venueOf(t, b, "hut")
	r, err := v.Resolve(castOf(t, b, v, "stool", "x", nil))
	if err != nil {
		t.Fatal(err)
	}
	if got := []string{said(r, "eq.1.gain"), said(r, "eq.2.gain"), said(r, "eq.1.frequency")}; !cmp.Equal(got, []string{"0", "-3", ""}) {
		t.Errorf("got %q", got)
	}
}

func TestADeskWithoutEQLeavesTheBandsAndSaysSo(t *testing.T) {
	plain := strings.Replace(hut, "bands = 2\n", "", 1)
	for _, field := range []string{"frequency", "gain", "q"} {
		_, rest, _ := strings.Cut(plain, "eq.band."+field)
		_, after, _ := strings.Cut(rest, "\n")
		plain = plain[:strings.Index(plain, "eq.band."+field)] + after
	}
	b := bookOf(t, files{"profiles/hut-8.toml": plain, "venues/hut.toml": hutVenue, "performers/x.toml": "[strip]\n" + bell(2, 2500)})
	v := venueOf(t, b, "hut")
	r, err := v.Resolve(castOf(t, b, v, "stool", "x", nil))
	if err != nil {
		t.Fatal(err)
	}
	var left []string
	for _, l := range r.Left {
		left = append(left, l.Entry.Name+": "+l.Why)
	}
	want := []string{"eq.2.frequency: hut-8 has no EQ here", "eq.2.gain: hut-8 has no EQ here", "eq.2.q: hut-8 has no EQ here", "input.phantom: hut-8 has no such setting"}
	if diff := cmp.Diff(want, left); diff != "" {
		t.Error(diff)
	}
}
