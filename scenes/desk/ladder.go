package desk

import (
	"cmp"
	"math"
	"slices"
	"time"

	"deskhand/profiles"
)

// The figures of a glide, in dB.
const (
	// glideFloor is where a glide from silence begins and one to silence ends: a step
	// from there to no sound at all is not heard.
	glideFloor = -60.0
	// glideNear is how far a level may be from its line by the plan. A twentieth of a dB is
	// left of the half that is promised, for the network and the machine.
	glideNear = 0.45
	// coarseLate is how far from its line a level may get by a step's being late where the steps
	// of the desk's own grid are too coarse for glideNear.
	coarseLate = 0.25
	// stepNear is the largest step that leaves room to be late within glideNear.
	stepNear = 0.8
)

// glideSteps are the steps that are aimed at, in dB, the first that the pace allows. Finer
// ones are heard by nobody, and cost messages.
var glideSteps = []float64{0.25, 0.5, 0.75}

// glidePart is the part of the desk's pace that the steps of a glide take: the rest is
// for questions.
const glidePart = 0.8

// rung is one step of a level: what is sent, and where along the line it is due.
type rung struct {
	line  int
	value profiles.Value
	// along is where on the way it is due: 0 at the begin, 1 at the end.
	along float64
	// slack is how late or early it may be, in parts of the way.
	slack float64
}

// ladder gives the steps of one level, on the desk's grid, with differences of at most so
// many dB where the grid has such, and the first at most first. Each is due as its line
// passes halfway between it and the one before, so that the level is never farther from
// the line than half a step.
func ladder(control *profiles.Control, from, to profiles.Value, most, first float64) []rung {
	floor := lowestHeard(control)
	a, b := above(control, from, floor), above(control, to, floor)
	var rungs []rung
	if a == b { // from the floor or below to there, or no way at all
		if !control.Same(from, to) {
			rungs = append(rungs, rung{value: to, slack: 1})
		}
		return rungs
	}
	if begin := control.Curve.At(a); !control.Same(begin, from) {
		rungs = append(rungs, rung{value: begin, slack: 1})
	}
	rungs = append(rungs, climb(control.Curve, a, b, most, first)...)
	if !control.Same(control.Curve.At(b), to) {
		rungs = append(rungs, rung{value: to, along: 1, slack: 1})
	}
	return rungs
}

// climb gives the steps from one step of the grid to another, neither of them silence.
func climb(curve profiles.Curve, a, b int, most, first float64) []rung {
	at := func(step int) float64 { v, _ := curve.At(step).Number(); return v }
	from, way := at(a), at(b)-at(a)
	sign := 1
	if b < a {
		sign = -1
	}
	var rungs []rung
	for a != b {
		next := a + sign
		for next != b && math.Abs(at(next+sign)-at(a)) <= first {
			next += sign
		}
		step := math.Abs(at(next) - at(a))
		late := coarseLate
		if step <= stepNear {
			late = glideNear - step/2
		}
		rungs = append(rungs, rung{
			value: curve.At(next), along: ((at(a)+at(next))/2 - from) / way, slack: late / math.Abs(way),
		})
		a, first = next, most
	}
	return rungs
}

// lowestHeard is the step of the grid where a glide from silence begins: the one nearest
// to the floor that is a sound, or the lowest of those.
func lowestHeard(control *profiles.Control) int {
	if step, err := control.Curve.Step(profiles.Number(glideFloor)); err == nil && isHeard(control.Curve.At(step)) {
		return step
	}
	last := control.Curve.Steps() - 1
	lowest := last
	for _, step := range []int{0, min(1, last)} {
		if isHeard(control.Curve.At(step)) && level(control.Curve.At(step)) < level(control.Curve.At(lowest)) {
			lowest = step
		}
	}
	return lowest
}

