package trace_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/trace"

	"pgregory.net/rapid"
)

// desk is a desk of some convention with one control, such as the EQ gain, or the
// switch or fader of a channel.
type desk struct {
	channels, bands int
	head, tail      string // of the profile: what a manual says, and what is to be learned
	name            string // of the control, for all bands
}

// drawDesk makes up a desk out of the conventions that the format knows.
func drawDesk(t *rapid.T) desk {
	d := desk{channels: rapid.IntRange(3, 40).Draw(t, "channels"), bands: rapid.IntRange(2, 6).Draw(t, "bands")}
	d.name = rapid.SampledFrom([]string{"fader", "mute", "eq.band.gain", "eq.band.frequency", "eq.band.kind", "input.delay", "eq.band.q"}).Draw(t, "name")
	hasBand := strings.Contains(d.name, "band")
	place := rapid.SampledFrom([]string{"address", "prefix", "arguments", "flat"}).Draw(t, "place")
	var numbers, tell, ask []string
	first := rapid.IntRange(0, 1).Draw(t, "first")
	digits := rapid.IntRange(1, 3).Draw(t, "digits")
	at := "/x/{channel}/level"
	if hasBand {
		at = "/x/{channel}/tone/{band}"
	}
	switch place {
	case "address":
		at = rapid.SampledFrom([]string{"", "/ch", "/in/n"}).Draw(t, "before") + at
		numbers = append(numbers, fmt.Sprintf("channel = [{ first = %d, digits = %d }]", first, digits))
	case "prefix":
		upto := rapid.IntRange(2, d.channels-1).Draw(t, "upto")
		numbers = append(numbers, fmt.Sprintf(`channel = [{ upto = %d, write = "in/{}", first = %d, digits = %d }, { write = "line/{}", first = %d, digits = %d }]`,
			upto, first, digits, rapid.SampledFrom([]int{first, upto + first}).Draw(t, "second"), digits))
	case "arguments":
		at = "/level"
		numbers = append(numbers, fmt.Sprintf("channel = [{ first = %d }]", first))
		if hasBand && rapid.Bool().Draw(t, "letters") {
			numbers = append(numbers, "band = [{ words = ["+strings.Join(strings.Split(`"a" "b" "c" "d" "e" "f"`, " ")[:d.bands], ", ")+"] }]")
		}
		tell = append(tell, `arguments = ["{place}", "{value}"]`)
		ask = append(ask, `arguments = ["{place}"]`)
	case "flat":
		at = "/level"
		flat := fmt.Sprintf("{ base = %d, channel = %d }", rapid.IntRange(0, 500).Draw(t, "base"), rapid.IntRange(7, 20).Draw(t, "stride"))
		if hasBand {
			flat = strings.Replace(flat, " }", ", band = 1 }", 1)
		}
		tell = append(tell, "arguments = ["+flat+`, "{value}"]`)
		ask = append(ask, "arguments = ["+flat+"]")
	}
	entry := fmt.Sprintf("at = %q, ", at) + drawForm(t, d.name)
	d.head = fmt.Sprintf("name = \"x\"\nchannels = %d\nbands = %d\n[link]\nport = 9000\n[identity]\nask = \"/who\"\nsays = \"x\"\n", d.channels, d.bands)
	if len(ask) > 0 {
		d.head += "[ask]\n" + ask[0] + "\n"
	}
	if len(numbers) > 0 {
		d.tail += "[numbers]\n" + strings.Join(numbers, "\n") + "\n"
	}
	if len(tell) > 0 {
		d.tail += "[tell]\n" + tell[0] + "\n"
	}
	d.tail += "[channel]\n" + d.name + " = { " + entry + " }\n"
	return d
}

// drawForm makes up how the control's values stand on the wire.
func drawForm(t *rapid.T, name string) string {
	switch name {
	case "mute":
		return rapid.SampledFrom([]string{
			`as = "int"`, `as = "int", wire = [1, 0]`, `as = "switch"`, `as = "switch", wire = [1, 0]`, `as = "float"`,
			`as = "word"`, `as = "word", words = ["open", "shut"]`, `as = "int", wire = [0, 127]`,
		}).Draw(t, "form")
	case "eq.band.kind":
		return `choice = ["bell", "low-shelf", "notch"], ` + rapid.SampledFrom([]string{
			`as = "int"`, `as = "float"`, `as = "int", wire = [3, 7]`, `as = "word"`, `as = "word", words = ["b", "l s", "n"]`,
		}).Draw(t, "form")
	}
	steps := rapid.IntRange(9, 120).Draw(t, "steps")
	curve := ""
	switch name {
	case "fader":
		curve = "points = [[0.0, -inf], [0.25, -60.0], [0.5, -12.0], [1.0, 10.0]]"
		steps = 4*rapid.IntRange(4, 40).Draw(t, "quarters") + 1
	case "eq.band.gain":
		curve = "linear = [-18.0, 18.0]"
	case "eq.band.frequency":
		curve = "log = [20.0, 20480.0]"
	case "eq.band.q":
		curve = rapid.SampledFrom([]string{"log = [0.125, 4.0], octaves = true", "linear = [3.0, 0.1], octaves = true", "log = [0.25, 16.0]"}).Draw(t, "width")
	case "input.delay":
		curve = "power = [0.0, 200.0, 2.0]"
	}
	form := rapid.SampledFrom([]string{
		`as = "float"`, `as = "int"`, `as = "int", wire = [-1000, 1000]`, `as = "float", wire = [1.0, 0.0]`, `as = "double"`,
		`as = "float", wire = "unit", silent = -144.0`, `as = "double", wire = "unit", silent = -200.0`,
		`as = "text", write = "{} u", decimals = 6, silent = "off"`,
	}).Draw(t, "form")
	if name != "fader" {
		form, _, _ = strings.Cut(form, ", silent")
	}
	return fmt.Sprintf("%s, steps = %d, %s", curve, steps, form)
}

