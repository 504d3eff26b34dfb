package scenes_test

import (
	"strings"
	"testing"
)

// A bell that a hand adds goes into a file whose Qs are those of another desk: barge-48
// shows 2 where quay-24 shows 2 x 10^(6/40) = 2.825 for a bell of 6 dB.
func TestABellThatAHandAddsIsKeptWithTheQOfTheFilesDesk(t *testing.T) {
	b := bookOf(t, files{"venues/pier.toml": bargeVenue, "performers/x.toml": dialledOnQuay + "eq.1 = { frequency = 1000, gain = 6, q = 2 }\n"})
	d := after(t, b, "pier", "lectern", "x", nil)
	d.hand("eq.2.on", true)
	d.hand("eq.2.frequency", 300)
	d.hand("eq.2.gain", 6)
	d.hand("eq.2.q", 2)
	keeps(t, d)
}

// A shelf's Q is the same on all desks, a bell's is not.
func TestABandWhoseKindAHandChangesKeepsItsQ(t *testing.T) {
	for _, kinds := range [][2]string{{"bell", "low-shelf"}, {"low-shelf", "bell"}} {
		t.Run(kinds[0]+" to "+kinds[1], func(t *testing.T) {
			b := bookOf(t, files{"venues/pier.toml": bargeVenue, "performers/x.toml": dialledOnQuay +
				"eq.1 = { kind = \"" + kinds[0] + "\", frequency = 1000, gain = 6, q = 2 }\n"})
			d := after(t, b, "pier", "lectern", "x", nil)
			d.hand("eq.1.kind", kinds[1])
			keeps(t, d)
		})
	}
}

// keeps checks that what is kept leads back to what the desk holds.
func keeps(t *testing.T, d *desk) {
	t.Helper()
	text := d.written()
	b := bookOf(t, files{"venues/pier.toml": bargeVenue, "performers/x.toml": text})
	r, err := d.venue.Resolve(castOf(t, b, d.venue, "lectern", "x", nil))
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	for _, c := range d.venue.Compare(d.holds, r.Wanted) {
		t.Errorf("%s: the desk holds %v, and the file asks for %v\n%s", c.Parameter, c.From, c.To, text)
	}
}

// The performer's EQ 2 is a high shelf, which only the third band of raft-8 can be. A hand's
// second band is another one, and must not be written over it.
func TestABandThatAHandAddsIsNotWrittenOverAnotherOfTheVoice(t *testing.T) {
	b := bookOf(t, files{"venues/pier.toml": raftVenue, "performers/x.toml": "[strip]\neq.2 = { kind = \"high-shelf\", frequency = 10000, gain = 2 }\n"})
	d := after(t, b, "pier", "lectern", "x", nil)
	d.hand("eq.2.gain", -4)
	kept, why := d.kept()
	if len(kept) > 0 {
		t.Errorf("kept %v", kept)
	}
	if !strings.Contains(why["eq.2.gain"], "EQ 2") {
		t.Errorf("apart: %v", why)
	}
}

// Once bands are fitted, a band that a hand adds belongs to their sum too.
func TestABandThatAHandAddsToAFitIsNotKept(t *testing.T) {
	const voice = `[strip]
eq.1 = { frequency = 1000, gain = -3, q = 0.9 }
eq.2 = { frequency = 1050, gain = -3, q = 0.9 }
`
	b := bookOf(t, files{"venues/pier.toml": raftVenue, "performers/x.toml": voice})
	d := after(t, b, "pier", "lectern", "x", nil)
	if d.strip.EQ == nil {
		t.Fatal("nothing is fitted")
	}
	for _, gain := range []string{"eq.1.gain", "eq.2.gain", "eq.3.gain"} {
		d.hand(gain, 5)
	}
	if kept, _ := d.kept(); len(kept) > 0 {
		t.Errorf("kept %v", kept)
	}
}

// What a shelf, a notch and a pass filter do without, a bell needs in the file.
func TestABandThatAHandMakesABellIsKeptWhole(t *testing.T) {
	for band, want := range map[string]string{
		`kind = "low-shelf", frequency = 200, gain = 3`: `eq.1 = { kind = "bell", frequency = 200, gain = 3, q = 0.71 }`,
		`kind = "notch", frequency = 200, q = 4`:        `eq.1 = { kind = "bell", frequency = 200, q = 4, gain = 0 }`,
		`kind = "low-pass", frequency = 8000`:           `eq.1 = { kind = "bell", frequency = 8000, gain = 0, q = 0.71 }`,
	} {
		b := bookOf(t, files{"performers/x.toml": "[strip]\neq.1 = { " + band + " }\n"})
		d := after(t, b, "net-loft", "lectern", "x", nil)
		d.hand("eq.1.kind", "bell")
		text := d.written()
		if !strings.Contains(text, want) {
			t.Errorf("%s becomes\n%s", band, text)
		}
		if left := d.left(text, nil); len(left) > 0 {
			t.Errorf("%v is left of\n%s", left, text)
		}
	}
}
