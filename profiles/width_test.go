package profiles_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/source"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// Worked out by hand from Q = 2^(N/2) / (2^N - 1): 1 octave is 2^0.5 / 1; 2 octaves are
// 2 / 3; a third is 2^(1/6) / (2^(1/3) - 1) = 1.122462 / 0.259921; 4 octaves are 4 / 15;
// half an octave is 2^0.25 / (2^0.5 - 1) = 1.189207 / 0.414214.
var widths = []struct{ octaves, q float64 }{
	{1, 1.414214}, {2, 0.666667}, {1.0 / 3, 4.318473}, {4, 0.266667}, {0.5, 2.871}, {0.125, 11.53795},
}

func TestAWidthInOctavesIsTheQThatItsFormulaGives(t *testing.T) {
	for _, w := range widths {
		if q := profiles.QOfOctaves(w.octaves); math.Abs(q/w.q-1) > 1e-5 {
			t.Errorf("%g octaves are Q %g, not %g", w.octaves, w.q, q)
		}
		if n := profiles.OctavesOfQ(w.q); math.Abs(n/w.octaves-1) > 1e-5 {
			t.Errorf("Q %g is %g octaves, not %g", w.q, w.octaves, n)
		}
	}
}

func TestOctavesAndQLeadToEachOther(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := math.Exp(rapid.Float64Range(math.Log(0.005), math.Log(10)).Draw(t, "log of the octaves"))
		q := profiles.QOfOctaves(n)
		if formula := math.Exp2(n/2) / (math.Exp2(n) - 1); math.Abs(q/formula-1) > 1e-12 {
			t.Fatalf("%g octaves are Q %g, and %g by the formula", n, q, formula)
		}
		if back := profiles.OctavesOfQ(q); math.Abs(back/n-1) > 1e-12 {
			t.Fatalf("%g octaves are Q %g, which is %g octaves", n, q, back)
		}
		if wider := profiles.QOfOctaves(n * 1.001); wider >= q {
			t.Fatalf("%g octaves are Q %g, and a wider bell is Q %g", n, q, wider)
		}
	})
}

// widthLine is an eq.band.q in octaves.
func widthLine(rest string) string {
	return `[channel]` + "\n" + `eq.band.q = { at = "/{channel}/{band}/w", octaves = true, ` + rest + " }"
}

// oneArgument is what stands on the wire for a value.
func oneArgument(t tb, p *profiles.Profile, path string, v profiles.Value) any {
	t.Helper()
	messages, _, err := tell(p, profiles.Setting{Parameter: parameter(t, path), Value: v})
	if err != nil || len(messages) != 1 || len(messages[0].Arguments) != 1 {
		t.Fatalf("%v is told by %v, %v", v, messages, err)
	}
	return messages[0].Arguments[0]
}

// The grid is 0.25, 0.5, 1, 2, 4 octaves: Q 5.7636, 2.871, 1.4142, 0.6667, 0.2667.
func TestOctavesStandOnTheWireWhereQIsAsked(t *testing.T) {
	const grid = "log = [0.25, 4.0], steps = 5, "
	for _, c := range []struct {
		name, line string
		one, two   any // on the wire at 1 octave and at 2
	}{
		{"along the travel", grid + `as = "float"`, float32(0.5), float32(0.75)},
		{"steps", grid + `as = "int"`, int32(2), int32(3)},
		{"the travel the wrong way round", grid + `as = "int", wire = [100, 0]`, int32(50), int32(25)},
		{"in octaves", grid + `as = "float", wire = "unit"`, float32(1), float32(2)},
		{"in octaves, finer", grid + `as = "double", wire = "unit"`, 1.0, 2.0},
		{"as a text", grid + `as = "text", write = "{} oct", decimals = 2`, "1.00 oct", "2.00 oct"},
		{"a control that falls", `log = [4.0, 0.25], steps = 5, as = "int"`, int32(2), int32(1)},
		{"straight", `linear = [1.0, 3.0], steps = 21, as = "text", write = "{} oct"`, "1.0 oct", "2.0 oct"},
		{"by points", `points = [[0.0, 0.1], [0.5, 1.0], [1.0, 3.0]], steps = 21, wire = "unit"`, float32(1), float32(2)},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := load(t, head+widthLine(c.line))
			got := []any{
				oneArgument(t, p, "channel.1.eq.1.q", profiles.Number(math.Sqrt2)),
				oneArgument(t, p, "channel.1.eq.1.q", profiles.Number(2.0/3)),
			}
			if diff := cmp.Diff([]any{c.one, c.two}, got); diff != "" {
				t.Error(diff)
			}
			for _, back := range []struct {
				argument any
				want     float64
			}{{c.one, 1.414214}, {c.two, 0.666667}} {
				reports := p.Hear(osc.Heard{Message: osc.Message{Address: "/1/1/w", Arguments: []any{back.argument}}})
				if len(reports) != 1 {
					t.Fatalf("%v is heard as %v", back.argument, reports)
				}
				if q, _ := reports[0].Value.Number(); math.Abs(q-back.want) > 1e-5 {
					t.Errorf("%v is heard as Q %g, not %g", back.argument, q, back.want)
				}
			}
		})
	}
}

