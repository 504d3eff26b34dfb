package scenes_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"deskhand/profiles/source"
	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// sameResolved compares what is asked for, with where it comes from.
var sameResolved = cmp.Comparer(func(x, y scenes.Wanted) bool { return fmt.Sprint(x) == fmt.Sprint(y) })

// stacked is a book whose four layers each set what a test says.
func stacked(t testing.TB, position, performer, here, scene string) (*scenes.Resolved, error) {
	t.Helper()
	b := bookOf(t, files{
		"venues/shed.toml": plainVenue + "[mixes]\nwedge = 1\n[positions.stool]\nchannel = 1\n[positions.stool.strip]\n" + position,
		"performers/x.toml": "[strip]\n" + performer + "\n[at.shed.strip]\n" + here +
			"\n[at.net-loft.strip]\nfader = -66.0\n", // of another venue, and never asked for
		"scenes/x.toml": "venue = \"shed\"\n[positions.stool]\nperformer = \"x\"\n[positions.stool.strip]\n" + scene,
	})
	s, err := b.Scene("x")
	if err != nil {
		return nil, err
	}
	_, all, err := b.ResolveScene(s)
	if err != nil {
		return nil, err
	}
	return all[0], nil
}

func TestALaterLayerWinsValueByValue(t *testing.T) {
	for _, c := range []struct {
		name                             string
		position, performer, here, scene string
		want, from                       string
	}{
		{"nobody sets it", "", "", "", "", "", ""},
		{"position", "fader = -1", "", "", "", "-1", "venues/shed.toml:9"},
		{"performer over position", "fader = -1", "fader = -2", "", "", "-2", "performers/x.toml:2"},
		{"performer here over performer", "fader = -1", "fader = -2", "fader = -3", "", "-3", "performers/x.toml:4"},
		{"scene over all", "fader = -1", "fader = -2", "fader = -3", "fader = -4", "-4", "scenes/x.toml:5"},
		{"scene over position", "fader = -1", "", "", "fader = -4", "-4", "scenes/x.toml:5"},
		{"silence over a level", "fader = -1", "fader = -inf", "", "", "-Inf", "performers/x.toml:2"},
		{"each value by itself", "fader = -1\npan = 5", "pan = 6", "", "", "-1", "venues/shed.toml:9"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := stacked(t, c.position, c.performer, c.here, c.scene)
			if err != nil {
				t.Fatal(err)
			}
			w, _ := asked(r, "fader")
			if got := said(r, "fader"); got != c.want || w.Origin.String() != c.from {
				t.Errorf("%s from %s, want %s from %s", got, w.Origin, c.want, c.from)
			}
		})
	}
}

func TestASendMayBeSetHalfByOneLayerAndHalfByAnother(t *testing.T) {
	r, err := stacked(t, "send.wedge = { on = true, tap = \"pre\", level = -10.0 }", "", "send.wedge.level = -4.0", "send.wedge.on = false")
	if err != nil {
		t.Fatal(err)
	}
	got := []string{said(r, "send.1.on"), said(r, "send.1.level"), said(r, "send.1.tap"), said(r, "send.1.pan")}
	if diff := cmp.Diff([]string{"off", "-4", `"pre"`, ""}, got); diff != "" {
		t.Error(diff)
	}
	if w, _ := asked(r, "send.1.level"); w.Written != "send.wedge.level" {
		t.Errorf("written as %q", w.Written)
	}
}

func TestWhatIsAskedForIsInTheDesksOrder(t *testing.T) {
	b := bookOf(t, nil)
	r := resolve(t, b, "lectern", "botanist")
	order := venueOf(t, b, "net-loft").Desk.Profile.At(r.Position.Place())
	last := -1
	for _, w := range r.Wanted {
		at := slices.Index(order, w.Parameter)
		if at <= last {
			t.Errorf("%s comes too late", w.Parameter)
		}
		last = at
	}
}

