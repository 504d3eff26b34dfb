package profiles

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"deskhand/profiles/source"
)

// control reads the grid and the wire form of a parameter. It returns nil after a
// fault.
func (l *loader) control(spec Spec, t *source.Table) *Control {
	c := &Control{Spec: spec, Curve: l.curve(spec, t)}
	someTime(t, "settle", &c.Settle)
	if c.Curve == nil || !readForm(t, c) || !readStart(t, c) {
		return nil
	}
	return c
}

// curve reads the grid of a parameter, or gives nil after a fault.
func (l *loader) curve(spec Spec, t *source.Table) Curve {
	switch spec.Kind {
	case Toggle:
		return toggle{}
	case Text:
		return readText(t)
	case Choice:
		return readChoice(spec, t)
	}
	c, ok := l.scale(t)
	if !ok {
		return nil
	}
	if err := checkBounds(spec, c); err != nil {
		t.Fault("", "%s", err)
		return nil
	}
	c.unit = spec.Unit
	return c
}

// maxTextLength bounds what a desk may hold as one text, in bytes.
const maxTextLength = 1024

func readText(t *source.Table) Curve {
	limit, ok := t.Integer("text")
	switch {
	case !t.Has("text"):
		t.Fault("", "how long a text does the desk hold? write text = ..., in bytes")
	case ok && (limit < 1 || limit > maxTextLength):
		t.Fault("text", "text = %d: write a number of bytes from 1 to %d", limit, maxTextLength)
	case ok:
		return text(limit)
	}
	return nil
}

// maxChoices bounds a list of choices; no desk lists as many.
const maxChoices = 256

func readChoice(spec Spec, t *source.Table) Curve {
	words, ok := t.Texts("choice")
	if !ok {
		if !t.Has("choice") {
			t.Fault("", `the desk's choices are missing: write choice = ["...", "..."], in the desk's order`)
		}
		return nil
	}
	if len(words) < 2 || len(words) > maxChoices {
		t.Fault("choice", "%d choices: write 2 to %d of them", len(words), maxChoices)
		return nil
	}
	for i, word := range words {
		switch {
		case word == "":
			t.Fault("choice", "choice %d is empty: write a word", i+1)
		case slices.Contains(words[:i], word):
			t.Fault("choice", "the choice %q stands twice", word)
		case len(spec.Words) > 0 && !slices.Contains(spec.Words, word):
			t.Fault("choice", "%q is no choice for %s%s", word, spec.Name, source.DidYouMean(word, spec.Words))
		default:
			continue
		}
		return nil
	}
	return choice(words)
}

// readForm reads how a parameter's positions stand on the wire: numeric curves as a
// float from 0 to 1, switches and choices as an integer counted from 0, unless the
// profile says otherwise.
func readForm(t *source.Table, c *Control) bool {
	if _, isText := c.Curve.(text); isText {
		return true // on the wire as it is
	}
	integer, ok := readAs(t, c)
	if !ok {
		return false
	}
	c.form = form{integer: integer, low: 0, high: 1}
	if integer {
		c.form.high = float64(c.Curve.Steps() - 1)
	}
	if !t.Has("wire") {
		return true
	}
	ends, ok := t.Numbers("wire")
	if !ok {
		return false
	}
	if err := checkWire(ends, c.Curve.Steps(), integer); err != nil {
		t.Fault("wire", "wire = %s: a range that can't be: %s", sayList(ends), err)
		return false
	}
	c.form.low, c.form.high = ends[0], ends[1]
	return true
}

// readAs reads whether a parameter is an integer on the wire, or a float.
func readAs(t *source.Table, c *Control) (integer, ok bool) {
	_, isScale := c.Curve.(scale)
	if !t.Has("as") {
		return !isScale, true
	}
	as, ok := t.Text("as")
	if ok && as != "int" && as != "float" {
		t.Fault("as", "as = %q: there is none such%s", as, source.DidYouMean(as, []string{"int", "float"}))
		return false, false
	}
	return as == "int", ok
}

// checkWire sees to it that each step has a number of its own on the wire.
func checkWire(ends []float64, steps int, integer bool) error {
	if len(ends) != 2 || ends[0] == ends[1] {
		return errors.New("give two different numbers, those at the two ends of the control")
	}
	low, high := ends[0], ends[1]
	largest := max(math.Abs(low), math.Abs(high))
	apart := math.Abs(high-low) / float64(steps-1)
	switch {
	case largest > math.MaxInt32:
		return fmt.Errorf("give numbers within %d of 0", math.MaxInt32)
	case integer && (low != math.Trunc(low) || high != math.Trunc(high)):
		return errors.New(`give whole numbers, or write as = "float"`)
	case integer && apart < 1:
		return fmt.Errorf("there are fewer whole numbers than the control has steps, %d", steps)
	// A float32 is rounded to 24 bits: its error is at most a quarter of a step here.
	case !integer && apart < largest*0x1p-22:
		return fmt.Errorf("a float32 can't tell the control's %d steps apart there", steps)
	}
	return nil
}

func sayList(numbers []float64) string {
	words := make([]string, len(numbers))
	for i, n := range numbers {
		words[i] = source.FormatNumber(n)
	}
	return "[" + strings.Join(words, ", ") + "]"
}

// readStart reads what the desk holds when it is switched on. Unless the profile
// says otherwise that is silence, 0, off, the first choice or no text.
func readStart(t *source.Table, c *Control) bool {
	if !t.Has("start") {
		c.Start = quietest(c)
		return true
	}
	raw, _ := t.Value("start") // a table is nil, which is no value
	v, err := ValueOf(raw)
	if err == nil {
		c.Start, err = c.Nearest(v)
	}
	if err != nil {
		t.Fault("start", "start: %s", err)
		return false
	}
	return true
}

func quietest(c *Control) Value {
	s, ok := c.Curve.(scale)
	if !ok {
		return c.Curve.At(0)
	}
	low, high := s.bounds()
	if math.IsInf(low, -1) {
		return Silence
	}
	v, _ := c.Nearest(Number(min(max(0, low), high)))
	return v
}
