package trace

import (
	"fmt"
	"math"
	"slices"
	"strconv"
)

// How near to its step a point of a curve is put, in steps: values that travel in the
// unit show any difference, and those along the travel none.
const (
	exactly = 1e-5
	nearly  = 0.01
)

// inUnit works out a number that travels in the parameter's unit: its curve shows in
// the values themselves. The number for silence is none of them.
func inUnit(s sighting, w wire, silence float64) (valued, error) {
	v := valued{form: map[string]string{"as": strconv.Quote(w.as)}}
	hasSilence := w.texts.silent != "" || !math.IsInf(silence, -1)
	var values []float64
	for i, n := range w.values {
		if !w.silent[i] && n != silence {
			values = append(values, n)
		}
	}
	slices.Sort(values)
	values = slices.Compact(values)
	if n := len(values); n > 0 { // a desk leaves out the figures that its grid has no need of
		w.slack += 1e-6 * (values[n-1] - values[0]) / float64(n)
	}
	if len(values) < 3 {
		return v, fmt.Errorf("%s came: move it from end to end", howMany(len(values), "value"))
	}
	c, steps, err := w.curveOf(values, hasSilence, s.steps)
	if err != nil {
		return v, err
	}
	v.curve = append(c.fields(steps, exactly), Field{"steps", strconv.Itoa(steps)})
	seen := len(values)
	if hasSilence {
		seen++
	}
	v.notes = append(v.notes, saySteps(steps, seen, s.steps))
	if w.as == "text" {
		v.form["decimals"] = strconv.Itoa(w.texts.decimals)
		v.form["write"] = tomlText(w.texts.before + "{}" + w.texts.after)
		if w.texts.silent != "" {
			v.form["silent"] = tomlText(w.texts.silent)
		}
		return v, nil
	}
	v.form["wire"] = `"unit"`
	if hasSilence {
		v.form["silent"] = tomlNumber(short(silence, w.as), "float")
	}
	return v, nil
}

// saySteps says on what the number of steps stands.
func saySteps(steps, seen, told int) string {
	switch {
	case told > 0:
		return fmt.Sprintf("%d steps, as you said; %d of them seen", steps, seen)
	case steps == seen:
		return fmt.Sprintf("%d steps seen: at least so many, and all of them if it was moved slowly enough", steps)
	}
	return fmt.Sprintf("%d steps, as the values are spaced; %d of them seen", steps, seen)
}

// curveOf finds the curve through values that are sorted and in the unit. If all steps
// were seen, their order gives the curve; if not, only equal distances do. Where both
// could be, it is for the user to say how many steps there are.
func (w wire) curveOf(values []float64, silence bool, told int) (curve, int, error) {
	slacks := []float64{w.slack}
	if w.as == "int" || w.as == "long" {
		slacks = []float64{0, 0.5} // a whole number may have been rounded
	}
	extra := 0
	if silence {
		extra = 1
	}
	whole := len(values) + extra
	for _, slack := range slacks {
		r := w.asSteps(values, silence, slack)
		c, err := fit(r, whole)
		complete := err == nil && (told == 0 || told == whole)
		if complete && c.kind != "points" {
			return c, whole, nil
		}
		even, steps, ok := w.spaced(values, silence, slack, told)
		switch {
		case ok && !complete:
			return even, steps, nil
		case ok && told == 0 && !c.plainly(len(values), steps):
			return curve{}, 0, missingAnswer{Steps, fmt.Sprintf("how many steps has it? %d were seen, and as they are spaced it may have %d", whole, steps)}
		}
		if complete {
			return c, whole, nil
		}
	}
	if told > whole {
		return curve{}, 0, fmt.Errorf("%d of its %d steps were seen: move it more slowly, through each step", whole, told)
	}
	return curve{}, 0, fmt.Errorf("the %d values that came lie on no curve: move it more slowly, through each step", len(values))
}

// plainly reports whether a bent curve through all values that were seen needs no asking,
// though they lie on a grid of so many even steps, too: a quick move along that grid
// leaves out so many steps only here and there, which takes many points.
func (c curve) plainly(seen, even int) bool {
	return 2*seen < even && 3*len(c.points) <= seen
}

// asSteps takes sorted values for all steps of a control.
func (w wire) asSteps(values []float64, silence bool, slack float64) []readout {
	var r []readout
	if silence {
		r = append(r, readout{shown: shown{value: math.Inf(-1)}})
	}
	for _, n := range values {
		r = append(r, readout{shown: shown{short(n, w.as), slack}})
	}
	for i := range r {
		r[i].position = float64(i) / float64(len(r)-1)
	}
	return r
}

