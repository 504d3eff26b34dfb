package profiles

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"deskhand/profiles/source"
)

// maxSteps bounds a grid: a float32 between 0 and 1 tells so many apart with ease.
const maxSteps = 1 << 16

// numericShapes are the keys that give a numeric curve its shape.
var numericShapes = []string{"linear", "log", "power", "points", "curve"}

// curveAt is a named curve and the line on which it stands.
type curveAt struct {
	shape   shape
	steps   int
	silence bool
	line    int
}

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
		if c, ok := readScale(inner); ok {
			c.line = inner.Line()
			l.curves[name] = c
		}
	}
}

// readScale reads a numeric curve out of a parameter or a named curve.
func readScale(t *source.Table) (curveAt, bool) {
	var c curveAt
	var ok bool
	given := slices.DeleteFunc(slices.Clone(numericShapes), func(k string) bool { return !t.Has(k) })
	if len(given) != 1 {
		if len(given) == 0 {
			t.Fault("", "the curve is missing: write one of %s", strings.Join(numericShapes, ", "))
		} else {
			t.Fault(given[1], "%s: there is one curve already, %s", given[1], given[0])
		}
		ignore(t)
		return curveAt{}, false
	}
	c.shape, ok = readShape(t, given[0])
	steps, hasSteps := t.Integer("steps")
	switch {
	case !t.Has("steps"):
		t.Fault("", "steps is missing: write how many steps the desk's control has, steps = ...")
	case hasSteps && (steps < 2 || steps > maxSteps):
		t.Fault("steps", "steps = %d: write a number from 2 to %d", steps, maxSteps)
		hasSteps = false
	}
	c.steps = steps
	c.silence, _ = t.Bool("silence")
	if c.silence && ok {
		if low, _ := c.shape.ends(); math.IsInf(low, -1) {
			t.Fault("silence", "silence: the points begin at -inf already")
			ok = false
		}
		if steps == 2 {
			t.Fault("steps", "steps = 2: with silence at the bottom, at least 3 are needed")
			ok = false
		}
	}
	return c, ok && hasSteps
}

func readShape(t *source.Table, kind string) (shape, bool) {
	if kind == "points" {
		return readPoints(t)
	}
	numbers, ok := t.Numbers(kind)
	if !ok {
		return nil, false
	}
	want := 2
	if kind == "power" {
		want = 3
	}
	if len(numbers) != want {
		t.Fault(kind, "%s takes %d numbers%s, not %d", kind, want, map[bool]string{true: " (from, to, exponent)", false: " (from, to)"}[want == 3], len(numbers))
		return nil, false
	}
	from, to := numbers[0], numbers[1]
	if !finite(numbers...) || from == to {
		t.Fault(kind, "%s from %v to %v: a range that can't be: give two different finite numbers", kind, from, to)
		return nil, false
	}
	switch kind {
	case "log":
		if from <= 0 || to <= 0 {
			t.Fault(kind, "log from %v to %v: a range that can't be: both ends must be above 0", from, to)
			return nil, false
		}
		return logarithmic{from, to}, true
	case "power":
		if numbers[2] <= 0.01 || numbers[2] > 100 {
			t.Fault(kind, "power with exponent %v: it must be above 0.01 and at most 100", numbers[2])
			return nil, false
		}
		return power{from, to, numbers[2]}, true
	}
	return linear{from, to}, true
}

func finite(numbers ...float64) bool {
	return !slices.ContainsFunc(numbers, func(n float64) bool { return math.IsNaN(n) || math.IsInf(n, 0) })
}

// readPoints reads a table of points [[position, value], ...].
func readPoints(t *source.Table) (shape, bool) {
	list, ok := t.List("points")
	if !ok {
		return nil, false
	}
	points := make(table, 0, len(list))
	for i, item := range list {
		p, ok := readPoint(item)
		if !ok {
			t.Fault("points", "point %d: write it as [position, value], two numbers", i+1)
			return nil, false
		}
		points = append(points, p)
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
	if len(points) < 2 {
		return fmt.Errorf("a table needs at least two points")
	}
	if points[0].position != 0 || points[len(points)-1].position != 1 {
		return fmt.Errorf("the first point must be at position 0 and the last at 1")
	}
	rising := points[1].value > points[0].value
	for i, p := range points[1:] {
		if !(p.position > points[i].position) {
			return fmt.Errorf("the curve isn't monotone: position %v comes after %v", p.position, points[i].position)
		}
		if math.IsInf(p.value, 0) || math.IsInf(points[i].value, 1) {
			return fmt.Errorf("only the first point may be -inf, and none +inf")
		}
		if p.value == points[i].value || (p.value > points[i].value) != rising {
			return fmt.Errorf("the curve isn't monotone: %v comes after %v", p.value, points[i].value)
		}
	}
	return nil
}

// control reads the grid and the wire form of a parameter. It returns nil after a
// fault.
func (l *loader) control(spec Spec, t *source.Table) *Control {
	c := &Control{Spec: spec, line: t.Line()}
	c.Curve = l.curve(spec, t)
	if t.Has("settle") {
		someTime(t, "settle", &c.Settle)
	}
	if c.Curve == nil {
		ignore(t)
		return nil
	}
	if !readForm(t, c) {
		return nil
	}
	return readStart(t, c)
}

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
	if !ok || !inBounds(spec, c, t) {
		return nil
	}
	return scale{shape: c.shape, steps: c.steps, silence: c.silence, unit: spec.Unit}
}

