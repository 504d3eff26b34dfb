package desk

import (
	"math"

	"deskhand/osc"
	"deskhand/profiles"
)

// Verdict is how the desk took the values of a parameter.
type Verdict uint8

// The verdicts. OtherSteps: values come back on a grid of the desk's own. OtherRange:
// the ends come back as less. OtherWords: some words of a choice come back as others.
// OtherLength: a text is cut elsewhere. Unmoved: nothing changes, whatever is sent.
// NotTold: the desk answers nothing that can be understood once it has moved.
const (
	AsProfile Verdict = iota
	OtherSteps
	OtherRange
	OtherWords
	OtherLength
	Unmoved
	NotTold
)

func (v Verdict) String() string {
	return [...]string{"as_profile", "other_steps", "other_range", "other_words", "other_length", "unmoved", "not_told"}[v]
}

// Moved is a parameter that was moved, and what came back.
type Moved struct {
	Parameter profiles.Parameter
	From      profiles.Value
	Verdict   Verdict
	Points    []MovePoint
	// Steps is how many steps the desk has over the profile's range, or how long a text
	// it takes; 0 where that can't be told.
	Steps int
	// Finer says that values between the profile's steps stay there.
	Finer bool
	// Heard is what came and was not understood.
	Heard []osc.Heard

	gauge  gauge
	before any
}

// MovePoint is a value that was sent and what the desk told of it, both as they stand on
// the wire. Back is nil where nothing was told that could be understood.
type MovePoint struct {
	Sent, Back any
	at, came   float64
}

// Values are the values sent and told, in trade units. What is between two steps of the
// profile is given between their values, and what is beyond them not at all.
func (m Moved) Values(pt MovePoint) (sent, back profiles.Value) {
	return m.gauge.between(pt.Sent, pt.at), m.gauge.between(pt.Back, pt.came)
}

// between gives the value at a place between two steps.
func (g gauge) between(raw any, at float64) profiles.Value {
	if g.steps == 0 {
		text, ok := osc.Text(raw)
		if !ok {
			return profiles.Value{}
		}
		return profiles.Word(text)
	}
	low := int(math.Floor(at + 1e-3))
	if math.IsNaN(at) || low < 0 || low > g.steps-1 || at > float64(g.steps-1)+1e-3 {
		return profiles.Value{}
	}
	a, isNumber := g.value(low).Number()
	if !isNumber || math.Abs(at-float64(low)) < 1e-3 || low == g.steps-1 || math.IsInf(a, 0) {
		return g.value(low)
	}
	b, _ := g.value(low + 1).Number()
	return profiles.Number(a + (at-float64(low))*(b-a))
}

// judge says what the points show.
func (m *Moved) judge() {
	told, moved := 0, false
	for _, pt := range m.Points {
		if pt.Back != nil {
			told++
			moved = moved || !same(m.gauge, pt.Back, m.before)
		}
	}
	switch {
	case told < len(m.Points):
		m.Verdict = NotTold
	case !moved:
		m.Verdict = Unmoved
	case m.gauge.steps == 0:
		m.judgeText()
	case m.gauge.isNumber():
		m.judgeNumber()
	default:
		m.judgeWords()
	}
}

// stepOf gives the place of what was found among the steps.
func (g gauge) stepOf(f found) float64 {
	if at := g.position(f.raw); f.raw == nil || !math.IsNaN(at) || g.steps == 0 {
		return at
	}
	step, err := g.control.Curve.Step(f.value)
	if err != nil {
		return math.NaN()
	}
	return float64(step)
}

func (m *Moved) judgeText() {
	for _, pt := range m.Points {
		back, _ := osc.Text(pt.Back)
		m.Steps = max(m.Steps, len(back))
	}
	if first, _ := m.Points[0].Sent.(string); m.Steps != len(first) {
		m.Verdict = OtherLength
	}
}

func (m *Moved) judgeWords() {
	m.Steps = m.gauge.steps
	for _, pt := range m.Points {
		if !(math.Abs(pt.came-pt.at) < onGrid) {
			m.Verdict, m.Steps = OtherWords, 0
		}
	}
}

// judgeNumber holds what came back against what was sent.
func (m *Moved) judgeNumber() {
	worst, ends, between, stayed := 0.0, 0.0, 0, 0
	last := float64(m.gauge.steps - 1)
	asSaid := true
	for _, pt := range m.Points {
		off := math.Abs(pt.came - pt.at)
		if math.IsNaN(off) {
			asSaid = false
			continue
		}
		whole := math.Abs(pt.at-math.Round(pt.at)) < 1e-3
		switch {
		case whole && (pt.at == 0 || pt.at == last):
			ends = max(ends, off)
		default:
			worst = max(worst, off)
		}
		if whole && off > onGrid || math.Abs(pt.came-math.Round(pt.came)) > onGrid {
			asSaid = false
		}
		if !whole {
			between++
			if off < sameStep {
				stayed++
			}
		}
	}
	m.Finer = between > 0 && stayed > 0
	m.Steps = m.countSteps()
	switch {
	case asSaid:
		m.Steps = m.gauge.steps
	case ends > 2*worst+1:
		m.Verdict, m.Steps = OtherRange, 0
	default:
		m.Verdict = OtherSteps
	}
}

// moreSteps is up to how many times the profile's steps are looked for.
const moreSteps = 4

// countSteps finds the least number of even steps over the profile's range on which all
// values that came back stand. It gives 0 where there is none, and where the wire's
// numbers are not even themselves, or whole ones.
func (m *Moved) countSteps() int {
	g := m.gauge
	if !g.numeric || !g.even() {
		return 0
	}
	var along []float64
	for _, pt := range m.Points {
		if !math.IsNaN(pt.came) {
			along = append(along, pt.came/float64(g.steps-1))
		}
	}
	for steps := 2; steps <= moreSteps*g.steps; steps++ {
		if standOn(along, float64(steps-1)) && neighbours(along, float64(steps-1)) {
			return steps
		}
	}
	return 0
}

// neighbours reports whether two of the places are one interval apart, without which
// they would stand on a finer grid, too, or on none.
func neighbours(along []float64, intervals float64) bool {
	for _, a := range along {
		for _, b := range along {
			if math.Round((a-b)*intervals) == 1 {
				return true
			}
		}
	}
	return false
}

// standOn reports whether all places are on a grid with so many intervals, but for what
// rounding to a float32 makes of them.
func standOn(along []float64, intervals float64) bool {
	slack := 1e-4 + intervals*2e-7
	for _, a := range along {
		if math.Abs(a*intervals-math.Round(a*intervals)) > slack {
			return false
		}
	}
	return true
}

// even reports whether the steps are equally far apart on the wire, in floats.
func (g gauge) even() bool {
	m, err := g.tell(g.value(0), nil)
	if err != nil {
		return false
	}
	switch m.Arguments[g.toldAt].(type) {
	case float32, float64:
	default:
		return false
	}
	first, last := g.wire(0), g.wire(g.steps-1)
	for _, step := range []int{1, g.steps / 3, g.steps / 2, g.steps - 2} {
		want := first + (last-first)*float64(step)/float64(g.steps-1)
		if math.Abs(g.wire(step)-want) > 1e-4*math.Abs(last-first)/float64(g.steps-1)+1e-6*math.Abs(want) {
			return false
		}
	}
	return true
}
