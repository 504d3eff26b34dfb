package trace

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
)

// readout is what a control is worth at a position of its travel, 0 to 1.
type readout struct {
	position float64
	shown
}

// curve is the line of a numeric control, in the words of a profile.
type curve struct {
	kind               string // linear, log, power, points
	from, to, exponent float64
	points             []readout
	silence            bool
}

// maxPoints is the most points that a curve is made of. A control that needs more is
// none that a person would describe by points.
const maxPoints = 16

// fit finds the plainest curve that meets every readout. They are sorted, and the first
// and last are at the ends of so many steps.
func fit(r []readout, steps int) (curve, error) {
	if math.IsInf(r[0].value, -1) {
		if c, err := fitShape(aboveSilence(r, steps)); err == nil {
			c.silence = true
			return c, nil
		}
		return fitPoints(r)
	}
	if c, err := fitShape(r); err == nil {
		return c, nil
	}
	return fitPoints(r)
}

// aboveSilence gives the readouts as a shape over the steps above silence has them.
func aboveSilence(r []readout, steps int) []readout {
	if steps < 3 {
		return nil
	}
	above := slices.Clone(r[1:])
	last := float64(steps - 1)
	for i := range above {
		above[i].position = (above[i].position*last - 1) / (last - 1)
	}
	return above
}

var errNoShape = errors.New("the values lie on no straight line, no logarithm and no power")

// fitShape tries the shapes that two ends and an exponent describe.
func fitShape(r []readout) (curve, error) {
	n := len(r)
	if n < 3 || math.Abs(r[0].position) > 1e-6 || math.Abs(r[n-1].position-1) > 1e-6 {
		return curve{}, errNoShape
	}
	from, to := r[0].shown, r[n-1].shown
	if from.value == to.value {
		return curve{}, errNoShape
	}
	for _, c := range []curve{
		{kind: "linear", from: from.value, to: to.value},
		{kind: "log", from: from.value, to: to.value},
	} {
		if c.kind == "log" && (from.value <= 0 || to.value <= 0) {
			continue
		}
		if c.meetsAll(r, from.slack, to.slack) {
			return c.refined(r, from.slack, to.slack), nil
		}
	}
	for _, exponent := range exponents(r) {
		if c := (curve{kind: "power", from: from.value, to: to.value, exponent: exponent}); c.meetsAll(r, from.slack, to.slack) {
			return c, nil
		}
	}
	return curve{}, errNoShape
}

// exponents gives what the middle readouts make of the exponent of a power, the
// plainest numbers first.
func exponents(r []readout) []float64 {
	best, nearest := 0.0, math.Inf(1)
	from, to := r[0].value, r[len(r)-1].value
	for _, q := range r[1 : len(r)-1] {
		along := (q.value - from) / (to - from)
		if along <= 0 || along >= 1 || q.position <= 0 || q.position >= 1 {
			continue
		}
		if d := math.Abs(q.position - 0.5); d < nearest {
			best, nearest = math.Log(along)/math.Log(q.position), d
		}
	}
	if best == 0 {
		return nil
	}
	var list []float64
	for _, scale := range []float64{1, 2, 4, 10, 100, 1e4} {
		if e := math.Round(best*scale) / scale; e > 0.01 && e < 100 && e != 1 {
			list = append(list, e)
		}
	}
	return list
}

// refined moves the ends within what a display rounds away, by as little as it takes to
// meet every other readout exactly: the end that is shown as 15.6 Hz may be 15.625 Hz.
func (c curve) refined(r []readout, fromSlack, toSlack float64) curve {
	const parts = 10
	for away := 0; away <= 2*parts; away++ {
		for i := -min(away, parts); i <= min(away, parts); i++ {
			for _, j := range []int{away - abs(i), abs(i) - away} {
				near := c
				near.from = c.from + float64(i)*fromSlack/parts
				near.to = c.to + float64(j)*toSlack/parts
				if abs(j) <= parts && near.from != near.to && (c.kind != "log" || near.from > 0 && near.to > 0) && near.meetsAll(r, 0, 0) {
					near.from, near.to = tidy(near.from), tidy(near.to)
					return near
				}
			}
		}
	}
	return c
}

func abs(n int) int { return max(n, -n) }

// tidy leaves out the figures that only arithmetic made.
func tidy(v float64) float64 {
	short, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 12, 64), 64)
	return short
}

// at gives the value at a position.
func (c curve) at(p float64) float64 {
	switch c.kind {
	case "log":
		return c.from * math.Pow(c.to/c.from, p)
	case "power":
		return c.from + (c.to-c.from)*math.Pow(max(p, 0), c.exponent)
	}
	return c.from + (c.to-c.from)*p
}

