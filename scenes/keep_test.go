package scenes_test

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
)

// desk is a desk in memory: what a recall left on it, and what a hand then moved.
type desk struct {
	t     testing.TB
	book  *scenes.Book
	venue *scenes.Venue
	strip *scenes.Resolved
	holds scenes.Values
	moved map[profiles.Parameter]bool
}

// after gives a desk that was switched on and then recalled to a performer.
func after(t testing.TB, b *scenes.Book, venue, position, performer string, scene *scenes.Scene) *desk {
	t.Helper()
	v := venueOf(t, b, venue)
	r, err := v.Resolve(castOf(t, b, v, position, performer, scene))
	if err != nil {
		t.Fatal(err)
	}
	return recalled(t, b, v, r)
}

// recalled gives a desk that holds a strip, and of the rest what it starts with.
func recalled(t testing.TB, b *scenes.Book, v *scenes.Venue, r *scenes.Resolved) *desk {
	d := &desk{t, b, v, r, make(scenes.Values), make(map[profiles.Parameter]bool)}
	for _, q := range v.Desk.Profile.Parameters() {
		control, _ := v.Desk.Profile.Control(q)
		d.holds[q] = control.Start
	}
	for _, w := range r.Wanted {
		d.holds[w.Parameter] = w.Value
	}
	return d
}

// hand moves a parameter of the position's channel.
func (d *desk) hand(name string, value any) {
	d.t.Helper()
	q := profiles.Parameter{Place: d.strip.Position.Place(), Name: name}
	control, ok := d.venue.Desk.Profile.Control(q)
	if !ok {
		d.t.Fatalf("no %s", q)
	}
	if n, isInt := value.(int); isInt {
		value = int64(n)
	}
	v, err := profiles.ValueOf(value)
	if err == nil {
		v, err = control.Nearest(v)
	}
	if err != nil {
		d.t.Fatal(err)
	}
	d.moved[q] = d.moved[q] || !control.Same(d.holds[q], v)
	d.holds[q] = v
}

func (d *desk) keep(only ...string) ([]scenes.Kept, []scenes.Apart) {
	return d.venue.Keep(d.strip, d.holds, func(q profiles.Parameter) bool { return d.moved[q] }, only)
}

// kept gives what is kept as "path = value", and why the rest is apart by name.
func (d *desk) kept(only ...string) ([]string, map[string]string) {
	kept, apart := d.keep(only...)
	var lines []string
	for _, k := range kept {
		lines = append(lines, strings.Join(k.Path, ".")+" = "+k.To.String())
	}
	var why map[string]string
	for _, a := range apart {
		if why == nil {
			why = make(map[string]string)
		}
		why[a.Parameter.Name] = a.Why
	}
	return lines, why
}

// written gives the performer's file with what is kept.
func (d *desk) written(only ...string) string {
	d.t.Helper()
	kept, _ := d.keep(only...)
	_, text, err := d.book.KeepText(d.strip.Performer, kept)
	if err != nil {
		d.t.Fatal(err)
	}
	return string(text)
}

// left gives what would still differ once the written file is resolved anew.
func (d *desk) left(text string, scene *scenes.Scene) []scenes.Change {
	d.t.Helper()
	b := bookOf(d.t, files{"performers/" + d.strip.PerformerName() + ".toml": text})
	r, err := d.venue.Resolve(castOf(d.t, b, d.venue, d.strip.Position.Name, d.strip.PerformerName(), scene))
	if err != nil {
		d.t.Fatalf("%v\n%s", err, text)
	}
	return d.venue.Compare(d.holds, r.Wanted)
}