// Halfway between 1 and 2 octaves on a straight control is 1.5 octaves, which is
// 2^0.75 / (2^1.5 - 1) = 0.91980; on one with equal ratios it is 1.41421 octaves, which
// is 2^0.70711 / (2^1.41421 - 1) = 0.98041. Halfway in Q would be 1.04044.
func TestTheNearestWidthIsMeantInTravelOfTheControl(t *testing.T) {
	for _, c := range []struct {
		line    string
		halfway float64
	}{
		{"linear = [1.0, 3.0], steps = 3", 0.91980},
		{"log = [0.5, 4.0], steps = 4", 0.98041},
	} {
		w := control(t, "channel.1.eq.1.q", widthLine(c.line))
		for q, want := range map[float64]float64{c.halfway + 2e-5: 1.414214, c.halfway - 2e-5: 0.666667} {
			v, err := w.Nearest(profiles.Number(q))
			if n, _ := v.Number(); err != nil || math.Abs(n-want) > 1e-5 {
				t.Errorf("%s: nearest to %g is %g, %v; not %g", c.line, q, n, err, want)
			}
		}
	}
}

func TestAWidthHasTheRangeOfTheDeskInQ(t *testing.T) {
	w := control(t, "channel.1.eq.1.q", widthLine("log = [0.25, 4.0], steps = 5, start = 2.0"))
	if q, _ := w.Start.Number(); math.Abs(q-0.666667) > 1e-5 {
		t.Errorf("it starts at Q %g, not at 2 oct", q)
	}
	low, high := 4.0/15, profiles.QOfOctaves(0.25)
	for _, q := range []float64{low - 0.001, high + 0.001, 0, -1, math.Inf(1), math.Inf(-1)} {
		if _, err := w.Nearest(profiles.Number(q)); err == nil || !strings.HasSuffix(err.Error(), " is out of the desk's range, 0.27 to 5.8") {
			t.Errorf("Q %g: %v", q, err)
		}
	}
	for q, want := range map[float64]float64{9: high, 0.1: low} {
		fits, by := w.Within(profiles.Number(q))
		if n, _ := fits.Number(); math.Abs(n-want) > 1e-5 || math.Abs(by-(want-q)) > 1e-5 {
			t.Errorf("Q %g within the range is %v, moved by %g", q, fits, by)
		}
	}
	if step, err := w.Curve.Step(profiles.Switch(true)); err == nil {
		t.Errorf("a switch falls on step %d", step)
	}
	if says := w.SayOnDesk(profiles.Number(1.4)); says != "1 oct" {
		t.Errorf("the desk shows %q", says)
	}
}

func TestAWidthWithoutAStartIsAsNarrowAsTheDeskHasIt(t *testing.T) {
	for _, line := range []string{"log = [0.25, 4.0], steps = 5", "log = [4.0, 0.25], steps = 5"} {
		if q, _ := control(t, "channel.1.eq.1.q", widthLine(line)).Start.Number(); math.Abs(q-5.76357) > 1e-4 {
			t.Errorf("%s starts at Q %g", line, q)
		}
	}
}

func TestAFixedWidthIsWrittenInOctaves(t *testing.T) {
	w := control(t, "channel.1.eq.2.q", "[channel]\neq.2.q = { fixed = 2.0, octaves = true }")
	if q, _ := w.Start.Number(); math.Abs(q-0.666667) > 1e-5 {
		t.Errorf("it is fixed at Q %g", q)
	}
	if says := w.SayOnDesk(w.Start); says != "2 oct" {
		t.Errorf("the desk shows %q", says)
	}
}

func TestANamedCurveMayBeInOctavesForOneAndInQForAnother(t *testing.T) {
	p := load(t, head+"[curves]\nx = { log = [0.5, 4.0], steps = 4 }\n[channel]\n"+
		"eq.band.q = { at = \"/{channel}/{band}/w\", curve = \"x\", octaves = true, wire = \"unit\" }\n"+
		"[main]\neq.band.q = { at = \"/{band}/q\", curve = \"x\", wire = \"unit\" }\n")
	if got := oneArgument(t, p, "channel.1.eq.1.q", profiles.Number(2.0/3)); got != float32(2) {
		t.Errorf("Q 0.667 is %v octaves on the wire", got)
	}
	if got := oneArgument(t, p, "main.eq.1.q", profiles.Number(2)); got != float32(2) {
		t.Errorf("Q 2 is %v on the wire", got)
	}
}

