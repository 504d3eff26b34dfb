package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"deskhand/profiles"
)

// TestTracesOfTheMockDesksBecomeProfiles runs the command on the recorded traffic of
// every mock desk that answers, into a new file, which must be a sound profile that
// reads the trace. What the entries are worth is for the package that learns them.
func TestTracesOfTheMockDesksBecomeProfiles(t *testing.T) {
	traces, err := filepath.Glob("../../testdata/traces/*.trace")
	if err != nil || len(traces) < 4 {
		t.Fatalf("%d traces: %v", len(traces), err)
	}
	for _, file := range traces {
		t.Run(filepath.Base(file), func(t *testing.T) {
			into := filepath.Join(t.TempDir(), "learned.toml")
			var out, complaints bytes.Buffer
			c := console{in: strings.NewReader(""), out: &out, err: &complaints}
			if code := run(t.Context(), []string{"profile", "trace", "--from", file, "--into", into, "--yes"}, c); code != exitDone {
				t.Fatalf("exit %d\n%s%s", code, &out, &complaints)
			}
			text, err := os.ReadFile(into)
			if err != nil {
				t.Fatal(err)
			}
			p, err := profiles.Load("learned.toml", text)
			if err != nil {
				t.Fatal(err)
			}
			for _, name := range []string{"fader", "mute", "input.gain", "eq.1.frequency", "eq.1.gain", "eq.1.q"} {
				if _, ok := p.Control(profiles.Parameter{Place: profiles.Place{Part: profiles.Channel, Number: 1}, Name: name}); !ok {
					t.Errorf("there is no %s", name)
				}
			}
			out.Reset()
			if code := run(t.Context(), []string{"profile", "trace", "--from", file, "--profile", into}, c); code != exitDone {
				t.Fatalf("exit %d\n%s", code, &complaints)
			}
			if !strings.Contains(out.String(), " messages, 0 not placed\n") {
				t.Errorf("not all was placed:\n%s", &out)
			}
		})
	}
}
