package desk_test

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/desk"

	"github.com/google/go-cmp/cmp"
)

// differing is a shipped profile, and the pairs of old and new text in which the real
// desk differs from it.
type differing struct {
	profile string
	edits   []string
	// both are the like in which desk and profile differ from the shipped one.
	both []string
	mock mockdesk.Options
	// loses says which messages on the way to the desk get lost; chatter gives what the
	// desk sends unasked before each packet. Both may be nil.
	loses   func(osc.Heard) bool
	chatter func() []osc.Message
}

// trial is a probe with a profile, and a desk that is not quite as that says.
type trial struct {
	*desk.Probe
	mock *mockdesk.Desk
	// says is the profile that is checked, is what the desk is.
	says, is *profiles.Profile
}

// onTrial runs a test with a clock of its own, see testing/synctest.
func onTrial(t *testing.T, d differing, play func(t *testing.T, s *trial)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) { play(t, newTrial(t, d)) })
}

func newTrial(t *testing.T, d differing) *trial {
	t.Helper()
	text, err := profiles.Shipped(d.profile)
	if err != nil {
		t.Fatal(err)
	}
	said := edited(t, string(text), d.both)
	s := &trial{}
	if s.says, err = profiles.Load("says.toml", []byte(said)); err != nil {
		t.Fatal(err)
	}
	if s.is, err = profiles.Load("is.toml", []byte(edited(t, said, d.edits))); err != nil {
		t.Fatal(err)
	}
	link, socket := mockdesk.Cable()
	d.mock.Socket = badSocket{socket, d}
	if s.mock, err = mockdesk.Start(s.is, d.mock); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.mock.Close() })
	s.Probe = desk.ProbeOver(link, s.says, "the desk")
	t.Cleanup(func() { s.Close() })
	return s
}

func edited(t *testing.T, text string, edits []string) string {
	t.Helper()
	for i := 0; i < len(edits); i += 2 {
		if strings.Count(text, edits[i]) < 1 {
			t.Fatalf("the profile has no %q", edits[i])
		}
		text = strings.ReplaceAll(text, edits[i], edits[i+1])
	}
	return text
}

// badSocket is a desk's socket that loses some of what comes, and sends what nobody asked
// for.
type badSocket struct {
	mockdesk.Socket
	differing
}

func (s badSocket) ReadFromUDPAddrPort(packet []byte) (int, netip.AddrPort, error) {
	for {
		n, from, err := s.Socket.ReadFromUDPAddrPort(packet)
		if heard, _ := osc.Decode(packet[:n]); err == nil && s.loses != nil && len(heard) == 1 && s.loses(heard[0]) {
			continue
		}
		return n, from, err
	}
}

func (s badSocket) WriteToUDPAddrPort(packet []byte, to netip.AddrPort) (int, error) {
	if s.chatter != nil {
		for _, m := range s.chatter() {
			if unasked, err := m.Encode(); err == nil {
				_, _ = s.Socket.WriteToUDPAddrPort(unasked, to)
			}
		}
	}
	return s.Socket.WriteToUDPAddrPort(packet, to)
}

// holdings is all that the desk holds.
func (s *trial) holdings() map[string]string {
	all := make(map[string]string)
	for _, q := range s.is.Parameters() {
		v, _ := s.mock.Holds(q)
		all[q.String()] = v.String()
	}
	return all
}

func (s *trial) hand(t *testing.T, path string, v profiles.Value) {
	t.Helper()
	if _, err := s.mock.Move(parameter(t, path), v); err != nil {
		t.Fatal(err)
	}
}

// read gives one line for each question of which something else than its answer came.
func (s *trial) read(t *testing.T) []string {
	t.Helper()
	reading, err := s.Read(t.Context(), false, nil)
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, a := range reading.Asked {
		if a.Outcome != desk.Answered {
			lines = append(lines, line(a))
		}
	}
	return lines
}

func line(a desk.Asked) string {
	text := fmt.Sprintf("%s %s", a.Parameters[0], a.Outcome)
	for _, h := range a.Heard {
		text += " " + h.String()
	}
	for _, q := range a.About {
		text += " " + q.String()
	}
	return text
}

func TestProbeOfADeskAsItsProfileSaysFindsNothing(t *testing.T) {
	for _, name := range []string{"quay-24", "skiff-12", "punt-16", "barge-48"} {
		t.Run(name, func(t *testing.T) {
			onTrial(t, differing{profile: name}, func(t *testing.T, s *trial) {
				before := s.holdings()
				id, err := s.Identify(t.Context())
				if err != nil || id.Says != name {
					t.Errorf("it says it is %q, %v", id.Says, err)
				}
				if lines := s.read(t); len(lines) > 0 {
					t.Error(lines)
				}
				if s.mock.Counts().Settings > 0 || !cmp.Equal(before, s.holdings()) {
					t.Error("reading moved something")
				}
			})
		})
	}
}