func TestAFaultInAWidthHasItsLine(t *testing.T) {
	const line = "[channel]\n"
	for says, want := range map[string]string{
		line + `fader = { at = "/{channel}", linear = [0.5, 2.0], steps = 4, octaves = true }`:                              "13: octaves: only eq.band.q, the width of a bell, is counted in octaves, and this is fader",
		line + `mute = { at = "/{channel}", octaves = true }`:                                                               "13: octaves: only eq.band.q, the width of a bell, is counted in octaves, and this is mute",
		line + `eq.1.gain = { at = "/{channel}", linear = [0.5, 2.0], steps = 4, octaves = true }`:                          "13: octaves: only eq.band.q, the width of a bell, is counted in octaves, and this is eq.band.gain",
		line + `eq.1.q = { at = "/{channel}", linear = [0.5, 2.0], steps = 4, octaves = false }`:                            "13: octaves = false says nothing: leave it out",
		line + `eq.1.q = { at = "/{channel}", linear = [0.5, 2.0], steps = 4, octaves = "yes" }`:                            `13: "octaves" should be true or false, but it is the text "yes"`,
		line + `eq.1.q = { at = "/{channel}", linear = [0.5, 2.0], steps = 4, octave = true }`:                              `13: unknown key "octave": did you mean "octaves"?`,
		line + `eq.1.q = { at = "/{channel}", linear = [0.0, 2.0], steps = 4, octaves = true }`:                             "13: eq.band.q from 0 oct to 2 oct: a range that can't be: expected 0.00721 oct to 8.65 oct",
		line + `eq.1.q = { at = "/{channel}", linear = [-2.0, 2.0], steps = 5, octaves = true }`:                            "13: eq.band.q from -2 oct to 2 oct: a range that can't be: expected 0.00721 oct to 8.65 oct",
		line + `eq.1.q = { at = "/{channel}", log = [0.1, 10.0], steps = 5, octaves = true }`:                               "13: eq.band.q from 0.1 oct to 10 oct: a range that can't be: expected 0.00721 oct to 8.65 oct",
		line + `eq.1.q = { at = "/{channel}", log = [0.1, 1.0], steps = 5, silence = true, octaves = true }`:                "13: eq.band.q from -inf oct to 1 oct: a range that can't be: expected 0.00721 oct to 8.65 oct",
		line + `eq.1.q = { at = "/{channel}", log = [0.1, 1.0], steps = 5, octaves = true, start = 1.4 }`:                   "13: start: 1.4 oct is out of the desk's range, 0.1 oct to 1 oct",
		line + `eq.1.q = { fixed = 0, octaves = true }`:                                                                     "13: fixed: 0 oct can't be meant: expected 0.00721 oct to 8.65 oct",
		line + `eq.1.q = { fixed = true, octaves = true }`:                                                                  "13: fixed: on is not a number",
		line + `eq.1.q = { at = "/{channel}", linear = [0.1, 3.0], steps = 59, octaves = true, as = "text", decimals = 1 }`: "13: step 1 of 59, 0.15 oct, can't be told from its neighbour on the wire: give it more decimals, or fewer steps",
		"[curves]\nx = { log = [0.1, 1.0], steps = 5, octaves = true }\n" + line + `mute = { at = "/{channel}" }`:           `13: unknown key "octaves"`,
	} {
		_, err := profiles.Load("small.toml", []byte(head+says))
		var faults source.Faults
		if !errors.As(err, &faults) || len(faults) != 1 || !strings.HasPrefix(faults[0].Error(), "small.toml:"+want) {
			t.Errorf("%s: %v\nnot %s", says, err, want)
		}
	}
}

// TestEveryStepOfAWidthSurvivesValueWireAndFile holds made-up grids in octaves against
// what holds for all grids, and each of their values against its formula.
func TestEveryStepOfAWidthSurvivesValueWireAndFile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(0.01, 1).Draw(t, "from")
		high := low * rapid.Float64Range(1.5, 8).Draw(t, "times")
		steps := rapid.IntRange(2, 300).Draw(t, "steps")
		shape := rapid.SampledFrom([]string{"log = [%v, %v]", "linear = [%v, %v]", "power = [%v, %v, 2.0]", "points = [[0.0, %v], [1.0, %v]]"}).Draw(t, "shape")
		from, to := low, high
		if rapid.Bool().Draw(t, "falling") {
			from, to = high, low
		}
		form := rapid.SampledFrom([]string{`as = "float"`, `as = "int"`, `as = "double", wire = "unit"`, `as = "text", decimals = 6, write = "{} oct"`}).Draw(t, "form")
		text := fmt.Sprintf(shape, source.FormatNumber(from), source.FormatNumber(to)) + fmt.Sprintf(", steps = %d, %s", steps, form)
		p, err := profiles.Load("small.toml", []byte(head+widthLine(text)))
		if err != nil {
			t.Skip(err) // finer than six decimals show
		}
		q := parameter(t, "channel.1.eq.1.q")
		checkGrid(t, p, q)
		c, _ := p.Control(q)
		first, _ := c.Curve.At(0).Number()
		if want := profiles.QOfOctaves(from); math.Abs(first/want-1) > 1e-5 {
			t.Fatalf("the first step, %g octaves, is Q %g, not %g", from, first, want)
		}
		if strings.Contains(form, `"double"`) {
			for step := range steps {
				v := c.Curve.At(step)
				octaves := oneArgument(t, p, "channel.1.eq.1.q", v).(float64)
				if n, _ := v.Number(); math.Abs(math.Exp2(octaves/2)/(math.Exp2(octaves)-1)/n-1) > 1e-4 {
					t.Fatalf("step %d is Q %g and %g octaves on the wire", step, n, octaves)
				}
			}
		}
	})
}