func TestPhantomFollowsTheMicrophoneAlone(t *testing.T) {
	b := bookOf(t, nil)
	for position, want := range map[string]string{"lectern": "on", "bench": "on", "roving": "off"} {
		for _, performer := range []string{"", "botanist", "pilot"} {
			r := resolve(t, b, position, performer)
			w, _ := asked(r, "input.phantom")
			if said(r, "input.phantom") != want || w.Origin.Layer != scenes.MicrophoneLayer || !strings.HasPrefix(w.Origin.String(), "venues/net-loft.toml:") {
				t.Errorf("%s with %q: phantom %q from %s", position, performer, said(r, "input.phantom"), w.Origin)
			}
		}
	}
}

func TestWithoutAMicrophonePhantomIsLeftAlone(t *testing.T) {
	r, err := stacked(t, "", "fader = 0", "", "")
	if err != nil {
		t.Fatal(err)
	}
	if got := said(r, "input.phantom"); got != "" {
		t.Errorf("phantom %s is asked for", got)
	}
}

func TestWhatTheVenueHasNoPlaceForIsLeftAndTold(t *testing.T) {
	b := bookOf(t, files{
		"venues/shed.toml":  plainVenue + "[mixes]\nfoldback = 1\n[positions.stool]\nchannel = 1\n",
		"performers/x.toml": "[strip]\nsend.wedge.level = -3.0\nsend.foldback.level = -4.0\n",
	})
	v := venueOf(t, b, "shed")
	r, err := v.Resolve(castOf(t, b, v, "stool", "x", nil))
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Left) != 1 || r.Left[0].Entry.Name != "send.wedge.level" || r.Left[0].Entry.Origin.String() != "performers/x.toml:2" || r.Left[0].Why != "shed has no such mix" {
		t.Errorf("left: %v", r.Left)
	}
	if said(r, "send.1.level") != "-4" {
		t.Errorf("the foldback gets %q", said(r, "send.1.level"))
	}
}

func TestAValueThatTheDeskCannotTakeIsAFaultAtItsLine(t *testing.T) {
	_, err := stacked(t, "fader = 20", "send.wedge.level = 9", "", "")
	wantFaults(t, err,
		"performers/x.toml:2: send.wedge.level: 9.0 dB is out of the desk's range, -inf dB to 8.0 dB",
		"venues/shed.toml:9: fader: 20.0 dB is out of the desk's range, -inf dB to 8.0 dB")
}

func TestAValueBetweenTwoStepsKeepsWhatWasAsked(t *testing.T) {
	// The low cut of a quay-24 has 120 steps over the five octaves from 20 to 640 Hz, 24 an
	// octave. 120 Hz is 24 log2(120/20) = 62.04 steps up: step 62, 20 * 2^(62/24) = 119.86 Hz.
	w, _ := asked(resolve(t, bookOf(t, nil), "lectern", "botanist"), "lowcut.frequency")
	held, _ := w.Value.Number()
	if w.Asked.String() != "120" || fmt.Sprintf("%.2f", held) != "119.86" {
		t.Errorf("asked %s, held %v", w.Asked, held)
	}
}

// setting is one line of a strip.
type setting struct{ name, value string }

// settings draws the lines of a strip. The gain is left to tests of its own.
func settings(t *rapid.T, label string) []setting {
	whole := func(low, high int) func() string {
		return func() string { return fmt.Sprint(rapid.IntRange(low, high).Draw(t, "number")) }
	}
	toggle := func() string { return fmt.Sprint(rapid.Bool().Draw(t, "switch")) }
	all := map[string]func() string{
		"fader": whole(-60, 8), "pan": whole(-100, 100), "input.trim": whole(-18, 18), "input.invert": toggle,
		"lowcut.on": toggle, "lowcut.frequency": whole(20, 640), "gate.threshold": whole(-80, 0), "compressor.ratio": whole(1, 16),
		"send.wedge.level": whole(-60, 8), "send.wedge.on": toggle, "main": toggle, "source": whole(1, 32),
	}
	names := make([]string, 0, len(all))
	for name := range all {
		names = append(names, name)
	}
	slices.Sort(names)
	var lines []setting
	for _, name := range names {
		if rapid.Bool().Draw(t, label+" sets "+name) {
			lines = append(lines, setting{name, all[name]()})
		}
	}
	return lines
}

