package trace_test

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/profiles/trace"
)

var record = flag.Bool("record", false, "write testdata/traces anew, of what the mock desks send")

// tracesDir is where the recorded traces are kept.
const tracesDir = "../../testdata/traces"

// lesson is what a user does at one desk so that its controls can be learned.
type lesson struct {
	desk string
	// controls are those of channel 1, band 1, in order.
	controls []string
	// stops are where the scale changes, which the user reads off, beside both ends and
	// the middle.
	stops map[string][]float64
	// whole are the controls whose every step is passed, since their numbers on the wire
	// are those of the unit; the others are moved more quickly.
	whole bool
	// further are places of the first control that tell how the desk counts.
	further []int
	// sets is the address that sets the first control, where it is not the one that
	// reports it.
	sets string
}

// lessons are those of every shipped desk that answers.
var lessons = []lesson{
	{
		desk:     "quay-24",
		controls: []string{"fader", "mute", "input.gain", "eq.1.on", "eq.1.kind", "eq.1.frequency", "eq.1.gain", "eq.1.q"},
		stops:    map[string][]float64{"fader": {-72, -36, -12, 0}},
		further:  []int{2, 24},
	},
	{
		desk:     "skiff-12",
		controls: []string{"fader", "mute", "input.gain", "eq.1.kind", "eq.1.frequency", "eq.1.gain", "eq.1.q"},
		whole:    true,
		further:  []int{2, 12},
	},
	{
		desk: "barge-48",
		controls: []string{"fader", "mute", "input.gain", "input.pad", "input.phantom", "input.invert",
			"eq.1.on", "eq.1.kind", "eq.1.frequency", "eq.1.gain", "eq.1.q"},
		stops:   map[string][]float64{"fader": {-60, -20, 0}},
		further: []int{2, 48, 41, 40},
		sets:    "/barge/mono/00/level",
	},
	{
		desk:     "punt-16",
		controls: []string{"fader", "mute", "input.gain", "eq.1.kind", "eq.1.frequency", "eq.1.gain", "eq.1.q"},
		whole:    true,
		further:  []int{2, 16},
	},
}

// onlyHere are controls that a desk has of one band, so that no other is moved.
var onlyHere = map[string]bool{"skiff-12 eq.1.kind": true}

// hand is a hand on a mock desk, and what listens beside it.
type hand struct {
	t       testing.TB
	profile *profiles.Profile
	desk    *mockdesk.Desk
	link    osc.Link
	out     *trace.Writer
	at      time.Duration
}

// shippedProfile loads a shipped profile.
func shippedProfile(t testing.TB, name string) (*profiles.Profile, []byte) {
	t.Helper()
	text, err := profiles.Shipped(name)
	if err != nil {
		t.Fatal(err)
	}
	p, err := profiles.Load(name+".toml", text)
	if err != nil {
		t.Fatal(err)
	}
	return p, text
}