func TestProbeTellsEachQuestionThatTheDeskDoesNotAnswer(t *testing.T) {
	d := differing{profile: "quay-24", edits: []string{
		`input.trim = { at = "/lane/{channel}/front/trim"`, `input.trim = { at = "/lane/{channel}/front/fine"`,
		`pan = { at = "/lane/{channel}/out/side", `, `pan = { at = "/lane/{channel}/out/where", `,
	}}
	onTrial(t, d, func(t *testing.T, s *trial) {
		want := []string{
			"channel.1.input.trim unanswered", "channel.1.pan unanswered",
			"channel.24.input.trim unanswered", "channel.24.pan unanswered",
		}
		if diff := cmp.Diff(want, s.read(t)); diff != "" {
			t.Error(diff)
		}
	})
}

func TestProbeTellsAnswersThatDoNotFitWithTheirMessages(t *testing.T) {
	d := differing{profile: "quay-24", edits: []string{
		// Another range on the wire, another address to answer at, coarser steps.
		`input.delay = { at = "/lane/{channel}/front/delay", linear = [0.0, 250.0], steps = 2501`,
		`input.delay = { at = "/lane/{channel}/front/delay", linear = [0.0, 250.0], steps = 2501, wire = [2.0, 127.0], start = 125.0`,
		`lowcut.frequency = { at = "/lane/{channel}/floor/corner", log = [20.0, 640.0], steps = 121`,
		`lowcut.frequency = { at = "/lane/{channel}/floor/corner", log = [20.0, 640.0], steps = 100, start = 80.0`,
	}}
	onTrial(t, d, func(t *testing.T, s *trial) {
		// 2 + 125 / 250 * 125 = 64.5. 80 Hz is two of five octaves up, step 39.6 of 99;
		// step 40 is 0.40404 of the way.
		want := []string{
			"channel.1.input.delay misfit /lane/1/front/delay f 64.5",
			"channel.1.lowcut.frequency between /lane/1/floor/corner f 0.4040404",
			"channel.24.input.delay misfit /lane/24/front/delay f 64.5",
			"channel.24.lowcut.frequency between /lane/24/floor/corner f 0.4040404",
		}
		if diff := cmp.Diff(want, s.read(t)); diff != "" {
			t.Error(diff)
		}
	})
}

func TestProbeTellsAnAnswerAtAnotherAddress(t *testing.T) {
	d := differing{profile: "quay-24", edits: []string{"[curves]", "[answer]\nat = \"{at}/is\"\n[curves]"}}
	onTrial(t, d, func(t *testing.T, s *trial) {
		lines := s.read(t)
		if want := `channel.1.label misfit /lane/1/tag/name/is s ""`; len(lines) != 267 || lines[0] != want {
			t.Errorf("%d lines, the first %q, not %q", len(lines), lines[0], want)
		}
	})
}

func TestProbeTellsADeskThatCountsFromNoughtFromOneThatCountsFromOne(t *testing.T) {
	// The desk's channel 1 is what the profile calls channel 0: what it tells of
	// channel 1 when asked at 1 is right in form. Only the last is missing.
	d := differing{profile: "quay-24", edits: []string{"[curves]", "[numbers]\nchannel = [{ first = 0 }]\n[curves]"}}
	onTrial(t, d, func(t *testing.T, s *trial) {
		lines := s.read(t)
		if len(lines) != 87 || lines[0] != "channel.24.label unanswered" {
			t.Errorf("%d lines, the first %q", len(lines), lines[0])
		}
	})
}

func TestProbeOfASilentDeskAndOfAnotherModel(t *testing.T) {
	onTrial(t, differing{profile: "quay-24", mock: mockdesk.Options{Silent: true}}, func(t *testing.T, s *trial) {
		if _, err := s.Identify(t.Context()); !errors.Is(err, desk.ErrSilent) {
			t.Error(err)
		}
	})
	onTrial(t, differing{profile: "quay-24", mock: mockdesk.Options{Says: "quay-32"}}, func(t *testing.T, s *trial) {
		_, err := s.Identify(t.Context())
		if other := (*desk.OtherDesk)(nil); !errors.As(err, &other) || other.Says != "quay-32" {
			t.Error(err)
		}
	})
	// A desk that answers all but who it is, is not silent.
	d := differing{profile: "quay-24", edits: []string{`"/quay/model"`, `"/quay/name"`}}
	onTrial(t, d, func(t *testing.T, s *trial) {
		id, err := s.Identify(t.Context())
		if err != nil || !id.Asked || id.Answered {
			t.Errorf("%+v, %v", id, err)
		}
	})
}

// A desk that falls silent says nothing of the profile from then on.
func TestProbeOfADeskThatFallsSilentSaysSo(t *testing.T) {
	for _, at := range []int{120, 265} { // of 267 questions, in the middle and near the end
		asked := 0
		d := differing{profile: "quay-24", loses: func(osc.Heard) bool { asked++; return asked > at }}
		onTrial(t, d, func(t *testing.T, s *trial) {
			reading, err := s.Read(t.Context(), false, nil)
			if !errors.Is(err, desk.ErrSilent) || len(reading.Asked) > at+10 {
				t.Errorf("%d asked, %v", len(reading.Asked), err)
			}
		})
	}
	d := differing{profile: "quay-24"}
	asked := 0
	d.loses = func(osc.Heard) bool { asked++; return asked > 267+100 }
	onTrial(t, d, func(t *testing.T, s *trial) {
		reading, err := s.Read(t.Context(), false, nil)
		if err != nil {
			t.Fatal(err)
		}
		// 4 + 8 + 16 + 32 at once, and of 64 some not.
		b, err := s.Bear(t.Context(), reading)
		if !errors.Is(err, desk.ErrSilent) || b.AtOnce != 32 || b.AtOnceLost != 64 {
			t.Errorf("%+v, %v", b, err)
		}
	})
}

