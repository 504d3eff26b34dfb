package profiles_test

import (
	"fmt"
	"maps"
	"strings"
	"testing"

	"deskhand/osc"
	"deskhand/profiles"

	"pgregory.net/rapid"
)

// checkGrid holds a control's whole grid against what design and users rely on: steps
// in order, and each the same after a value, a file and the wire.
func checkGrid(t tb, p *profiles.Profile, q profiles.Parameter) {
	t.Helper()
	c, _ := p.Control(q)
	rising, before := 0, 0.0
	for step := range c.Curve.Steps() {
		v := c.Curve.At(step)
		if back, err := c.Curve.Step(v); err != nil || back != step {
			t.Fatalf("%s: step %d is worth %v, which falls on step %d, %v", q, step, v, back, err)
		}
		if n, ok := v.Number(); ok && step > 0 {
			direction := 1
			if n < before {
				direction = -1
			}
			if n == before || rising != 0 && direction != rising {
				t.Fatalf("%s: step %d is worth %v after %v: not monotone", q, step, n, before)
			}
			rising = direction
		}
		before, _ = v.Number()
		if tidy, err := c.Curve.Step(c.Tidy(v)); err != nil || tidy != step {
			t.Fatalf("%s: step %d is tidied from %v to %v, which falls on step %d, %v", q, step, v, c.Tidy(v), tidy, err)
		}
		if fits, moved := c.Within(v); fits != v || moved != 0 {
			t.Fatalf("%s: step %d is worth %v, which Within moves by %v", q, step, v, moved)
		}
		checkWire(t, p, profiles.Setting{Parameter: q, Value: v})
	}
}

// checkWire sends a value on the desk's grid there and back, through packets. What goes
// with it in one message must stay as the desk holds it.
func checkWire(t tb, p *profiles.Profile, s profiles.Setting) {
	t.Helper()
	c, _ := p.Control(s.Parameter)
	holds := func(q profiles.Parameter) (profiles.Value, bool) {
		c, ok := p.Control(q)
		if !ok {
			return profiles.Value{}, false
		}
		return c.Start, true
	}
	tellings, err := p.Tell([]profiles.Setting{s}, holds)
	if reach := c.Reach(); reach == profiles.ByHand || reach == profiles.Fixed {
		if err == nil {
			t.Fatalf("%s: OSC does not reach it, and yet it is told by %v", s.Parameter, tellings)
		}
		return
	}
	if err != nil || len(tellings) != 1 || len(tellings[0].Settings) != 1 || tellings[0].Settings[0] != s {
		t.Fatalf("%s: Tell(%v) would leave %v, %v", s.Parameter, s.Value, tellings, err)
	}
	want := map[profiles.Parameter]profiles.Value{s.Parameter: s.Value}
	for _, q := range p.Beside(s.Parameter) {
		want[q], _ = holds(q)
	}
	told := make(map[profiles.Parameter]profiles.Value)
	for _, got := range p.Told(overTheWire(t, tellings[0].Message)) {
		told[got.Parameter] = got.Value
	}
	if !maps.Equal(want, told) {
		t.Fatalf("%s: the desk was told %v by %s and took %v", s.Parameter, want, tellings[0].Message, told)
	}
	answer, err := p.Answer(s.Parameter, func(q profiles.Parameter) (profiles.Value, bool) { v, ok := want[q]; return v, ok })
	if err != nil {
		t.Fatalf("%s: the desk can't answer %v: %v", s.Parameter, s.Value, err)
	}
	heard := make(map[profiles.Parameter]profiles.Value)
	for _, got := range p.Hear(overTheWire(t, answer)) {
		heard[got.Key] = got.Value
	}
	if !maps.Equal(want, heard) {
		t.Fatalf("%s: the desk answered %s for %v and was heard as %v", s.Parameter, answer, want, heard)
	}
}

