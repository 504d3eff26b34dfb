package profiles

import (
	"fmt"

	"deskhand/profiles/source"
)

// octaveUnit is the unit of what a desk counts in octaves.
const octaveUnit Unit = "oct"

// widthName is the one parameter that a desk may count in octaves.
const widthName = "eq.band.q"

// readOctaves reads whether the desk counts a width in octaves.
func readOctaves(t *source.Table, c *Control) bool {
	octaves, ok := t.Bool("octaves")
	switch {
	case !ok:
		return false
	case c.Spec.Name != widthName:
		t.Fault("octaves", "octaves: only %s, the width of a bell, is counted in octaves, and this is %s", widthName, c.Spec.Name)
		return false
	case !octaves:
		t.Fault("octaves", "octaves = false says nothing: leave it out")
		return false
	}
	c.InOctaves = true
	return true
}

// width makes a scale in octaves into a curve of Q, or gives nil after a fault.
func (l *loader) width(spec Spec, t *source.Table, c scale) Curve {
	c.unit = octaveUnit
	low, high := c.bounds()
	if err := checkOctaves(spec, low, high); err != nil {
		t.Fault("", "%s from %s to %s: a range that can't be: %s", widthName, sayNumber(low, octaveUnit, 0), sayNumber(high, octaveUnit, 0), err)
		return nil
	}
	w := newWidth(c)
	if !l.leadsBack(t, w) {
		t.Fault("octaves", "the widths can't be told apart as Q: that is too many steps for such a curve")
		return nil
	}
	return w
}

// checkOctaves holds widths against what any desk could mean.
func checkOctaves(spec Spec, low, high float64) error {
	narrowest, widest := OctavesOfQ(spec.Highest), OctavesOfQ(spec.Lowest)
	if low < narrowest || high > widest {
		return fmt.Errorf("expected %s to %s", sayNumber(narrowest, octaveUnit, 0), sayNumber(widest, octaveUnit, 0))
	}
	return nil
}

// leadsBack reports whether each step of a width leads to itself. A named curve is
// looked at once, however many use it.
func (l *loader) leadsBack(t *source.Table, w width) bool {
	name, named := t.Value("curve")
	seen := fmt.Sprintf("octaves %v", name)
	if leads, known := l.apart[seen]; known && named {
		return leads
	}
	leads := true
	for step := 0; step < w.Steps() && leads; step++ {
		back, err := w.Step(w.At(step))
		leads = err == nil && back == step
	}
	l.apart[seen] = leads
	return leads
}

// written gives the value that the profile means by one of its own: Q for what the desk
// counts in octaves.
func (c *Control) written(v Value) (Value, error) {
	n, isNumber := v.Number()
	if !c.InOctaves || !isNumber {
		return v, nil
	}
	if w, ok := c.Curve.(width); ok {
		step, err := w.octaves.Step(v)
		return w.At(step), err
	}
	if err := checkOctaves(c.Spec, n, n); err != nil {
		return Value{}, fmt.Errorf("%s can't be meant: %w", sayNumber(n, octaveUnit, 0), err)
	}
	q := QOfOctaves(n)
	return Number(decimal(q, q)), nil
}

// SayOnDesk gives v as the desk itself shows it: as the trade says it, but the width of
// a bell in octaves where the desk counts those: "0.7 oct".
func (c *Control) SayOnDesk(v Value) string {
	q, isNumber := v.Number()
	if !c.InOctaves || !isNumber || q <= 0 {
		return c.Spec.Say(v)
	}
	if w, ok := c.Curve.(width); ok {
		if step, err := w.Step(v); err == nil {
			return w.octaves.sayStep(step)
		}
	}
	return sayNumber(OctavesOfQ(q), octaveUnit, 0)
}

// sayStep says what a step is worth.
func (s scale) sayStep(step int) string {
	n, _ := s.At(step).Number()
	return sayNumber(n, s.unit, 0)
}
