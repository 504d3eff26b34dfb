package main

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/trace"
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

// What a desk sent before its link ended is shown, however the link ended.
func TestWhatHadComeBeforeTheLinkEndedIsHandedOver(t *testing.T) {
	for range 20 { // which of the two is seen first is left to chance
		l := &listening{ear: &ear{packets: make(chan trace.Event, 3), broken: make(chan error, 1)}}
		for n := range 3 {
			l.packets <- trace.Event{At: time.Duration(n)}
		}
		l.broken <- io.EOF
		var heard []time.Duration
		err := l.until(t.Context(), func(e trace.Event) { heard = append(heard, e.At) })
		if far := (unreached{}); !errors.As(err, &far) || !slices.Equal(heard, []time.Duration{0, 1, 2}) {
			t.Fatalf("%v %v", heard, err)
		}
	}
}

// A recording has its bounds, and learning from a desk that sends more is told, not
// carried on without what it sends.
func TestADeskThatSendsWithoutEndEndsTheLearning(t *testing.T) {
	d := &dialogue{learning: &learning{recording: &trace.Recording{}}, told: make(map[string]bool)}
	packet := make([]byte, 65_000)
	for range maxKept/len(packet) + 1 {
		d.take(trace.Event{Packet: packet})
	}
	if n := len(d.recording.Events); n*len(packet) > maxKept {
		t.Errorf("%d packets are kept", n)
	}
	var said bytes.Buffer
	d.app = newApp(console{out: &said, err: &said})
	if _, err := d.ask(t.Context(), "?"); !errors.Is(err, errFull) {
		t.Errorf("%v", err)
	}
}

// An empty datagram is no packet that a trace could hold.
func TestASavedTraceCanBeReadThoughAPacketWasEmpty(t *testing.T) {
	file := filepath.Join(t.TempDir(), "x.trace")
	k, err := new(app).newKeeper(file)
	if err != nil {
		t.Fatal(err)
	}
	k.add(trace.Event{Packet: []byte{}})
	k.add(trace.Event{Packet: []byte("/a\x00\x00,\x00\x00\x00")})
	if err := k.end(); err != nil {
		t.Fatal(err)
	}
	r, err := new(app).readTrace(file)
	if err != nil || len(r.Events) != 1 {
		t.Errorf("%v %v", r, err)
	}
}