// spaced finds a grid of equal distances, or of equal ratios, of which not all steps
// were seen.
func (w wire) spaced(values []float64, silence bool, slack float64, told int) (curve, int, bool) {
	low, high := short(values[0], w.as), short(values[len(values)-1], w.as)
	try := func(kind string, of []float64, slack float64) (curve, int, bool) {
		steps, ok := grid(of, slack)
		if !ok {
			return curve{}, 0, false
		}
		if told > 0 { // the steps that were seen may be every second or third
			n := told - 1
			if silence {
				n--
			}
			if n < 1 || n%(steps-1) != 0 {
				return curve{}, 0, false
			}
			steps = n + 1
		}
		if silence {
			steps++
		}
		return curve{kind: kind, from: low, to: high, silence: silence}, steps, true
	}
	if c, steps, ok := try("linear", values, slack); ok {
		return c, steps, true
	}
	if low <= 0 {
		return curve{}, 0, false
	}
	logs := make([]float64, len(values))
	for i, v := range values {
		logs[i] = math.Log(v)
	}
	return try("log", logs, max(slack/low, 1e-7))
}

// short is a number with no more figures than its type on the wire has.
func short(v float64, as string) float64 {
	if as != "float" {
		return v
	}
	text := strconv.FormatFloat(v, 'g', -1, 32)
	v, _ = strconv.ParseFloat(text, 64)
	return v
}

// alongTravel works out a number between two ends that have nothing to do with the
// unit: the curve is in what the desk showed.
func alongTravel(s sighting, w wire, list []answer) (valued, error) {
	v := valued{form: map[string]string{"as": strconv.Quote(w.as)}}
	low, high := w.ends()
	values := slices.Clone(w.values)
	slices.Sort(values)
	values = slices.Compact(values)
	seen := len(values)
	steps, err := w.stepsBetween(values, s.steps)
	if err != nil {
		return v, err
	}
	r, err := readouts(list, low, high, steps)
	if err != nil {
		return v, err
	}
	c, err := fit(r, steps)
	if err != nil {
		return v, err
	}
	if (c.kind == "power" || c.kind == "points") && len(r) < min(4, steps) { // any three lie on one
		return v, missingAnswer{Shows, "what does the desk show at a quarter and at three quarters of the way, and wherever its scale changes?"}
	}
	v.curve = append(c.fields(steps, nearly), Field{"steps", strconv.Itoa(steps)})
	v.notes = append(v.notes, saySteps(steps, seen, s.steps))
	if c.kind == "points" {
		v.notes = append(v.notes, fmt.Sprintf("between the %d places that were read off, the curve is taken as straight", len(c.points)))
	}
	usual := 1.0
	if w.as == "int" || w.as == "long" {
		usual = float64(steps - 1)
	}
	if low != 0 || high != usual {
		v.form["wire"] = wireBetween(low, high, w.as)
	}
	return v, nil
}

// ends gives the numbers at the bottom and the top: a slow sweep from the bottom to the
// top is mostly steps upwards.
func (w wire) ends() (low, high float64) {
	low, high = slices.Min(w.values), slices.Max(w.values)
	upwards := 0
	for i := 1; i < len(w.values); i++ {
		switch {
		case w.values[i] > w.values[i-1]:
			upwards++
		case w.values[i] < w.values[i-1]:
			upwards--
		}
	}
	if upwards < 0 {
		return high, low
	}
	return low, high
}

// stepsBetween works out how many steps there are between the ends.
func (w wire) stepsBetween(values []float64, told int) (int, error) {
	steps, ok := grid(values, w.slack)
	if w.as == "int" || w.as == "long" { // which may have been rounded
		if rounded, fits := grid(values, 0.5); fits && (!ok || rounded == len(values)) {
			steps, ok = rounded, true
		}
	}
	switch {
	case !ok && told == 0:
		return 0, missingAnswer{Steps, fmt.Sprintf("how many steps has it? %d values were seen, at no equal distances", len(values))}
	case !ok:
		return told, nil
	case told > 0 && (told-1)%(steps-1) != 0:
		return 0, fmt.Errorf("it can't have %d steps: the values that came are spaced as those of %d", told, steps)
	case told > 0:
		return told, nil
	}
	return steps, nil
}

// readouts puts what was shown along the travel. Both ends and something between them
// must be known.
func readouts(list []answer, low, high float64, steps int) ([]readout, error) {
	byStep := make(map[int]shown)
	last := float64(steps - 1)
	for _, a := range list {
		step := int(math.Round((a.wire - low) / (high - low) * last))
		if other, known := byStep[step]; known && other.value != a.value {
			return nil, fmt.Errorf("the desk showed both %v and %v at one place", other.value, a.value)
		}
		byStep[step] = a.shown
	}
	var r []readout
	for step, n := range byStep {
		r = append(r, readout{float64(step) / last, n})
	}
	slices.SortFunc(r, func(a, b readout) int {
		if a.position < b.position {
			return -1
		}
		return 1
	})
	_, bottom := byStep[0]
	_, top := byStep[steps-1]
	if !bottom || !top || len(r) < 3 {
		var missing string
		switch {
		case !bottom:
			missing = "the bottom"
		case !top:
			missing = "the top"
		default:
			missing = "about the middle"
		}
		return nil, missingAnswer{Shows, "what does the desk show at " + missing + "?"}
	}
	return r, nil
}
