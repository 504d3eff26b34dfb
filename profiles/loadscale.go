package profiles

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"deskhand/profiles/source"
)

// The limits of curves. They bound the work of checking each step of a profile.
const (
	// maxSteps bounds a grid: a float32 between 0 and 1 tells so many apart with ease.
	maxSteps = 1 << 16
	// maxStepsInAll bounds the grids of a profile together. Parameters that share a
	// named curve count once.
	maxStepsInAll = 1 << 20
	// maxPoints bounds a table of points.
	maxPoints = 2000
	// maxNumber bounds what a curve may reach, far from where floats overflow.
	maxNumber = 1e9
)

// numericShapes are the keys that give a numeric curve its shape.
var numericShapes = []string{"linear", "log", "power", "points", "curve"}

// namedCurves reads [curves], which parameters name with curve = "...".
func (l *loader) namedCurves() {
	t, ok := l.root.Table("curves")
	if !ok {
		return
	}
	for _, name := range t.Keys() {
		inner, ok := t.Table(name)
		if !ok {
			continue
		}
		curve, ok := l.readScale(inner)
		if !ok {
			curve = scale{}
		}
		l.curves[name] = curve
	}
}

// scale reads a parameter's numeric curve: its own, or a named one.
func (l *loader) scale(t *source.Table) (scale, bool) {
	if !t.Has("curve") {
		return l.readScale(t)
	}
	name, ok := t.Text("curve")
	if !ok {
		return scale{}, false
	}
	for _, key := range []string{"linear", "log", "power", "points", "steps", "silence"} {
		if t.Has(key) {
			t.Fault(key, "%s: the curve %q says that already", key, name)
			return scale{}, false
		}
	}
	curve, ok := l.curves[name]
	if !ok {
		t.Fault("curve", "curve %q: there is none such in [curves]%s", name, source.DidYouMean(name, slices.Sorted(maps.Keys(l.curves))))
	}
	return curve, ok && curve.shape != nil
}

// readScale reads a numeric curve out of a parameter or a named curve.
func (l *loader) readScale(t *source.Table) (scale, bool) {
	given := slices.DeleteFunc(slices.Clone(numericShapes), func(k string) bool { return k == "curve" || !t.Has(k) })
	if len(given) != 1 {
		if len(given) == 0 {
			t.Fault("", "the curve is missing: write one of linear, log, power, points, or the name of a curve")
		} else {
			t.Fault(given[1], "%s: there is one curve already, %s", given[1], given[0])
		}
		alreadyFaulty(t)
		return scale{}, false
	}
	var c scale
	var okShape, okSteps bool
	c.shape, okShape = readShape(t, given[0])
	c.steps, okSteps = l.readSteps(t)
	c.silence, _ = t.Bool("silence")
	if !okShape || !okSteps {
		return scale{}, false
	}
	if err := checkSilence(c); err != nil {
		t.Fault("silence", "%s", err)
		return scale{}, false
	}
	c = c.laidOut()
	if err := c.check(); err != nil {
		t.Fault(given[0], "the curve isn't monotone on the desk's grid: %s", err)
		return scale{}, false
	}
	return c, true
}

func (l *loader) readSteps(t *source.Table) (int, bool) {
	steps, ok := t.Integer("steps")
	if !ok {
		if !t.Has("steps") {
			t.Fault("", "steps is missing: write how many steps the desk's control has, steps = ...")
		}
		return 0, false
	}
	if steps < 2 || steps > maxSteps {
		t.Fault("steps", "steps = %d: write a number from 2 to %d", steps, maxSteps)
		return 0, false
	}
	before := l.steps
	l.steps += steps
	if before <= maxStepsInAll && l.steps > maxStepsInAll { // told once
		t.Fault("steps", "with this curve the profile has %d steps: at most %d are allowed; name a curve in [curves] once and share it", l.steps, maxStepsInAll)
	}
	return steps, l.steps <= maxStepsInAll
}

func checkSilence(c scale) error {
	if !c.silence {
		return nil
	}
	low, high := c.ends()
	switch {
	case math.IsInf(low, -1):
		return errors.New("silence: the points begin at -inf already")
	case low > high:
		return errors.New("silence: the curve isn't monotone, since it falls from its first step on and silence comes before that")
	case c.steps == 2:
		return errors.New("silence: with silence at the bottom, a control has at least 3 steps")
	}
	return nil
}