// above gives the step of a level, and the floor's where that is higher.
func above(control *profiles.Control, v profiles.Value, floor int) int {
	step, err := control.Curve.Step(v)
	if err != nil || level(control.Curve.At(step)) < level(control.Curve.At(floor)) {
		return floor
	}
	return step
}

func level(v profiles.Value) float64 { n, _ := v.Number(); return n }

func isHeard(v profiles.Value) bool { return !math.IsInf(level(v), -1) }

// course is when which step of a glide is sent.
type course struct {
	rungs []rung // in order
	at    []time.Duration
	// lead is the time for the steps from silence to where the lines begin, and over how
	// long the lines take after it: what was asked for, or longer.
	lead, over time.Duration
}

// way is a line of a glide, as the planning sees it.
type way struct {
	control  *profiles.Control
	from, to profiles.Value
	// messages is how many it takes for each step.
	messages float64
}

// plot plans a glide of several levels within a time, each step no sooner than the pace
// allows, in messages a second (0 for no limit). It takes the finest steps with which
// every level stays by its line; where there are none, the glide takes longer.
func plot(ways []way, over time.Duration, pace float64) course {
	var rungs []rung
	for _, most := range glideSteps {
		rungs = ladders(ways, most)
		if c, ok := inTime(ways, rungs, over, pace); ok {
			return c
		}
	}
	for {
		over += over / 16
		if c, ok := inTime(ways, rungs, over, pace); ok {
			return c
		}
	}
}

// ladders gives the steps of all levels in the order in which they are due. Levels that
// go the same way would all be due at the same moments: their first steps differ, so that
// the rest is spread out.
func ladders(ways []way, most float64) []rung {
	var all []rung
	for i, w := range ways {
		first := most * float64(i+1) / float64(len(ways))
		for _, r := range ladder(w.control, w.from, w.to, most, first) {
			r.line = i
			all = append(all, r)
		}
	}
	slices.SortStableFunc(all, func(a, b rung) int { return cmp.Compare(a.along, b.along) })
	return all
}

// inTime gives each step its time, and reports whether none of them is too early or too
// late. Of the times that put off what the pace can't carry at once, and those that bring it
// forward, the middle is taken: it keeps the pace as both do.
func inTime(ways []way, rungs []rung, over time.Duration, pace float64) (course, bool) {
	c := course{rungs: rungs, at: make([]time.Duration, len(rungs)), over: over}
	gaps := make([]time.Duration, len(rungs)) // after each
	if pace > 0 {
		for i, r := range rungs {
			gaps[i] = time.Duration(ways[r.line].messages / pace * float64(time.Second))
			if r.along == 0 {
				c.lead += gaps[i]
			}
		}
	}
	putOff, forward := c.putOff(gaps), c.bringForward(gaps)
	var free time.Duration
	for i, r := range rungs {
		c.at[i] = max((putOff[i]+forward[i])/2, free)
		if r.along == 0 {
			c.at[i] = putOff[i]
		}
		free = c.at[i] + gaps[i]
		if off := (c.at[i] - c.due(i)).Abs(); r.along > 0 && float64(off) > r.slack*float64(over) {
			return c, false
		}
	}
	return c, true
}

// due is when the line is half-way between a step and the one before. Steps before the
// begin of the lines are due one after the other.
func (c course) due(i int) time.Duration {
	if c.rungs[i].along == 0 {
		return 0
	}
	return c.lead + time.Duration(c.rungs[i].along*float64(c.over))
}

func (c course) putOff(gaps []time.Duration) []time.Duration {
	at := make([]time.Duration, len(gaps))
	var free time.Duration
	for i := range at {
		at[i] = max(c.due(i), free)
		free = at[i] + gaps[i]
	}
	return at
}

func (c course) bringForward(gaps []time.Duration) []time.Duration {
	at := make([]time.Duration, len(gaps))
	for i := len(at) - 1; i >= 0; i-- {
		at[i] = c.due(i)
		if i < len(at)-1 {
			at[i] = min(at[i], at[i+1]-gaps[i])
		}
	}
	return at
}