// scale reads a parameter's numeric curve: its own, or a named one.
func (l *loader) scale(t *source.Table) (curveAt, bool) {
	if !t.Has("curve") {
		return readScale(t)
	}
	name, ok := t.Text("curve")
	if !ok {
		return curveAt{}, false
	}
	for _, key := range append([]string{"steps", "silence"}, numericShapes...) {
		if key != "curve" && t.Has(key) {
			t.Fault(key, "%s: the curve %q says that already", key, name)
			return curveAt{}, false
		}
	}
	c, ok := l.curves[name]
	if !ok {
		t.Fault("curve", "curve %q: there is none such in [curves]%s", name, source.DidYouMean(name, slices.Sorted(maps.Keys(l.curves))))
	}
	return c, ok
}

// inBounds holds a curve against what any desk could mean by the parameter.
func inBounds(spec Spec, c curveAt, t *source.Table) bool {
	low, high := c.shape.ends()
	low, high = min(low, high), max(low, high)
	silent := c.silence || math.IsInf(low, -1)
	if math.IsInf(low, -1) {
		low = c.shape.value(1 / float64(c.steps-1))
	}
	if silent && (spec.Kind != Level || spec.Lowest != noLowest) {
		t.Fault("", "%s: a range that can't be: only a send or a fader reaches -inf", spec.Name)
		return false
	}
	if low < spec.Lowest || high > spec.Highest {
		t.Fault("", "%s from %s to %s: a range that can't be: expected within %s to %s", spec.Name,
			sayNumber(low, spec.Unit, 0), sayNumber(high, spec.Unit, 0), sayNumber(spec.Lowest, spec.Unit, 0), sayNumber(spec.Highest, spec.Unit, 0))
		return false
	}
	return true
}

func readText(t *source.Table) Curve {
	limit, ok := t.Integer("text")
	if !ok && !t.Has("text") {
		t.Fault("", "how many characters does the desk hold? write text = ...")
	}
	if ok && (limit < 1 || limit > 1024) {
		t.Fault("text", "text = %d: write a number from 1 to 1024", limit)
		ok = false
	}
	if !ok {
		return nil
	}
	return text(limit)
}

func readChoice(spec Spec, t *source.Table) Curve {
	words, ok := t.Texts("choice")
	if !ok {
		if !t.Has("choice") {
			t.Fault("", `the desk's choices are missing: write choice = ["...", "..."], in the desk's order`)
		}
		return nil
	}
	if len(words) < 2 {
		t.Fault("choice", "a choice has at least two words")
		return nil
	}
	for i, word := range words {
		if slices.Contains(words[:i], word) {
			t.Fault("choice", "the choice %q stands twice", word)
			return nil
		}
		if len(spec.Words) > 0 && !slices.Contains(spec.Words, word) {
			t.Fault("choice", "%q is no choice for %s%s", word, spec.Name, source.DidYouMean(word, spec.Words))
			return nil
		}
	}
	return choice(words)
}

// readForm reads how a parameter's positions stand on the wire: numeric curves as a
// float from 0 to 1, switches and choices as an integer counted from 0, unless the
// profile says otherwise.
func readForm(t *source.Table, c *Control) bool {
	_, isScale := c.Curve.(scale)
	if _, isText := c.Curve.(text); isText {
		return true
	}
	last := float64(c.Curve.Steps() - 1)
	c.form = form{integer: !isScale, low: 0, high: 1}
	if as, ok := t.Text("as"); ok {
		if as != "int" && as != "float" {
			t.Fault("as", "as = %q: there is none such%s", as, source.DidYouMean(as, []string{"int", "float"}))
			return false
		}
		c.form.integer = as == "int"
	}
	if c.form.integer {
		c.form.high = last
	}
	ends, ok := t.Numbers("wire")
	if !ok {
		return !t.Has("wire")
	}
	if len(ends) != 2 || !finite(ends...) || ends[0] == ends[1] || max(math.Abs(ends[0]), math.Abs(ends[1])) > math.MaxInt32 {
		t.Fault("wire", "wire = %v: a range that can't be: give two different numbers, those at the two ends of the control", ends)
		return false
	}
	if c.form.integer && math.Abs(ends[1]-ends[0]) < last {
		t.Fault("wire", "wire = %v has fewer whole numbers than the control has steps, %d", ends, c.Curve.Steps())
		return false
	}
	c.form.low, c.form.high = ends[0], ends[1]
	return true
}

// readStart reads what the desk holds when it is switched on. Unless the profile
// says otherwise that is silence, 0, off, the first choice or no text.
func readStart(t *source.Table, c *Control) *Control {
	raw, given := t.Value("start")
	if !given {
		c.Start = quietest(c)
		return c
	}
	v, err := ValueOf(raw)
	if err == nil {
		c.Start, err = c.Nearest(v)
	}
	if err != nil {
		t.Fault("start", "start: %s", err)
		return nil
	}
	return c
}

func quietest(c *Control) Value {
	s, ok := c.Curve.(scale)
	if !ok {
		return c.Curve.At(0)
	}
	if v := s.At(0); v == Silence {
		return v
	}
	low, high := s.ends()
	v, _ := c.Nearest(Number(min(max(0, min(low, high)), max(low, high))))
	return v
}
