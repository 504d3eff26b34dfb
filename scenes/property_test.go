package scenes_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// value draws a value that a control of a desk can hold.
func value(t *rapid.T, control *profiles.Control) profiles.Value {
	if control.Curve.Steps() == 0 {
		text := rapid.StringOf(rapid.SampledFrom([]rune("aZ 9é\"\\'#=[]"))).Draw(t, "text")
		v, err := control.Nearest(profiles.Word(text))
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	return control.Curve.At(rapid.IntRange(0, control.Curve.Steps()-1).Draw(t, "step"))
}

func quay(t testing.TB) *profiles.Profile {
	t.Helper()
	p, err := bookOf(t, nil).Profile("quay-24")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestAReadingOfAnyValuesReadsBackTheSame(t *testing.T) {
	p, b := quay(t), bookOf(t, nil)
	rapid.Check(t, func(rt *rapid.T) {
		r := &scenes.Reading{
			Desk: "quay-24", Taken: time.Unix(rapid.Int64Range(0, 4e9).Draw(rt, "taken"), 0).UTC(),
			Note: "before the poet", On: map[string]string{"lectern": "poet", "table-left": ""}, Values: make(scenes.Values),
		}
		for _, place := range []profiles.Place{{Part: profiles.Channel, Number: rapid.IntRange(1, 24).Draw(rt, "channel")}, {Part: profiles.Mix, Number: 8}, {Part: profiles.Main}} {
			for _, q := range p.At(place) {
				control, _ := p.Control(q)
				r.Values[q] = value(rt, control)
			}
		}
		text := r.Text(p)
		back, err := b.ParseReading("reading.toml", text)
		if err != nil {
			rt.Fatalf("%v\n%s", err, text)
		}
		if diff := cmp.Diff(r.Values, back.Values, cmp.Comparer(func(x, y profiles.Value) bool { return x == y })); diff != "" {
			rt.Errorf("values (-written +read):\n%s", diff)
		}
		if back.Desk != r.Desk || !back.Taken.Equal(r.Taken) || back.Note != r.Note || !cmp.Equal(back.On, r.On) {
			rt.Errorf("%+v came back as %+v", r, back)
		}
	})
}

func TestTheEndsOfEveryControlReadBackTheSame(t *testing.T) {
	p, b := quay(t), bookOf(t, nil)
	for _, last := range []bool{false, true} {
		r := &scenes.Reading{Desk: "quay-24", Values: make(scenes.Values)}
		for _, q := range p.Parameters() {
			control, _ := p.Control(q)
			v := profiles.Word("")
			if steps := control.Curve.Steps(); steps > 0 && last {
				v = control.Curve.At(steps - 1)
			} else if steps > 0 {
				v = control.Curve.At(0)
			}
			r.Values[q] = v
		}
		back, err := b.ParseReading("reading.toml", r.Text(p))
		if err != nil {
			t.Fatal(err)
		}
		for q, v := range r.Values {
			if back.Values[q] != v {
				t.Errorf("%s: %s came back as %s", q, v, back.Values[q])
			}
		}
	}
}

func TestComparingFindsExactlyWhatIsNotOnTheSameStep(t *testing.T) {
	v := venueOf(t, bookOf(t, nil), "net-loft")
	p := v.Desk.Profile
	place := profiles.Place{Part: profiles.Channel, Number: 3}
	rapid.Check(t, func(rt *rapid.T) {
		holds, other := make(scenes.Values), make(scenes.Values)
		var wanted []scenes.Wanted
		differ := make(map[profiles.Parameter]bool)
		for _, q := range p.At(place) {
			control, _ := p.Control(q)
			other[q] = value(rt, control)
			wanted = append(wanted, scenes.Wanted{Parameter: q, Asked: other[q], Value: other[q]})
			switch rapid.IntRange(0, 2).Draw(rt, "holds") {
			case 0: // the same, with as few figures as a person would write
				holds[q] = control.Tidy(other[q])
			case 1:
				holds[q] = value(rt, control)
				differ[q] = holds[q] != other[q]
			default: // not known
				differ[q] = true
			}
		}
		changes := v.Compare(holds, wanted)
		for _, q := range p.At(place) {
			found := slices.ContainsFunc(changes, func(c scenes.Change) bool { return c.Parameter == q })
			if found != differ[q] {
				rt.Errorf("%s: holds %s, wanted %s: a change is %v", q, holds[q], other[q], found)
			}
		}
		if len(v.Compare(other, wanted)) != 0 {
			rt.Error("what is held already is a change")
		}
		for _, m := range v.Moves(holds, other) {
			if holds[m.Parameter].IsZero() || !differ[m.Parameter] {
				rt.Errorf("%s was moved from %s to %s", m.Parameter, m.From, m.To)
			}
		}
	})
}

func TestAfterKeepingNothingIsLeftButWhatIsApart(t *testing.T) {
	b := bookOf(t, files{"performers/stranger.toml": "# Nobody knows how.\n[strip]\ninput.gain = 20\n" + bell(1, 300) + off(bell(4, 500)) + "[at.net-loft.strip]\n" + bell(3, 900)})
	s, err := b.Scene("opening")
	if err != nil {
		t.Fatal(err)
	}
	v := venueOf(t, b, "net-loft")
	performers := b.Names(scenes.Performers)
	rapid.Check(t, func(rt *rapid.T) {
		scene := rapid.SampledFrom([]*scenes.Scene{nil, s}).Draw(rt, "scene")
		position := rapid.SampledFrom([]string{"lectern", "table-left", "bench", "roving"}).Draw(rt, "position")
		r, err := v.Resolve(castOf(t, b, v, position, rapid.SampledFrom(performers).Draw(rt, "performer"), scene))
		if err != nil {
			rt.Fatal(err)
		}
		d := recalled(t, b, v, r)
		for range rapid.IntRange(1, 12).Draw(rt, "moves") {
			q := rapid.SampledFrom(d.venue.Desk.Profile.At(d.strip.Position.Place())).Draw(rt, "parameter")
			control, _ := d.venue.Desk.Profile.Control(q)
			moved := value(rt, control)
			d.moved[q] = d.moved[q] || d.holds[q] != moved
			d.holds[q] = moved
		}
		kept, apart := d.keep()
		isApart := make(map[profiles.Parameter]bool)
		for _, a := range apart {
			isApart[a.Parameter] = true
		}
		isKept := make(map[profiles.Parameter]bool)
		for _, k := range kept {
			isKept[k.Parameter] = true
		}
		_, text, err := b.KeepText(d.strip.Performer, kept)
		if err != nil {
			rt.Fatal(err)
		}
		for _, c := range d.left(string(text), scene) {
			if !isApart[c.Parameter] {
				rt.Errorf("%s: the desk holds %s, the file now asks for %s\n%s", c.Parameter, c.From, c.To, text)
			}
		}
		untouched(rt, fileOf(t, b, d.strip.PerformerName()), string(text), len(kept))
	})
}

// fileOf gives a performer's file as the book has it.
func fileOf(t testing.TB, b *scenes.Book, performer string) string {
	t.Helper()
	old, err := b.Text(scenes.Named{Kind: scenes.Performers, Name: performer})
	if err != nil {
		t.Fatal(err)
	}
	return string(old)
}

// untouched checks that no more lines are gone from a text than values were kept, and
// no comment.
func untouched(t *rapid.T, old, now string, kept int) {
	have := make(map[string]int)
	for _, line := range strings.Split(now, "\n") {
		have[line]++
	}
	gone := 0
	for _, line := range strings.Split(old, "\n") {
		if have[line]--; have[line] < 0 {
			gone++
		}
		if _, comment, ok := strings.Cut(line, "#"); ok && !strings.Contains(now, "#"+comment) {
			t.Errorf("the comment %q is gone", comment)
		}
	}
	if gone > kept {
		t.Errorf("%d values were kept and %d lines are gone", kept, gone)
	}
}

func TestTheGainKeptLandsOnTheStepThatTheDeskHolds(t *testing.T) {
	v := venueOf(t, bookOf(t, nil), "net-loft")
	control, _ := v.Desk.Profile.Control(parameter(t, "channel.3.input.gain"))
	rapid.Check(t, func(rt *rapid.T) {
		sensitivity, distance := rapid.IntRange(-60, -20).Draw(rt, "sensitivity"), float64(rapid.IntRange(2, 200).Draw(rt, "centimetres"))/100
		b := bookOf(t, files{"performers/x.toml": fmt.Sprintf("[dialled-in]\nsensitivity = %d\ndistance = %v\n[strip]\ninput.gain = 30\n", sensitivity, distance)})
		r, err := v.Resolve(castOf(t, b, v, "lectern", "x", nil))
		if err != nil {
			rt.Fatal(err)
		}
		d := recalled(t, b, v, r)
		held := control.Curve.At(rapid.IntRange(0, control.Curve.Steps()-1).Draw(rt, "step"))
		n, _ := held.Number()
		d.hand("input.gain", n)
		kept, _ := d.keep()
		if len(kept) == 0 {
			return // it was not moved
		}
		back, _ := kept[0].To.Number()
		if back < -40 || back > 90 {
			return // no desk could mean it, and KeepText refuses it
		}
		b = bookOf(t, files{"performers/x.toml": d.written()})
		if r, err = v.Resolve(castOf(t, b, v, "lectern", "x", nil)); err != nil {
			rt.Fatal(err)
		}
		if got, _ := asked(r, "input.gain"); got.Value != held {
			rt.Errorf("held %s, kept %s, comes out as %s", held, kept[0].To, got.Value)
		}
	})
}
