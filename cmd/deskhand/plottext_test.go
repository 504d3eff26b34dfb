package main

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"deskhand/scenes/tone"

	"pgregory.net/rapid"
)

// whistle is a bell of +6 dB at 1 kHz, so narrow that nothing else is to be seen of it.
func whistle() equaliser {
	bell := tone.Shape{Bands: []tone.Band{{Kind: tone.Bell, Frequency: 1000, Gain: 6, Q: 100}}}
	return equaliser{desk: tone.Desk{Rate: 48000}, shape: bell, parts: []part{{"whistle", bell}}}
}

// TestACurveInASCIIHasItsPeakAboveItsFrequency: 1 kHz is log 50 / log 1000 = 0.5663 of the
// way from 20 Hz to 20 kHz, which is column 34 of 0 to 60; after the level and the bar, letter 42.
// The bell is on the line of +6 dB there, on that of 0 dB everywhere else, and the way between
// is steep: a bar on each side.
func TestACurveInASCIIHasItsPeakAboveItsFrequency(t *testing.T) {
	flat, rest := strings.Repeat("-", 34), strings.Repeat("-", 26)
	want := []string{
		" +6 dB |" + strings.Repeat(" ", 34) + "-",
		"    +3 |" + strings.Repeat(" ", 34) + "||",
		"     0 |" + flat + " " + rest,
		"    -3 |",
		"    -6 |",
		"    -9 |",
		"   -12 |",
		"           31.5   63   125   250   500    1k    2k    4k    8k   16k  Hz",
	}
	got := textCurve(whistle(), false)
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("\n%s\nwanted\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// TestACurveInDotsHasItsPeakAboveItsFrequency: of 122 columns of dots 1 kHz is at 0.5663 x 121 =
// 68.5, so 69, which is the right column of letter 34. The line of +6 dB is in the middle of four
// dots, and the third of them stands for it, which is 0x04 on the left and 0x20 on the right.
func TestACurveInDotsHasItsPeakAboveItsFrequency(t *testing.T) {
	lines := textCurve(whistle(), true)
	top := []rune(lines[0])
	if peak := top[8+34]; peak < 0x2800 || peak > 0x28ff || peak&0x20 == 0 {
		t.Errorf("the peak is %q in %q", peak, lines[0])
	}
	zero := []rune(lines[2])
	for column, letter := range zero[8:] {
		if letter != '⠤' && (column < 33 || column > 35) {
			t.Fatalf("letter %d of the line of 0 dB is %q", column, letter)
		}
	}
}

func TestACurveInTextFitsItsPlace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var e equaliser
		e.desk = tone.Desk{Rate: 48000, BellsNarrow: rapid.Bool().Draw(t, "narrow")}
		if rapid.Bool().Draw(t, "has low cut") {
			e.shape.LowCut = tone.LowCut{Frequency: rapid.Float64Range(5, 2000).Draw(t, "low cut"), Slope: rapid.Float64Range(6, 96).Draw(t, "slope")}
			e.parts = append(e.parts, part{"low cut", tone.Shape{LowCut: e.shape.LowCut}})
		}
		for range rapid.IntRange(0, 8).Draw(t, "bands") {
			b := tone.Band{
				Kind:      tone.Kind(rapid.IntRange(0, 5).Draw(t, "kind")),
				Frequency: rapid.Float64Range(5, 40000).Draw(t, "frequency"),
				Gain:      rapid.Float64Range(-40, 40).Draw(t, "gain"),
				Q:         rapid.Float64Range(0.05, 100).Draw(t, "q"),
			}
			e.shape.Bands = append(e.shape.Bands, b)
			e.parts = append(e.parts, part{"band", tone.Shape{Bands: []tone.Band{b}}})
		}
		for _, dots := range []bool{false, true} {
			lines := textCurve(e, dots)
			if len(lines) < 8 || len(lines) > 10 {
				t.Fatalf("%d lines", len(lines))
			}
			for _, line := range lines {
				if n := utf8.RuneCountInString(line); n > 76 || strings.HasSuffix(line, " ") {
					t.Fatalf("%d letters: %q", n, line)
				}
				if !dots && len(line) != utf8.RuneCountInString(line) {
					t.Fatalf("not in ASCII: %q", line)
				}
			}
		}
	})
}

func TestAFrameShowsItsRangeInSevenToNineLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low, high := rapid.Float64Range(-300, 0).Draw(t, "lowest"), rapid.Float64Range(0, 300).Draw(t, "highest")
		f := frameFor(low, high)
		const unseen = 0.02
		if f.bottom > low+unseen || f.top < high-unseen || f.bottom > -6 || f.top < 6 {
			t.Errorf("%+v doesn't show %g to %g", f, low, high)
		}
		if n := f.rows(); n < 7 || n > 9 {
			t.Errorf("%d lines", n)
		}
		for _, edge := range []float64{f.bottom, f.top} {
			if _, part := math.Modf(edge / f.step); part != 0 {
				t.Errorf("%g is no multiple of %g", edge, f.step)
			}
		}
	})
}

// TestATerminalShowsTheCurve shows it below the settings, and nowhere else.
func TestATerminalShowsTheCurve(t *testing.T) {
	dir := exampleBook(t, nil)
	t.Setenv("LC_ALL", "C")
	shows := func(words ...string) string {
		var out, complaints bytes.Buffer
		a := newApp(console{in: strings.NewReader(""), out: &out, err: &complaints})
		if a.curves {
			t.Fatal("what goes to no terminal would have curves")
		}
		a.curves = true
		root := a.commands()
		root.SetArgs(append(words, "--book", dir))
		if code := a.end(root.ExecuteContext(t.Context())); code != exitDone {
			t.Fatalf("exit %d: %s", code, &complaints)
		}
		return out.String()
	}
	const ticks = "31.5   63   125"
	lectern := shows("show", "botanist", "--position", "lectern")
	if strings.Count(lectern, ticks) != 1 || strings.Index(lectern, ticks) < strings.Index(lectern, "fader") {
		t.Errorf("there is no curve below the settings:\n%s", lectern)
	}
	if out := shows("show", "net-loft", "--position", "table-left"); strings.Contains(out, ticks) {
		t.Errorf("where no low cut and no EQ is set there is a curve:\n%s", out)
	}
	if out := shows("show", "botanist", "--position", "lectern", "--json"); strings.Contains(out, ticks) || strings.Count(out, "\n") != 1 {
		t.Errorf("a curve among JSON:\n%s", out)
	}
}

func TestTheLocaleSaysWhetherATerminalShowsDots(t *testing.T) {
	for _, c := range []struct {
		all, ctype, lang string
		want             bool
	}{
		{"", "", "", false},
		{"", "", "C", false},
		{"", "", "en_GB.UTF-8", true},
		{"", "de_DE.utf8", "C", true},
		{"C", "de_DE.utf8", "en_GB.UTF-8", false},
		{"C.UTF-8", "", "", true},
		{"", "", "en_GB.ISO-8859-1", false},
	} {
		t.Setenv("LC_ALL", c.all)
		t.Setenv("LC_CTYPE", c.ctype)
		t.Setenv("LANG", c.lang)
		if got := showsDots(); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
}