// overTheWire gives a message as it arrives.
func overTheWire(t tb, m osc.Message) osc.Heard {
	t.Helper()
	packet, err := m.Encode()
	if err != nil {
		t.Fatalf("%v", err)
	}
	heard, err := osc.Decode(packet)
	if err != nil || len(heard) != 1 {
		t.Fatalf("%s arrived as %v, %v", m.Address, heard, err)
	}
	return heard[0]
}

func TestEveryStepOfEveryShippedProfileSurvivesValueWireAndFile(t *testing.T) {
	for _, p := range every(t) {
		seen := make(map[*profiles.Control]bool) // members of a family share their control
		for _, q := range p.Parameters() {
			c, _ := p.Control(q)
			if !seen[c] {
				seen[c] = true
				checkGrid(t, p, q)
			}
		}
	}
}

func TestEveryParameterOfEveryShippedProfileGoesOverTheWireAndBack(t *testing.T) {
	for _, p := range every(t) {
		for i, q := range p.Parameters() {
			c, _ := p.Control(q)
			v := profiles.Word(fmt.Sprintf("no. %d", i%1000))
			if steps := c.Curve.Steps(); steps > 0 {
				v = c.Curve.At(i % steps)
			}
			checkWire(t, p, profiles.Setting{Parameter: q, Value: v})
			checkWire(t, p, profiles.Setting{Parameter: q, Value: c.Start})
		}
	}
}

// aCurve draws the keys that give a parameter of a profile a numeric curve.
func aCurve(t *rapid.T) string {
	from := float64(rapid.IntRange(-100_000, 100_000).Draw(t, "from")) / 100
	to := from + float64(rapid.IntRange(100, 1_000_000).Draw(t, "range"))/100
	steps := rapid.OneOf(rapid.IntRange(3, 12), rapid.IntRange(3, 1500)).Draw(t, "steps")
	falling := rapid.Bool().Draw(t, "falling")
	if falling {
		from, to = to, from
	}
	curve := ""
	switch rapid.SampledFrom([]string{"linear", "log", "power", "points", "from silence"}).Draw(t, "shape") {
	case "linear":
		curve = fmt.Sprintf("linear = [%f, %f]", from, to)
	case "log":
		low := 1200 + min(from, to) // -1000 at the least
		high := low + max(from, to) - min(from, to)
		if falling {
			low, high = high, low
		}
		curve = fmt.Sprintf("log = [%f, %f]", low, high)
	case "power":
		curve = fmt.Sprintf("power = [%f, %f, %f]", from, to, rapid.Float64Range(0.4, 2.5).Draw(t, "exponent"))
	case "points":
		curve = points(t, from, to, falling)
	case "from silence":
		return fmt.Sprintf("points = [[0, -inf], [0.25, %f], [1, %f]], steps = %d", min(from, to), max(from, to), steps)
	}
	curve += fmt.Sprintf(", steps = %d", steps)
	if !falling && rapid.Bool().Draw(t, "silence") {
		curve += ", silence = true"
	}
	return curve
}

// points draws a table with a point between the ends for each of some tenths.
func points(t *rapid.T, from, to float64, falling bool) string {
	list := []string{fmt.Sprintf("[0, %f]", from)}
	value := from
	for tenth := 1; tenth < 10; tenth++ {
		if !rapid.Bool().Draw(t, "point") {
			continue
		}
		value += (to - value) * rapid.Float64Range(0.1, 0.9).Draw(t, "way")
		list = append(list, fmt.Sprintf("[0.%d, %.9f]", tenth, value))
	}
	return "points = [" + strings.Join(append(list, fmt.Sprintf("[1, %f]", to)), ", ") + "]"
}

// aWire draws how the positions of a control stand on the wire.
func aWire(t *rapid.T) string {
	return rapid.SampledFrom([]string{
		"", ", wire = [1, 0]", ", wire = [-1, 1]", ", wire = [0, 127]", `, as = "int"`,
		`, as = "int", wire = [0, 2147483647]`, `, as = "int", wire = [1500, 0]`, `, as = "int", wire = [-32768, 32767]`,
	}).Draw(t, "wire")
}