// readShape reads the shape under one of its keys.
func readShape(t *source.Table, kind string) (shape, bool) {
	if kind == "points" {
		return readPoints(t)
	}
	numbers, ok := t.Numbers(kind)
	if !ok {
		return nil, false
	}
	want, form := 2, "[from, to]"
	if kind == "power" {
		want, form = 3, "[from, to, exponent]"
	}
	if len(numbers) != want {
		t.Fault(kind, "%s takes %d numbers, %s = %s, not %d", kind, want, kind, form, len(numbers))
		return nil, false
	}
	from, to := numbers[0], numbers[1]
	fail := func(why string) (shape, bool) {
		t.Fault(kind, "%s from %s to %s: a range that can't be: %s", kind, source.FormatNumber(from), source.FormatNumber(to), why)
		return nil, false
	}
	switch {
	case from == to:
		return fail("the ends must be two different numbers")
	case beyondReason(from) || beyondReason(to):
		return fail("the ends must lie within a thousand million of 0")
	case kind == "linear":
		return linear{from, to}, true
	case kind == "log" && (from <= 0 || to <= 0):
		return fail("both ends must be above 0")
	case kind == "log":
		return logarithmic{from, to}, true
	}
	exponent := numbers[2]
	if exponent < 0.01 || exponent > 100 {
		t.Fault(kind, "power with exponent %s: write one from 0.01 to 100", source.FormatNumber(exponent))
		return nil, false
	}
	return power{from, to, exponent}, true
}

// beyondReason finds infinite numbers too.
func beyondReason(n float64) bool { return math.Abs(n) > maxNumber }

// readPoints reads a table of points [[position, value], ...].
func readPoints(t *source.Table) (shape, bool) {
	list, ok := t.List("points")
	if !ok {
		return nil, false
	}
	if len(list) < 2 || len(list) > maxPoints {
		t.Fault("points", "%d points: write 2 to %d of them, [[position, value], ...]", len(list), maxPoints)
		return nil, false
	}
	points := make(table, len(list))
	for i, item := range list {
		if points[i], ok = readPoint(item); !ok {
			t.Fault("points", "point %d: write it as [position, value], two numbers", i+1)
			return nil, false
		}
	}
	if err := checkPoints(points); err != nil {
		t.Fault("points", "%s", err)
		return nil, false
	}
	return points, true
}

func readPoint(item any) (point, bool) {
	pair, ok := item.([]any)
	if !ok || len(pair) != 2 {
		return point{}, false
	}
	var numbers [2]float64
	for i, v := range pair {
		value, err := ValueOf(v)
		n, isNumber := value.Number()
		if err != nil || !isNumber {
			return point{}, false
		}
		numbers[i] = n
	}
	return point{position: numbers[0], value: numbers[1]}, true
}

func checkPoints(points table) error {
	from, to := points.ends()
	if first, last := points[0].position, points[len(points)-1].position; first != 0 || last != 1 {
		return fmt.Errorf("the points run from position %s to %s: the first must be at position 0 and the last at 1",
			source.FormatNumber(first), source.FormatNumber(last))
	}
	for i, p := range points {
		if beyondReason(p.value) && !(i == 0 && math.IsInf(p.value, -1)) {
			return fmt.Errorf("point %d: %s: only the first point may be -inf, and none beyond a thousand million", i+1, source.FormatNumber(p.value))
		}
		if i == 0 {
			continue
		}
		before := points[i-1]
		if p.position <= before.position {
			return notMonotone(i, "position", before.position, p.position)
		}
		if p.value == before.value || (p.value > before.value) != (to > from) {
			return notMonotone(i, "value", before.value, p.value)
		}
	}
	return nil
}

func notMonotone(i int, what string, before, after float64) error {
	return fmt.Errorf("point %d: the curve isn't monotone: %s %s comes after %s", i+1, what,
		source.FormatNumber(after), source.FormatNumber(before))
}

// checkBounds holds a curve against what any desk could mean by the parameter.
func checkBounds(spec Spec, c scale) error {
	low, high := c.bounds()
	if math.IsInf(low, -1) {
		if !spec.HasSilence() {
			return fmt.Errorf("%s: a range that can't be: it has no silence, -inf", spec.Name)
		}
		low, _ = c.At(1).Number() // the lowest sound
	}
	if low < spec.Lowest || high > spec.Highest {
		return fmt.Errorf("%s from %s to %s: a range that can't be: expected %s", spec.Name,
			sayNumber(low, spec.Unit, 0), sayNumber(high, spec.Unit, 0), strings.TrimPrefix(spec.SayBounds(), "-inf or "))
	}
	return nil
}