// follow starts a mock desk of the model and asks it to tell its changes. Its clock
// stands still, so that the request never lapses.
func follow(t testing.TB, name string, to *bytes.Buffer) *hand {
	t.Helper()
	p, _ := shippedProfile(t, name)
	link, socket := mockdesk.Cable()
	requests, _ := p.AskToFollow()
	followed := make(chan struct{}, len(requests))
	now := time.Unix(0, 0)
	desk, err := mockdesk.Start(p, mockdesk.Options{
		Socket: socket, Now: func() time.Time { return now },
		Watch: func(e mockdesk.Event) {
			if e.What == mockdesk.FollowRequest {
				followed <- struct{}{}
			}
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { link.Close(); desk.Close() })
	for _, m := range requests {
		packet, err := m.Encode()
		if err != nil {
			t.Fatal(err)
		}
		if err := link.Send(packet); err != nil {
			t.Fatal(err)
		}
		<-followed
	}
	out, err := trace.NewWriter(to)
	if err != nil {
		t.Fatal(err)
	}
	return &hand{t: t, profile: p, desk: desk, link: link, out: out}
}

func (h *hand) mark(m trace.Mark) {
	if err := h.out.Add(trace.Event{At: h.at, Mark: m}); err != nil {
		h.t.Fatal(err)
	}
}

// move moves a control, and takes down what the desk tells of it.
func (h *hand) move(q profiles.Parameter, v profiles.Value) {
	before, _ := h.desk.Holds(q)
	held, err := h.desk.Move(q, v)
	if err != nil {
		h.t.Fatal(err)
	}
	if held == before {
		return
	}
	buffer := make([]byte, osc.MaxPacket)
	n, err := h.link.Receive(buffer)
	if err != nil {
		h.t.Fatal(err)
	}
	h.at += 40 * time.Millisecond
	if err := h.out.Add(trace.Event{At: h.at, Packet: slices.Clone(buffer[:n])}); err != nil {
		h.t.Fatal(err)
	}
}

// shows notes what the desk shows for a control.
func (h *hand) shows(q profiles.Parameter) {
	control, _ := h.profile.Control(q)
	v, _ := h.desk.Holds(q)
	h.mark(trace.Mark{Kind: trace.Shows, Text: control.SayOnDesk(v)})
}

// through moves a control through all it has, as the user is asked to.
func (h *hand) through(q profiles.Parameter, l lesson) {
	control, ok := h.profile.Control(q)
	if !ok {
		h.t.Fatalf("%s has no %s", l.desk, q)
	}
	last := control.Curve.Steps() - 1
	m := trace.Mark{Kind: trace.Moved, Parameter: q}
	if control.Spec.Kind == profiles.Toggle || control.Spec.Kind == profiles.Choice {
		var order []profiles.Value
		for step := range last + 1 {
			order = append(order, control.Curve.At(step))
		}
		if control.Spec.Kind == profiles.Toggle {
			slices.Reverse(order)
		}
		order = append(order, order[0])
		for _, v := range order {
			m.Words = append(m.Words, control.Spec.Say(v))
		}
		h.mark(m)
		for _, v := range order {
			h.move(q, v)
		}
		return
	}
	m.Sweep = true
	h.mark(m)
	for _, step := range []int{last, 0} {
		h.move(q, control.Curve.At(step))
	}
	for step := range last + 1 {
		quick := step%max(last/40, 1) != 0 && (step < last/3 || step > last/3+8)
		if l.whole || !quick || step == last {
			h.move(q, control.Curve.At(step))
		}
	}
	stops := []profiles.Value{control.Curve.At(0), control.Curve.At(last / 4), control.Curve.At(last / 2), control.Curve.At(last)}
	for _, v := range l.stops[q.Name] {
		stops = append(stops, profiles.Number(v))
	}
	for _, v := range stops {
		h.move(q, v)
		h.shows(q)
	}
}

// little moves a control by a little at another place.
func (h *hand) little(q profiles.Parameter) {
	control, ok := h.profile.Control(q)
	if !ok {
		h.t.Fatalf("there is no %s", q)
	}
	h.mark(trace.Mark{Kind: trace.Moved, Parameter: q})
	for _, step := range []int{1, 0} {
		h.move(q, control.Curve.At(min(step, control.Curve.Steps()-1)))
	}
}

// recorded gives the trace of a whole lesson.
func recorded(t testing.TB, l lesson) []byte {
	t.Helper()
	var text bytes.Buffer
	h := follow(t, l.desk, &text)
	p := h.profile
	h.mark(trace.Mark{Kind: trace.Note, Text: "a mock " + l.desk + ", its controls moved one at a time; made by go test -record"})
	h.mark(trace.Mark{Kind: trace.Desk, Counts: map[string]int{"channel": p.Channels, "mix": p.Mixes, "band": p.Bands}})
	h.mark(trace.Mark{Kind: trace.Quiet})
	channel := func(n int, name string) profiles.Parameter {
		return profiles.Parameter{Place: profiles.Place{Part: profiles.Channel, Number: n}, Name: name}
	}
	bands := 0
	for i, name := range l.controls {
		h.through(channel(1, name), l)
		if i == 0 && l.sets != "" {
			h.mark(trace.Mark{Kind: trace.Sets, Text: l.sets})
		}
		places := []int{2}
		if i == 0 {
			places = l.further
		}
		for _, n := range places {
			h.little(channel(n, name))
		}
		family, numbers := profiles.Family(name)
		if numbers["band"] == 0 || onlyHere[l.desk+" "+name] {
			continue
		}
		others := []int{2}
		if bands++; bands == 1 {
			others = []int{2, p.Bands}
		}
		for _, band := range others {
			h.little(channel(1, fmt.Sprintf("eq.%d.%s", band, family[len("eq.band."):])))
		}
	}
	return text.Bytes()
}

// TestRecordedTracesAreWhatTheMockDesksSend keeps the traces from growing stale: go
// test -record writes them.
func TestRecordedTracesAreWhatTheMockDesksSend(t *testing.T) {
	for _, l := range lessons {
		t.Run(l.desk, func(t *testing.T) {
			file := filepath.Join(tracesDir, l.desk+".trace")
			text := recorded(t, l)
			if *record {
				if err := os.MkdirAll(tracesDir, 0o777); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(file, text, 0o666); err != nil {
					t.Fatal(err)
				}
			}
			kept, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(kept, text) {
				t.Errorf("%s is not what the mock desk sends now: see what changed, and run go test ./profiles/trace -run Recorded -record", file)
			}
		})
	}
}
