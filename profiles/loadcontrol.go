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
	c := &Control{Spec: spec, Bank: 1}
	if t.Has("octaves") && !readOctaves(t, c) {
		return nil
	}
	if t.Has("fixed") {
		return readFixed(t, c)
	}
	c.Curve = l.curve(c, t)
	someTime(t, "settle", &c.Settle)
	if asked, ok := t.Bool("asked"); ok && !asked {
		c.reach = TellOnly
	} else if ok {
		t.Fault("asked", "asked = true says nothing: leave it out")
		return nil
	}
	if c.Curve == nil || !readHand(t, c) || !l.form(t, c) || !readStart(t, c) {
		return nil
	}
	return c
}

// readFixed reads a parameter that can't be moved.
func readFixed(t *source.Table, c *Control) *Control {
	raw, _ := t.Value("fixed")
	v, err := ValueOf(raw)
	if err == nil {
		v, err = c.written(v)
	}
	if err == nil {
		err = fits(c.Spec, v)
	}
	if err != nil {
		t.Fault("fixed", "fixed: %s", err)
		return nil
	}
	c.Curve, c.Start, c.reach = fixed{v}, v, Fixed
	return c
}

// fits holds a value against what the trade means by a parameter.
func fits(spec Spec, v Value) error {
	n, isNumber := v.Number()
	_, isSwitch := v.On()
	word, isWord := v.Word()
	switch spec.Kind {
	case Toggle:
		if !isSwitch {
			return fmt.Errorf("%s is not a switch: write true or false", v)
		}
	case Text, Choice:
		if !isWord || (len(spec.Words) > 0 && !slices.Contains(spec.Words, word)) {
			return fmt.Errorf("%s is no choice for %s%s", v, spec.Name, source.DidYouMean(word, spec.Words))
		}
	default:
		if !isNumber {
			return fmt.Errorf("%s is not a number", v)
		}
		if !spec.Allows(n) {
			return fmt.Errorf("%s can't be meant: expected %s", spec.Say(v), spec.SayBounds())
		}
	}
	return nil
}

// readHand reads what a hand does for a parameter that OSC doesn't reach.
func readHand(t *source.Table, c *Control) bool {
	if !t.Has("by-hand") {
		return true
	}
	hand, ok := t.Text("by-hand")
	if ok && hand == "" {
		t.Fault("by-hand", `by-hand is empty: write what a hand has to do, as "turn the gain knob"`)
		return false
	}
	if bank, given := t.Integer("bank"); given {
		if bank < 1 || bank > maxAddresses {
			t.Fault("bank", "bank = %d: write how many channels in a row the switch is for", bank)
			return false
		}
		c.Bank = bank
	}
	c.Hand, c.reach = hand, ByHand
	return ok
}

// curve reads the grid of a parameter, or gives nil after a fault.
func (l *loader) curve(of *Control, t *source.Table) Curve {
	spec := of.Spec
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
	if of.InOctaves {
		return l.width(spec, t, c)
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
// says otherwise that is silence, what is nearest to 0, off, the first choice or no text.
func readStart(t *source.Table, c *Control) bool {
	if !t.Has("start") {
		c.Start = quietest(c)
		return true
	}
	raw, _ := t.Value("start") // a table is nil, which is no value
	v, err := ValueOf(raw)
	if err == nil {
		v, err = c.written(v)
	}
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
	n, ok := c.Curve.(numeric)
	if !ok {
		return c.Curve.At(0)
	}
	low, high := n.own().bounds()
	if math.IsInf(low, -1) {
		return Silence
	}
	step, _ := n.own().Step(Number(min(max(0, low), high)))
	return n.At(step)
}
