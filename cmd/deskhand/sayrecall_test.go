package main

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

func TestADeskThatWasNotAskedAnyMoreIsNotSaidToBeSilent(t *testing.T) {
	_, v := netLoft(t, exampleDir(t))
	q, err := profiles.ParseParameter("channel.3.fader")
	if err != nil {
		t.Fatal(err)
	}
	result := &recall.Result{Unproved: []recall.Unproved{{Parameter: q, Wanted: profiles.Number(-6)}}}
	for want, err := range map[string]error{"not read back": context.Canceled, "no answer": desk.ErrSilent} {
		var out bytes.Buffer
		newApp(console{in: strings.NewReader(""), out: &out, err: &out}).sayUnproved(v, result, err)
		if !strings.Contains(out.String(), "channel.3.fader: wanted -6.0 dB, "+want+"\n") {
			t.Errorf("%v: %s", err, &out)
		}
	}
}
