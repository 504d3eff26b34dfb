package source

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// writing is a file being written by an imaginary person with habits of their own.
type writing struct {
	t      *rapid.T
	text   strings.Builder
	ending string            // of a line
	equals string            // the sign with the spaces around it
	indent string            // of the keys below a header
	values map[string]string // the paths that are there, with the way their tables are written
}

func drawWriting(t *rapid.T) *writing {
	w := &writing{t: t, values: map[string]string{}}
	w.ending = rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "ending")
	w.equals = rapid.SampledFrom([]string{" = ", "=", "   =  ", "\t= "}).Draw(t, "equals")
	w.indent = rapid.SampledFrom([]string{"", "  ", "\t"}).Draw(t, "indent")
	w.noise()
	w.key("", "name", `"poet"`)
	for _, strip := range []string{"strip", "spare"} {
		w.strip(strip)
	}
	w.noise()
	text := w.text.String()
	if rapid.Bool().Draw(t, "no last line ending") {
		text = strings.TrimSuffix(text, w.ending)
	}
	w.text.Reset()
	w.text.WriteString(text)
	return w
}

// strip writes a table with two bands in one of the ways that TOML has.
func (w *writing) strip(name string) {
	style := rapid.SampledFrom([]string{"headers", "dotted", "braces", "lines in braces", "only headers"}).Draw(w.t, "style")
	w.noise()
	if style != "only headers" {
		w.line("[" + name + "]" + w.comment())
		w.key(name, "gain", w.number())
		w.noise()
	}
	for band := 1; band <= 2; band++ {
		path := fmt.Sprintf("%s.eq.%d", name, band)
		switch style {
		case "headers", "only headers":
			w.noise()
			w.line("[" + path + "]" + w.comment())
			w.key(path, "gain", w.number())
			w.key(path, "kind", w.word())
		case "dotted":
			w.keyAs(path+".gain", fmt.Sprintf("eq.%d.gain", band), w.number())
			w.keyAs(path+".kind", fmt.Sprintf("eq . %d . \"kind\"", band), w.word())
		case "braces":
			w.line(fmt.Sprintf("%seq.%d%s{ gain%s%s, kind%s%s }%s", w.indent, band, w.equals, w.equals, w.number(), w.equals, w.word(), w.comment()))
		case "lines in braces":
			w.line(fmt.Sprintf("%seq.%d%s{%s", w.indent, band, w.equals, w.comment()))
			w.line("\t gain" + w.equals + w.number() + "," + w.comment())
			w.line("\t kind" + w.equals + w.word() + w.comment())
			w.line("}")
		}
		w.values[path+".gain"], w.values[path+".kind"] = style, style
	}
}

func (w *writing) line(text string) { w.text.WriteString(text + w.ending) }

func (w *writing) key(table, name, value string) {
	w.keyAs(strings.TrimPrefix(table+"."+name, "."), name, value)
}

func (w *writing) keyAs(path, key, value string) {
	w.line(w.indent + key + w.equals + value + w.comment())
	w.values[path] = "a line"
}

// noise is what a person leaves between keys.
func (w *writing) noise() {
	for range rapid.IntRange(0, 2).Draw(w.t, "lines") {
		w.line(rapid.SampledFrom([]string{"", "  ", "# a note", "\t# gain = 34"}).Draw(w.t, "noise"))
	}
}

func (w *writing) comment() string {
	return rapid.SampledFrom([]string{"", "", "  # dB", "#x", " "}).Draw(w.t, "comment")
}

func (w *writing) number() string {
	return rapid.SampledFrom([]string{"34", "-3.0", "+2.50", "-inf", "1_000", "1e2", "0x1f", "0.125"}).Draw(w.t, "number")
}

func (w *writing) word() string {
	return rapid.SampledFrom([]string{`"bell"`, `'notch'`, `"""low-shelf"""`, `""`}).Draw(w.t, "word")
}

func drawValue(t *rapid.T) any {
	return rapid.OneOf(
		rapid.Float64().Filter(func(v float64) bool { return !math.IsNaN(v) }).AsAny(),
		rapid.Map(rapid.IntRange(-1200, 1200), func(i int) float64 { return float64(i) / 10 }).AsAny(),
		rapid.Int64().AsAny(),
		rapid.Bool().AsAny(),
		rapid.String().AsAny(),
		rapid.SampledFrom([]string{"it's", "a\nb\r\n", `""""`, "\\", "'''\n"}).AsAny(),
		rapid.Just(math.Inf(-1)).AsAny(),
	).Draw(t, "value")
}