// chatterbox is a link to a desk that answers each question about a fader and no other,
// and sends meters for ever.
type chatterbox struct {
	p       *profiles.Profile
	answers chan []byte
	closed  chan struct{}
}

func (l *chatterbox) Send([]byte) error {
	q := profiles.Parameter{Place: profiles.Place{Part: profiles.Channel, Number: 1}, Name: "fader"}
	x, _ := l.p.Example(q)
	packet, err := x.Answer.Encode()
	l.answers <- packet
	return err
}

func (l *chatterbox) Receive(buffer []byte) (int, error) {
	select {
	case <-l.closed:
		return 0, net.ErrClosed
	case packet := <-l.answers:
		return copy(buffer, packet), nil
	case <-time.After(10 * time.Millisecond):
		packet, err := osc.Message{Address: "/meters"}.Encode()
		return copy(buffer, packet), err
	}
}

func (l *chatterbox) Close() error { close(l.closed); return nil }

func TestProbeWaitsForTheRestOfABlockNoLongerThanTheProfileSays(t *testing.T) {
	text, err := profiles.Shipped("barge-48")
	if err != nil {
		t.Fatal(err)
	}
	p, err := profiles.Load("barge-48.toml", text)
	if err != nil {
		t.Fatal(err)
	}
	synctest.Test(t, func(t *testing.T) {
		probe := desk.ProbeOver(&chatterbox{p, make(chan []byte, 1000), make(chan struct{})}, p, "the desk")
		defer probe.Close()
		ctx, cancel := context.WithTimeout(t.Context(), time.Hour) // of the test's own clock
		defer cancel()
		if _, err := probe.Read(ctx, false, nil); err != nil {
			t.Error(err)
		}
	})
}

func TestProbeMeasuresRoundTrips(t *testing.T) {
	d := differing{profile: "quay-24"}
	d.mock.Trouble.Out.Delay = 20 * time.Millisecond
	onTrial(t, d, func(t *testing.T, s *trial) {
		reading, err := s.Read(t.Context(), false, nil)
		if err != nil {
			t.Fatal(err)
		}
		trips := reading.Trips
		// 87 + 87 + 31 + 31 + 31 questions, each under way for its own part of 20 ms.
		if trips.Of != 267 || trips.Least < 0 || trips.Median < 5*time.Millisecond || trips.Most95 > 20*time.Millisecond || trips.Most95 <= trips.Median {
			t.Errorf("%+v", trips)
		}
	})
}

// A pace of 50 is more than such a desk is tried with: it is tried with less.
func TestProbeTriesASlowDeskSlowly(t *testing.T) {
	onTrial(t, differing{profile: "quay-24", both: []string{"pace = 400 ", "pace = 5 "}}, func(t *testing.T, s *trial) {
		reading, err := s.Read(t.Context(), false, nil)
		if err != nil {
			t.Fatal(err)
		}
		if b, err := s.Bear(t.Context(), reading); err != nil || b.Pace != 20 || b.PaceLost != 0 {
			t.Errorf("%+v, %v", b, err)
		}
	})
}

func TestProbeLearnsWhatADeskBears(t *testing.T) {
	for _, c := range []struct {
		name         string
		trouble      mockdesk.Trouble
		atOnce, lost int
		pace, late   float64
	}{
		{"all there is", mockdesk.Trouble{}, 256, 0, 1600, 0},
		{"a short queue", mockdesk.Trouble{Rate: 500, Queue: 40}, 32, 64, 400, 800},
		{"a slow desk", mockdesk.Trouble{Rate: 120}, 256, 0, 100, 200},
		{"one lost packet in 500 is no limit", mockdesk.Trouble{Seed: 3, In: mockdesk.Way{Lose: 0.0005}}, 256, 0, 1600, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			onTrial(t, differing{profile: "quay-24"}, func(t *testing.T, s *trial) {
				reading, err := s.Read(t.Context(), false, nil)
				if err != nil {
					t.Fatal(err)
				}
				s.mock.Misbehave(c.trouble)
				b, err := s.Bear(t.Context(), reading)
				want := desk.Bearing{AtOnce: c.atOnce, AtOnceLost: c.lost, Pace: c.pace, PaceLost: c.late, Sent: b.Sent}
				if err != nil || b != want {
					t.Errorf("%+v, %v", b, err)
				}
				if n := s.mock.Counts().Settings; n > 0 {
					t.Errorf("it moved %d settings", n)
				}
			})
		})
	}
}