func strip(lines []setting) string {
	var b strings.Builder
	for _, l := range lines {
		fmt.Fprintf(&b, "%s = %s\n", l.name, l.value)
	}
	return b.String()
}

func TestWhateverTheLayersTheLastOneThatSetsAValueWins(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		layers := [][]setting{settings(rt, "position"), settings(rt, "performer"), settings(rt, "here"), settings(rt, "scene")}
		r, err := stacked(t, strip(layers[0]), strip(layers[1]), strip(layers[2]), strip(layers[3]))
		if err != nil {
			rt.Fatal(err)
		}
		want := make(map[string]string)
		for _, lines := range layers {
			for _, l := range lines {
				want[strings.Replace(l.name, "wedge", "1", 1)] = strings.NewReplacer("true", "on", "false", "off").Replace(l.value)
			}
		}
		got := make(map[string]string)
		for _, w := range r.Wanted {
			got[w.Parameter.Name] = w.Asked.String()
		}
		if diff := cmp.Diff(want, got); diff != "" {
			rt.Errorf("asked for (-want +got):\n%s", diff)
		}
	})
}

func TestTheOrderOfLinesInAFileDoesNotMatter(t *testing.T) {
	v := venueOf(t, bookOf(t, nil), "net-loft")
	onLectern := func(rt *rapid.T, lines []setting) map[string]string {
		b := bookOf(t, files{"performers/x.toml": "[strip]\n" + strip(lines)})
		r, err := v.Resolve(castOf(t, b, v, "lectern", "x", nil))
		if err != nil {
			rt.Fatal(err)
		}
		return plain(r)
	}
	rapid.Check(t, func(rt *rapid.T) {
		lines := append(settings(rt, "performer"),
			setting{"eq.1.frequency", "400"}, setting{"eq.1.gain", "-3"}, setting{"eq.1.q", "1"}, setting{"eq.3.kind", `"low-pass"`}, setting{"eq.3.frequency", "9000"})
		mixed := slices.Clone(lines)
		seed := rapid.Uint64().Draw(rt, "seed")
		rand.New(rand.NewPCG(seed, 0)).Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
		if diff := cmp.Diff(onLectern(rt, lines), onLectern(rt, mixed)); diff != "" {
			rt.Error(diff)
		}
	})
}

// plain is what is asked for, without where it comes from.
func plain(r *scenes.Resolved) map[string]string {
	all := make(map[string]string)
	for _, w := range r.Wanted {
		all[w.Parameter.Name] = w.Value.String()
	}
	return all
}

func TestResolvingTwiceGivesTheSame(t *testing.T) {
	b := bookOf(t, nil)
	v := venueOf(t, b, "net-loft")
	for _, position := range v.PositionNames() {
		for _, performer := range append(b.Names(scenes.Performers), "") {
			cast := castOf(t, b, v, position, performer, nil)
			first, err := v.Resolve(cast)
			if err != nil {
				t.Fatal(err)
			}
			for range 20 { // what hangs on the order of a map shows sooner or later
				again, err := v.Resolve(cast)
				if err != nil {
					t.Fatal(err)
				}
				if diff := cmp.Diff(first.Wanted, again.Wanted, sameResolved); diff != "" {
					t.Fatalf("%s on %s: %s", performer, position, diff)
				}
			}
		}
	}
}

func TestFaultsOfOnePositionDoNotHideThoseOfAnother(t *testing.T) {
	b := bookOf(t, files{"scenes/x.toml": plainScene + "[positions.lectern.strip]\nfader = 20\n[positions.bench.strip]\nfader = 21\n"})
	s, err := b.Scene("x")
	if err != nil {
		t.Fatal(err)
	}
	_, _, err = b.ResolveScene(s)
	var faults source.Faults
	if !errors.As(err, &faults) || len(faults) != 2 {
		t.Errorf("got %v", err)
	}
}