func TestWhatAHandMovedGoesWhereItIsSetNow(t *testing.T) {
	const mic = "phantom power follows the microphone (venues/net-loft.toml:19)"
	for _, c := range []struct {
		name, position, performer string
		moves                     map[string]any
		kept                      []string
		apart                     map[string]string
	}{
		{"nothing", "lectern", "botanist", nil, nil, nil},
		{"the performer's own", "lectern", "botanist", map[string]any{"fader": -4}, []string{"strip.fader = -4"}, nil},
		{"the performer's here", "lectern", "botanist", map[string]any{"send.1.level": -9}, []string{"at.net-loft.strip.send.wedge.level = -9"}, nil},
		{"the position's, which the performer now sets otherwise", "lectern", "botanist", map[string]any{"lowcut.slope": 24}, []string{"strip.lowcut.slope = 24"}, nil},
		{"a send of the position's stays at this venue", "lectern", "botanist", map[string]any{"send.2.level": -6}, []string{"at.net-loft.strip.send.stream.level = -6"}, nil},
		{"what nobody sets", "lectern", "botanist", map[string]any{"gate.threshold": -40}, []string{"strip.gate.threshold = -40"}, nil},
		{"a field of a band", "lectern", "botanist", map[string]any{"eq.2.gain": -5}, []string{"strip.eq.2.gain = -5"}, nil},
		{"a band switched off", "lectern", "botanist", map[string]any{"eq.2.on": false}, []string{"strip.eq.2.on = off"}, nil},
		{"the kind of a band", "lectern", "botanist", map[string]any{"eq.2.kind": "high-shelf"}, []string{`strip.eq.2.kind = "high-shelf"`}, nil},
		{"the whole EQ switched off", "lectern", "botanist", map[string]any{"eq.on": false}, []string{"strip.eq.on = off"}, nil},
		{"a new band goes whole", "lectern", "botanist", map[string]any{"eq.3.on": true, "eq.3.frequency": 1000, "eq.3.gain": -2},
			[]string{"strip.eq.3.frequency = 1000", "strip.eq.3.gain = -2", "strip.eq.3.q = 1"}, nil},
		{"a band that is off is no new band", "lectern", "botanist", map[string]any{"eq.3.frequency": 1200}, nil, nil},
		{"the room's band", "lectern", "botanist", map[string]any{"eq.4.gain": -6}, nil, map[string]string{"eq.4.gain": "this band is the room's: change it in venues/net-loft.toml:56"}},
		{"phantom", "lectern", "botanist", map[string]any{"input.phantom": false}, nil, map[string]string{"input.phantom": mic}},
		{"the source", "lectern", "botanist", map[string]any{"source": 9}, nil, map[string]string{"source": "the source is the position's: change it in venues/net-loft.toml:42"}},
		{"what is safe", "lectern", "botanist", map[string]any{"input.delay": 12}, nil, map[string]string{"input.delay": "input.delay is safe here (venues/net-loft.toml:6)"}},
		{"a mix without a name", "lectern", "botanist", map[string]any{"send.5.level": -3}, nil, map[string]string{"send.5.level": "the mix has no name here: give it one under [mixes] in venues/net-loft.toml"}},
		{"the mute", "lectern", "botanist", map[string]any{"mute": true}, nil, nil},
		{"nobody there", "lectern", "", map[string]any{"lowcut.slope": 24}, nil, map[string]string{"lowcut.slope": "nobody is on the position"}},
		// 30.0 on the gooseneck at 0.40 m is 30 + (-34 - -38) + 20 log10(0.30/0.40) = 34 - 2.499
		// = 31.501 where the botanist was dialled in.
		{"the gain, as it was dialled in", "lectern", "botanist", map[string]any{"input.gain": 30}, []string{"strip.input.gain = 31.5"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := after(t, bookOf(t, nil), "net-loft", c.position, c.performer, nil)
			for name, value := range c.moves {
				d.hand(name, value)
			}
			kept, apart := d.kept()
			if diff := cmp.Diff(c.kept, kept); diff != "" {
				t.Errorf("kept (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(c.apart, apart); diff != "" {
				t.Errorf("apart (-want +got):\n%s", diff)
			}
			if c.performer == "" {
				return
			}
			for _, left := range d.left(d.written(), nil) {
				if apart[left.Parameter.Name] == "" {
					t.Errorf("after keeping, %s still differs", left.Parameter)
				}
			}
		})
	}
}

func TestWhatTheSceneSetsStaysWithTheScene(t *testing.T) {
	b := bookOf(t, files{"scenes/x.toml": plainScene + "[positions.lectern]\nperformer = \"botanist\"\n[positions.lectern.strip]\nfader = -3\n" + bell(3, 700)})
	s, err := b.Scene("x")
	if err != nil {
		t.Fatal(err)
	}
	d := after(t, b, "net-loft", "lectern", "botanist", s)
	d.hand("fader", 0)
	d.hand("eq.3.gain", -6)
	d.hand("eq.3.on", false)
	d.hand("pan", 7)
	kept, apart := d.kept()
	if diff := cmp.Diff([]string{"strip.pan = 7"}, kept); diff != "" {
		t.Error(diff)
	}
	want := map[string]string{
		"fader":     "the scene sets it: change it in scenes/x.toml:5",
		"eq.3.gain": "the scene sets it: change it in scenes/x.toml:6",
		"eq.3.on":   "the scene sets it: change it in scenes/x.toml:6",
	}
	if diff := cmp.Diff(want, apart); diff != "" {
		t.Error(diff)
	}
}

func TestAMovedBandIsWrittenUnderItsOwnNumber(t *testing.T) {
	b := bookOf(t, files{"performers/x.toml": "[strip]\n" + bell(4, 2500)}) // the lectern's floor has EQ 4
	d := after(t, b, "net-loft", "lectern", "x", nil)
	d.hand("eq.1.gain", -5)
	kept, _ := d.kept()
	if diff := cmp.Diff([]string{"strip.eq.4.gain = -5"}, kept); diff != "" {
		t.Error(diff)
	}
	if kept, _ = d.kept("eq.4"); len(kept) != 1 {
		t.Errorf("by the number that it is written under: %v", kept)
	}
	if left := d.left(d.written(), nil); len(left) > 0 {
		t.Errorf("left: %v", left)
	}
}

func TestABandThatALayerHasReadyIsSwitchedOnWhereItIsOff(t *testing.T) {
	b := bookOf(t, files{"performers/x.toml": "[strip]\n" + bell(2, 2500) + "[at.net-loft.strip]\neq.2.on = false\n"})
	d := after(t, b, "net-loft", "lectern", "x", nil)
	d.hand("eq.2.on", true)
	kept, _ := d.kept()
	if diff := cmp.Diff([]string{"at.net-loft.strip.eq.2.on = on"}, kept); diff != "" {
		t.Error(diff)
	}
	if left := d.left(d.written(), nil); len(left) > 0 {
		t.Errorf("left: %v", left)
	}
}

func TestABandThatNoLayerSpeaksOfIsKeptWholeIfAHandTouchedIt(t *testing.T) {
	b := bookOf(t, files{"performers/x.toml": "[strip]\nfader = 0\n"})
	d := after(t, b, "net-loft", "table-left", "x", nil)
	d.hand("eq.1.on", true)
	d.moved = make(map[profiles.Parameter]bool) // it was so before the recall
	d.hand("eq.2.on", true)
	d.hand("eq.2.gain", 3)
	kept, _ := d.kept()
	want := []string{"strip.eq.2.frequency = 1000", "strip.eq.2.gain = 3", "strip.eq.2.q = 1"}
	if diff := cmp.Diff(want, kept); diff != "" {
		t.Error(diff)
	}
}

func TestKeepingMayBeLimitedToSomeSettings(t *testing.T) {
	d := after(t, bookOf(t, nil), "net-loft", "lectern", "botanist", nil)
	d.hand("fader", -4)
	d.hand("eq.2.gain", -5)
	d.hand("send.1.level", -9)
	for _, c := range []struct{ only, want []string }{
		{[]string{"fader"}, []string{"strip.fader = -4"}},
		{[]string{"eq.2"}, []string{"strip.eq.2.gain = -5"}},
		{[]string{"eq"}, []string{"strip.eq.2.gain = -5"}},
		{[]string{"send.wedge", "fader"}, []string{"at.net-loft.strip.send.wedge.level = -9", "strip.fader = -4"}},
		{[]string{"send.1.level"}, []string{"at.net-loft.strip.send.wedge.level = -9"}},
		{[]string{"pan"}, nil},
		// Named, what nobody moved is kept too.
		{[]string{"gate"}, []string{"strip.gate.threshold = -80", "strip.gate.range = 0", "strip.gate.attack = 0", "strip.gate.hold = 0", "strip.gate.release = 200"}},
	} {
		kept, _ := d.kept(c.only...)
		if diff := cmp.Diff(c.want, kept); diff != "" {
			t.Errorf("%v: %s", c.only, diff)
		}
	}
}

func TestAGainWithoutADiallingInGetsOne(t *testing.T) {
	b := bookOf(t, files{"performers/x.toml": "[strip]\nfader = 0\n"})
	d := after(t, b, "net-loft", "lectern", "x", nil)
	d.hand("input.gain", 28)
	text := d.written()
	for _, line := range []string{"input.gain = 28", "[dialled-in]", "sensitivity = -34", "distance = 0.4"} {
		if !strings.Contains(text, line) {
			t.Errorf("%q is missing:\n%s", line, text)
		}
	}
	if left := d.left(text, nil); len(left) > 0 {
		t.Errorf("left: %v", left)
	}
}

func TestAGainThatCannotBeCarriedBackIsKeptForThisVenue(t *testing.T) {
	venue := plainVenue + "[positions.stool]\nchannel = 1\n"
	b := bookOf(t, files{"venues/shed.toml": venue, "performers/x.toml": "[dialled-in]\nsensitivity = -38\ndistance = 0.3\n[strip]\ninput.gain = 30\n"})
	d := after(t, b, "shed", "stool", "x", nil)
	d.hand("input.gain", 35)
	kept, _ := d.kept()
	if diff := cmp.Diff([]string{"at.shed.strip.input.gain = 35"}, kept); diff != "" {
		t.Error(diff)
	}
}

func TestOnCoarseGainTheTrimIsKeptWithTheGain(t *testing.T) {
	for _, c := range []struct {
		name, strip string
		gain, trim  float64
		want        []string
	}{
		{"untouched", "input.gain = 34.5", 30, 4.5, nil},
		{"the trim finds the rest", "input.gain = 34.5", 30, 5.1, []string{"strip.input.gain = 35.1"}},
		{"a step of gain", "input.gain = 34.5", 36, 4.5, []string{"strip.input.gain = 40.5"}},
		{"beside a trim of its own", "input.gain = 34.5\ninput.trim = -2.0", 36, 2.5, []string{"strip.input.gain = 40.5"}},
		{"more trim than a step", "input.gain = 34.5", 30, 8, []string{"strip.input.trim = 8", "strip.input.gain = 30"}},
		{"less trim than none", "input.gain = 30", 30, -3, []string{"strip.input.trim = -3"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			other := files{"profiles/hut-8.toml": hut, "venues/hut.toml": hutVenue,
				"performers/x.toml": "[dialled-in]\nsensitivity = -40\ndistance = 0.2\n[strip]\n" + c.strip + "\n"}
			b := bookOf(t, other)
			d := after(t, b, "hut", "stool", "x", nil)
			d.hand("input.gain", c.gain)
			d.hand("input.trim", c.trim)
			kept, _ := d.kept()
			if diff := cmp.Diff(c.want, kept, cmp.Transformer("sorted", sorted)); diff != "" {
				t.Errorf("kept (-want +got):\n%s", diff)
			}
			other["performers/x.toml"] = d.written()
			b = bookOf(t, other)
			v := venueOf(t, b, "hut")
			r, err := v.Resolve(castOf(t, b, v, "stool", "x", nil))
			if err != nil {
				t.Fatal(err)
			}
			if left := v.Compare(d.holds, r.Wanted); len(left) > 0 {
				t.Errorf("left: %v\n%s", left, other["performers/x.toml"])
			}
		})
	}
}

func sorted(lines []string) string {
	all := make(map[string]bool)
	for _, l := range lines {
		all[l] = true
	}
	return fmt.Sprint(all)
}

func TestOneMovedFaderChangesOneLine(t *testing.T) {
	for _, performer := range []string{"botanist", "pilot", "poet", "bell-founder"} {
		d := after(t, bookOf(t, nil), "net-loft", "lectern", performer, nil)
		d.hand("fader", 2)
		old := strings.SplitAfter(example(t, "performers/"+performer+".toml"), "\n")
		now := strings.SplitAfter(d.written(), "\n")
		if len(old) != len(now) {
			t.Fatalf("%s: %d lines became %d", performer, len(old), len(now))
		}
		var differ []string
		for i := range old {
			if old[i] != now[i] {
				differ = append(differ, now[i])
			}
		}
		if diff := cmp.Diff([]string{"fader = 2.0\n"}, differ); diff != "" {
			t.Errorf("%s: %s", performer, diff)
		}
	}
}

func TestCommentsBesideAChangedValueStay(t *testing.T) {
	d := after(t, bookOf(t, nil), "net-loft", "lectern", "botanist", nil)
	d.hand("eq.1.gain", -4)
	want := changed(t, "performers/botanist.toml", "gain = -2.5   # close to the microphone when she reads", "gain = -4.0   # close to the microphone when she reads")
	if diff := cmp.Diff(want, d.written()); diff != "" {
		t.Error(diff)
	}
}

// faderMoved is a desk on which a hand has moved the botanist's fader, and what of that is to be kept.
func faderMoved(t testing.TB, b *scenes.Book) (*desk, []scenes.Kept) {
	t.Helper()
	d := after(t, b, "net-loft", "lectern", "botanist", nil)
	d.hand("fader", 2)
	kept, _ := d.keep()
	return d, kept
}

func TestAFileThatChangedMeanwhileIsNotReplaced(t *testing.T) {
	b := folderOf(t, nil)
	d, kept := faderMoved(t, b)
	old, text, err := b.KeepText(d.strip.Performer, kept)
	if err != nil {
		t.Fatal(err)
	}
	file := scenes.File(scenes.Performers, "botanist")
	theirs := append(old, "# and one more thought\n"...)
	if err := os.WriteFile(b.Path(file), theirs, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := b.Write(file, old, text); !errors.Is(err, source.ErrChanged) {
		t.Errorf("got %v", err)
	}
	if now, _ := os.ReadFile(b.Path(file)); string(now) != string(theirs) {
		t.Error("the other's text is gone")
	}
	if err := b.Write(file, theirs, text); err != nil {
		t.Fatal(err)
	}
	if now, _ := os.ReadFile(b.Path(file)); string(now) != string(text) {
		t.Error("it was not written")
	}
}

func TestABookOfThePastCannotBeWritten(t *testing.T) {
	if err := bookOf(t, nil).Write("performers/x.toml", nil, []byte("")); !errors.Is(err, scenes.ErrReadOnly) {
		t.Errorf("got %v", err)
	}
}