// meetsAll reports whether the curve goes through all readouts, given that its ends are
// known only to their slack.
func (c curve) meetsAll(r []readout, fromSlack, toSlack float64) bool {
	low, high := c, c
	low.from, low.to = c.from-fromSlack, c.to-toSlack
	high.from, high.to = c.from+fromSlack, c.to+toSlack
	if c.kind == "log" && (low.from <= 0 || low.to <= 0) {
		low.from, low.to = c.from, c.to
	}
	for _, q := range r {
		if math.IsInf(q.value, 0) {
			return false
		}
		least, most := low.at(q.position), high.at(q.position)
		give := q.slack*1.0001 + 1e-6*math.Abs(q.value) // a desk's grid is rounded, too
		if q.value < least-give || q.value > most+give {
			return false
		}
	}
	return true
}

// fitPoints joins the readouts by straight stretches, as few as meet them all.
func fitPoints(r []readout) (curve, error) {
	last := len(r) - 1
	if last < 1 || math.Abs(r[0].position) > 1e-6 || math.Abs(r[last].position-1) > 1e-6 {
		return curve{}, errors.New("the ends of the curve are not known")
	}
	for i := 1; i <= last; i++ {
		if r[i].value == r[i-1].value || (r[i].value > r[i-1].value) != (r[last].value > r[0].value) {
			return curve{}, errors.New("what the desk showed does not rise, or fall, all the way along the control")
		}
	}
	c := curve{kind: "points", points: []readout{r[0]}}
	for i := 0; i < last; {
		j := i + 1
		for j < last && straight(r[i:j+2]) {
			j++
		}
		if c.points = append(c.points, r[j]); len(c.points) > maxPoints {
			return curve{}, errors.New("the values lie on no curve that can be described")
		}
		i = j
	}
	return c, nil
}

// straight reports whether the readouts between the first and the last lie on the line
// between those: straight in amplitude where the first is silence.
func straight(r []readout) bool {
	a, b := r[0], r[len(r)-1]
	for _, q := range r[1 : len(r)-1] {
		along := (q.position - a.position) / (b.position - a.position)
		v, slack := a.value+along*(b.value-a.value), q.slack+(1-along)*a.slack+along*b.slack
		if math.IsInf(a.value, -1) {
			v, slack = b.value+20*math.Log10(along), q.slack+b.slack
		}
		if math.Abs(v-q.value) > slack*1.0001+1e-9*math.Abs(q.value) {
			return false
		}
	}
	return true
}

// fields gives the curve as keys of a profile. A point is put on its step, or no further
// from it than a share of one.
func (c curve) fields(steps int, give float64) []Field {
	var value string
	switch c.kind {
	case "points":
		var points []string
		for _, p := range c.points {
			points = append(points, "["+tomlFloat(onStep(p.position, steps, give))+", "+tomlFloat(p.value)+"]")
		}
		value = "[" + strings.Join(points, ", ") + "]"
	case "power":
		value = "[" + tomlFloat(c.from) + ", " + tomlFloat(c.to) + ", " + tomlFloat(c.exponent) + "]"
	default:
		value = "[" + tomlFloat(c.from) + ", " + tomlFloat(c.to) + "]"
	}
	fields := []Field{{c.kind, value}}
	if c.silence {
		fields = append(fields, Field{"silence", "true"})
	}
	return fields
}

// onStep gives a position as the step that it is on, with no more figures than it takes
// to be as near to that.
func onStep(position float64, steps int, give float64) float64 {
	last := float64(steps - 1)
	step := math.Round(position * last)
	for _, scale := range []float64{10, 100, 1e3, 1e4, 1e5, 1e6, 1e7} {
		short := math.Round(step/last*scale) / scale
		if math.Abs(short*last-step) < give {
			return short
		}
	}
	return step / last
}

// grid works out how many steps there are between the first and the last of some
// sorted values, of which all, or only some, steps were seen. Each value may be wrong by
// a slack.
func grid(values []float64, slack float64) (steps int, ok bool) {
	if len(values) < 2 {
		return 0, false
	}
	finest := math.Inf(1)
	for i := 1; i < len(values); i++ {
		finest = min(finest, values[i]-values[i-1])
	}
	if !(finest > 0) {
		return 0, false
	}
	for part := 1.0; part <= 16; part++ {
		n := 0.0
		for i := 1; i < len(values); i++ {
			n += math.Round((values[i] - values[i-1]) / (finest / part))
		}
		if n+1 > maxCount {
			return 0, false
		}
		if onGrid(values, n, slack) {
			return int(n) + 1, true
		}
	}
	return 0, false
}

func onGrid(values []float64, n, slack float64) bool {
	low, high := values[0], values[len(values)-1]
	step := (high - low) / n
	give := 2*slack/step + 1e-6
	if give > 0.25 {
		return false // no grid could be told from any other
	}
	for _, v := range values {
		if along := (v - low) / step; math.Abs(along-math.Round(along)) > give {
			return false
		}
	}
	return true
}