func TestEveryStepOfAnyCurveSurvivesValueWireAndFile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := load(t, head+"[channel]\n"+`own = { label = "own", unit = "dB", at = "/f/{channel}", `+aCurve(t)+aWire(t)+" }")
		checkGrid(t, p, parameter(t, "channel.2.own"))
	})
}

func TestTheNearestStepIsItsOwnNearest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := control(t, "channel.1.own", "[channel]",
			`own = { label = "own", unit = "dB", at = "/f/{channel}", `+aCurve(t)+aWire(t)+" }")
		last := c.Curve.Steps() - 1
		low, _ := c.Curve.At(1).Number() // step 0 may be silence
		high, _ := c.Curve.At(last).Number()
		v := profiles.Number(low + (high-low)*rapid.Float64Range(0, 1).Draw(t, "where"))
		held, err := c.Nearest(v)
		if err != nil {
			t.Fatalf("%v is within the range, and yet %v", v, err)
		}
		again, err := c.Nearest(held)
		if err != nil || again != held || !c.Same(v, held) {
			t.Fatalf("%v becomes %v, then %v, %v", v, held, again, err)
		}
		tidy, err := c.Nearest(c.Tidy(v))
		if err != nil || tidy != held {
			t.Fatalf("%v is tidied to %v, which becomes %v, %v instead of %v", v, c.Tidy(v), tidy, err, held)
		}
		checkNeighbours(t, c, v)
	})
}

// checkNeighbours sees to it that a value falls on one of the two steps around it.
func checkNeighbours(t tb, c *profiles.Control, v profiles.Value) {
	t.Helper()
	n, _ := v.Number()
	step, _ := c.Curve.Step(v)
	at, _ := c.Curve.At(step).Number()
	for _, other := range []int{step - 1, step + 1} {
		if other < 0 || other >= c.Curve.Steps() {
			continue
		}
		beside, _ := c.Curve.At(other).Number()
		if between := (at-beside)*(n-beside) < 0; between {
			t.Fatalf("%v falls on step %d at %v, though step %d at %v lies between", n, step, at, other, beside)
		}
	}
}

func TestAValueFromOutsideIsMovedWithinAndThenTaken(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := control(t, "channel.1.own", "[channel]",
			`own = { label = "own", unit = "dB", at = "/f/{channel}", `+aCurve(t)+" }")
		v := profiles.Number(rapid.Float64().Draw(t, "value"))
		fits, moved := c.Within(v)
		if _, err := c.Nearest(fits); err != nil {
			t.Fatalf("%v was moved by %v to %v: %v", v, moved, fits, err)
		}
		if _, err := c.Nearest(v); (err == nil) != (moved == 0) {
			t.Fatalf("%v was moved by %v, though the desk says of it: %v", v, moved, err)
		}
	})
}

func TestAnyTextSurvivesTheWireAsTheDeskHoldsIt(t *testing.T) {
	c := quayControl(t, "channel.1.label")
	p, q := quay(t), parameter(t, "channel.1.label")
	rapid.Check(t, func(t *rapid.T) {
		v := profiles.Word(rapid.String().Draw(t, "text"))
		held, err := c.Nearest(v)
		if err != nil {
			return // it holds a control character
		}
		if word, _ := held.Word(); len(word) > 12 {
			t.Fatalf("%v is %d bytes", held, len(word))
		}
		checkWire(t, p, profiles.Setting{Parameter: q, Value: held})
		// A desk cuts what is too long for it just as it was cut here.
		word, _ := v.Word()
		told := p.Told(osc.Heard{Message: osc.Message{Address: p.Address(q), Arguments: []any{word}}})
		if len(told) != 1 || told[0].Value != held {
			t.Fatalf("the desk makes %v of %v, not %v", told, v, held)
		}
	})
}
