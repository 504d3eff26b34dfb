package scenes_test

import (
	"testing"

	"deskhand/scenes"
)

// raftVenue is a room on a desk of three plain bands: a low shelf fixed at 100 Hz, a bell
// with fixed Q, a high shelf fixed at 10 kHz; its low cut is fixed at 80 Hz.
const raftVenue = "[desk]\nprofile = \"raft-8\"\naddress = \"127.0.0.1\"\n[positions.lectern]\nchannel = 1\n"

func onRaft(t *testing.T, strip string) (*scenes.Resolved, error) {
	t.Helper()
	_, r, err := onLectern(t, "hut", files{"venues/hut.toml": raftVenue, "performers/x.toml": "[strip]\n" + strip})
	return r, err
}

// onLectern resolves the performer x on the lectern of a venue, and gives the venue.
func onLectern(t testing.TB, venue string, with files) (*scenes.Venue, *scenes.Resolved, error) {
	t.Helper()
	b := bookOf(t, with)
	v, err := b.Venue(venue)
	if err != nil {
		t.Fatal(err)
	}
	cast, err := b.CastFor(v, "lectern", "x", nil)
	if err != nil {
		t.Fatal(err)
	}
	r, err := v.Resolve(cast)
	return v, r, err
}

func TestABandGoesWhereTheDeskHasOneOfItsKind(t *testing.T) {
	r, err := onRaft(t, `eq.1 = { frequency = 1000, gain = -3, q = 0.9 }
eq.2 = { kind = "low-shelf", frequency = 100, gain = -2 }
`)
	if err != nil {
		t.Fatal(err)
	}
	at := make(map[string]string)
	for _, w := range r.Wanted {
		at[w.Parameter.Name] = w.Value.String()
	}
	if at["eq.2.gain"] != "-3" || at["eq.1.gain"] != "-2" || at["eq.3.gain"] != "0" || r.EQ != nil {
		t.Errorf("the bands are at %v, fitted %v", at, r.EQ)
	}
}

func TestABandThatTheDeskCanNotBeIsFitted(t *testing.T) {
	for strip, want := range map[string]string{
		"eq.1 = { frequency = 500, gain = -3, q = 0.9 }\neq.2 = { frequency = 1500, gain = -3, q = 0.9 }\n": "raft-8 has no band left that can be the voice's EQ 1 (performers/x.toml:2), a bell at 500 Hz",
		"eq.3 = { kind = \"high-shelf\", frequency = 2000, gain = 2 }\n":                                    "raft-8 has no band left that can be the voice's EQ 3 (performers/x.toml:2), a high-shelf at 2.0 kHz",
		"eq.1 = { frequency = 500, gain = -3, q = 2 }\n":                                                    "raft-8 has no band left that can be the voice's EQ 1 (performers/x.toml:2), a bell at 500 Hz",
		"eq.1 = { frequency = 500, gain = -15, q = 0.9 }\n":                                                 "raft-8 has no band left that can be the voice's EQ 1 (performers/x.toml:2), a bell at 500 Hz",
	} {
		if r, err := onRaft(t, strip); err != nil || r.EQ == nil || r.EQ.Why != want {
			t.Errorf("%v, fitted as %v, not as %s", err, r.EQ, want)
		}
	}
}

func TestWhatADeskHasFixedIsToldAndNotAsked(t *testing.T) {
	r, err := onRaft(t, "lowcut.frequency = 120\n")
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Left) != 1 || r.Left[0].Why != "raft-8 has it fixed at 80 Hz" || r.Left[0].Entry.Name != "lowcut.frequency" {
		t.Errorf("left %v", r.Left)
	}
}

// A profile without the kind of its bands is a desk of bells.
func TestADeskWithoutKindsHasBells(t *testing.T) {
	const profile = "name = \"plain\"\nbased = \"quay-24\"\n[channel]\neq.band.kind = { absent = true }\n"
	for kind, fitted := range map[string]bool{"bell": false, "low-shelf": true, "high-shelf": true, "notch": true} {
		_, r, err := onLectern(t, "hut", files{
			"profiles/plain.toml": profile,
			"venues/hut.toml":     "[desk]\nprofile = \"plain\"\naddress = \"127.0.0.1\"\n[positions.lectern]\nchannel = 1\n",
			"performers/x.toml":   "[strip]\neq.1 = { kind = \"" + kind + "\", frequency = 500, gain = -3, q = 1 }\n",
		})
		if err != nil {
			t.Fatalf("a %s: %v", kind, err)
		}
		if (r.EQ != nil) != fitted || len(r.Left) != 0 {
			t.Errorf("a %s: fitted %v, left out %v", kind, r.EQ, r.Left)
		}
	}
}