// wandering makes up a recording of moves, as a user makes them who is asked to.
type wandering struct {
	t *rapid.T
	p *profiles.Profile
	r *trace.Recording
	n int
}

func (w *wandering) add(m osc.Message) {
	packet, err := m.Encode()
	if err != nil {
		w.t.Fatal(err)
	}
	w.n++
	w.r.Events = append(w.r.Events, trace.Event{At: time.Duration(w.n) * time.Millisecond, Packet: packet})
}

// meters is what a desk tells by itself all the time.
func (w *wandering) meters() {
	for n := range 3 {
		w.add(osc.Message{Address: fmt.Sprintf("/meter/%d", n+1), Arguments: []any{float32(w.n*(n+7)%97) / 97}})
	}
}

func (w *wandering) mark(m trace.Mark) {
	w.r.Events = append(w.r.Events, trace.Event{At: time.Duration(w.n) * time.Millisecond, Mark: m})
}

// at moves a control to a step.
func (w *wandering) at(q profiles.Parameter, step int) {
	control, ok := w.p.Control(q)
	if !ok {
		w.t.Fatalf("no %s", q)
	}
	m, err := w.p.Answer(q, func(profiles.Parameter) (profiles.Value, bool) { return control.Curve.At(step), true })
	if err != nil {
		w.t.Fatal(err)
	}
	w.add(m)
	if w.n%5 == 0 {
		w.meters()
	}
}

func (w *wandering) through(q profiles.Parameter) {
	control, _ := w.p.Control(q)
	last := control.Curve.Steps() - 1
	m := trace.Mark{Kind: trace.Moved, Parameter: q}
	if control.Spec.Kind != profiles.Level && control.Spec.Kind != profiles.Quantity {
		for step := range last + 1 {
			m.Words = append(m.Words, control.Spec.Say(control.Curve.At(step)))
		}
		m.Words = append(m.Words, m.Words[0])
		w.mark(m)
		for step := range last + 2 {
			w.at(q, step%(last+1))
		}
		return
	}
	m.Sweep = true
	w.mark(m)
	w.at(q, last)
	for step := range last + 1 {
		w.at(q, step)
	}
	for _, step := range []int{0, last / 4, last / 2, last * 3 / 4, last} {
		w.at(q, step)
		v, _ := control.Curve.At(step).Number()
		text := fmt.Sprintf("%.3f", v)
		if control.InOctaves {
			text = fmt.Sprintf("%.3f oct", profiles.OctavesOfQ(v))
		}
		if v < -1e9 {
			text = "-inf"
		}
		w.mark(trace.Mark{Kind: trace.Shows, Text: text})
	}
}

// TestLearningGivesAnEntryBack makes up a desk, has it say what it would say while its
// control is moved, answers every question, and holds what was learned against it.
func TestLearningGivesAnEntryBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDesk(t)
		p, err := profiles.Load("x.toml", []byte(d.head+d.tail))
		if err != nil {
			t.Skip(err) // a desk that can't be, such as more steps than whole numbers
		}
		known, err := trace.ReadKnown(profiles.ShippedLibrary, []byte(d.head))
		if err != nil {
			t.Fatal(err)
		}
		w := &wandering{t: t, p: p, r: &trace.Recording{}}
		w.mark(trace.Mark{Kind: trace.Quiet})
		for range 4 {
			w.meters()
		}
		q := profiles.Parameter{Place: profiles.Place{Part: profiles.Channel, Number: 1}, Name: strings.ReplaceAll(d.name, "band", "1")}
		w.through(q)
		if strings.Contains(d.name, "band") {
			// Which of its bands are alike only the user knows.
			other := profiles.Parameter{Place: q.Place, Name: strings.ReplaceAll(d.name, "band", "2")}
			w.mark(trace.Mark{Kind: trace.Moved, Parameter: other})
			w.at(other, 1)
		}
		var found *trace.Findings
		for range 20 {
			if found, err = trace.Learn(w.r, known); err != nil {
				t.Fatal(err)
			}
			if len(found.Questions) == 0 {
				break
			}
			want := found.Questions[0].Want
			if want.Kind != trace.Moved || want.Parameter == q {
				t.Fatalf("asked: %s\n%s", found.Questions[0].Text, d.tail)
			}
			w.mark(want)
			w.at(want.Parameter, 1)
			w.at(want.Parameter, 0)
		}
		if len(found.Questions)+len(found.Troubles) > 0 {
			t.Fatalf("%v %v\n%s", found.Questions, found.Troubles, d.tail)
		}
		text, err := found.Into("x.toml", []byte(d.head))
		if err != nil {
			t.Fatal(err)
		}
		made, err := profiles.Load("x.toml", text)
		if err != nil {
			t.Fatalf("%v\n%s\nof\n%s", err, text, d.tail)
		}
		if a, b := len(made.Parameters()), len(p.Parameters()); a != b {
			t.Fatalf("%d parameters, not %d\n%s\nof\n%s", a, b, text, d.tail)
		}
		for _, q := range p.Parameters() {
			if err := alike(p, made, q); err != nil {
				t.Fatalf("%v\n%s\nof\n%s", err, text, d.tail)
			}
		}
		if _, against, err := trace.Prove(w.r, made); err != nil || len(against) > 0 {
			t.Fatalf("%v %v", against, err)
		}
	})
}
