package main

import (
	"testing"

	"deskhand/profiles"
	"deskhand/scenes"
)

// A hand reads the desk's own display: 1 octave is Q 1.41.
func TestAnInstructionForAHandSaysWhatTheDeskShows(t *testing.T) {
	text := "name = \"x\"\nchannels = 2\nbands = 1\n[link]\nport = 9\n[ask]\nnever = true\n[channel]\n" +
		"mute = { at = \"/{channel}\" }\neq.band.q = { by-hand = \"turn the width knob\", linear = [0.5, 2.0], steps = 16, octaves = true }\n"
	p, err := profiles.Load("x.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	q := profiles.Parameter{Place: profiles.Place{Part: profiles.Channel, Number: 2}, Name: "eq.1.q"}
	control, _ := p.Control(q)
	v, err := control.Nearest(profiles.Number(1.4))
	if err != nil {
		t.Fatal(err)
	}
	venue := &scenes.Venue{}
	venue.Desk.Profile = p
	changes := venue.Compare(nil, []scenes.Wanted{{Parameter: q, Value: v, Asked: profiles.Number(1.4)}})
	if len(changes) != 1 {
		t.Fatal(changes)
	}
	if says, want := instruction(changes[0]), "channel 2: turn the width knob to 1.4, which the desk shows as 1 oct"; says != want {
		t.Errorf("%q\nnot %q", says, want)
	}
}