func TestAnEditOfAValueChangesTheBytesOfThatValueAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWriting(t)
		d, err := Parse("poet.toml", []byte(w.text.String()))
		if err != nil {
			t.Fatal(err)
		}
		_, values := reachable(d.root)
		if len(values) != len(w.values) {
			t.Fatalf("%d values were written and %d are read", len(w.values), len(values))
		}
		target := rapid.SampledFrom(values).Draw(t, "target")
		value := drawValue(t)
		got, err := d.Apply(Edit{target.path(), value})
		if err != nil {
			t.Fatal(err)
		}
		before, after := string(d.text[:target.value.start]), string(d.text[target.value.end:])
		if !strings.HasPrefix(string(got), before) || !strings.HasSuffix(string(got), after) {
			t.Fatalf("%q became %q", d.text, got)
		}
		again, err := decode(got)
		if err != nil {
			t.Fatal(err)
		}
		meant := d.root.tree()
		enter(meant, target.path(), edited{value})
		if !same(meant, again) {
			t.Fatalf("%q holds %v", got, again)
		}
	})
}

func TestNewKeysLeaveEveryLineInItsPlace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWriting(t)
		d, err := Parse("poet.toml", []byte(w.text.String()))
		if err != nil {
			t.Fatal(err)
		}
		paths := []string{"distance", "strip.pan", "spare.fader", "strip.eq.1.q", "spare.eq.2.frequency", "strip.eq.3.gain", "spare.lowcut.on", "mic.kind", "strip.send.2.level"}
		path := rapid.SampledFrom(paths).Draw(t, "path")
		edit := Edit{strings.Split(path, "."), drawValue(t)}
		got, err := d.Apply(edit)
		if err != nil {
			t.Fatal(err)
		}
		rest := strings.SplitAfter(string(got), "\n")
		style := w.values[strings.Join(edit.Path[:len(edit.Path)-1], ".")+".gain"]
		for _, line := range strings.SplitAfter(w.text.String(), "\n") {
			rest = after(t, rest, line, strings.HasSuffix(style, "braces"))
		}
		again, err := decode(got)
		if err != nil {
			t.Fatal(err)
		}
		meant := d.root.tree()
		enter(meant, edit.Path, edited{edit.Value})
		if !same(meant, again) {
			t.Fatalf("%q holds %v", got, again)
		}
	})
}

// after finds a line of the old text in the new one and gives the lines that follow. In braces a line may have grown.
func after(t *rapid.T, lines []string, line string, mayGrow bool) []string {
	for i, candidate := range lines {
		bare := strings.TrimRight(candidate, "\r\n")
		if candidate == line || bare == line || mayGrow && isWithin([]byte(line), []byte(candidate)) {
			return lines[i+1:]
		}
	}
	t.Fatalf("the line %q is gone from %q", line, lines)
	return nil
}

func TestManyEditsAtOnceAreTheSameAsOneByOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWriting(t)
		d, err := Parse("poet.toml", []byte(w.text.String()))
		if err != nil {
			t.Fatal(err)
		}
		paths := []string{"name", "distance", "strip.pan", "strip.eq.1.gain", "strip.eq.3.gain", "strip.eq.3.q", "spare.eq.2.kind", "strip.lowcut.on"}
		var edits []Edit
		for _, path := range rapid.SliceOfN(rapid.SampledFrom(paths), 1, 6).Draw(t, "paths") {
			edits = append(edits, Edit{strings.Split(path, "."), drawValue(t)})
		}
		together, err := d.Apply(edits...)
		if err != nil {
			t.Fatal(err)
		}
		oneByOne := d
		for _, edit := range edits {
			text, err := oneByOne.Apply(edit)
			if err != nil {
				t.Fatal(err)
			}
			if oneByOne, err = Parse("poet.toml", text); err != nil {
				t.Fatal(err)
			}
		}
		if string(together) != string(oneByOne.text) {
			t.Fatalf("together %q, one by one %q", together, oneByOne.text)
		}
		if again, err := oneByOne.Apply(edits[len(edits)-1]); err != nil || string(again) != string(together) {
			t.Fatalf("the last edit again changes %q to %q, %v", together, again, err)
		}
	})
}
