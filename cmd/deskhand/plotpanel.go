package main

import (
	"math"
	"strings"

	"deskhand/scenes"
	"deskhand/scenes/tone"
)

// panel is one graph of a picture.
type panel struct {
	// name is what to call it in a message.
	name  string
	title []string
	lines []graphLine
	frame frame
}

// graphLine is one line of a graph: levels in dB at frequencies in Hz.
type graphLine struct {
	label        string
	look         look
	hz, decibels []float64
}

// look is what a line stands for, and so how it is drawn.
type look uint8

const (
	// whole is all that a strip does, or will do.
	whole look = iota
	// before is all that it did.
	before
	// asked is what the layers ask for, where the desk can't do quite that.
	asked
	// onePart is one band, or the low cut.
	onePart
)

// graphPoints is how many points a line has: 48 an octave.
const graphPoints = 480

// frame is the range of a graph in dB, from bottom to top, with a line at each step.
type frame struct{ bottom, top, step float64 }

// The least that a graph shows, up and down, in dB, and how many lines it may have.
const (
	leastReach = 6.0
	fewestRows = 7
	mostRows   = 9
)

// frameFor finds the frame that shows a range of levels.
func frameFor(lowest, highest float64) frame {
	lowest, highest = min(lowest, -leastReach), max(highest, leastReach)
	f := frame{step: 3}
	for f.fit(lowest, highest); f.rows() > mostRows; f.fit(lowest, highest) {
		f.step *= 2
	}
	f.bottom -= f.step * float64(max(fewestRows-f.rows(), 0))
	return f
}

// fit puts the edges on the lines next to a range. What lies over a line by less than can be
// seen asks for no other: the peak of a bell of 6 dB is not to the last digit at 6.
func (f *frame) fit(lowest, highest float64) {
	const unseen = 0.02
	f.bottom, f.top = f.step*math.Floor((lowest+unseen)/f.step), f.step*math.Ceil((highest-unseen)/f.step)
}

// rows is how many lines the frame has, its edges with them.
func (f frame) rows() int { return 1 + int(math.Round((f.top-f.bottom)/f.step)) }

// stripPanels draws the strips of positions that have any EQ or low cut.
func stripPanels(v *scenes.Venue, resolved []*scenes.Resolved) []panel {
	var panels []panel
	for _, r := range resolved {
		e := resolvedEqualiser(v, r)
		if e.isPlain() {
			continue
		}
		words := []string{r.Position.Name, r.Position.Place().Say()}
		if r.Performer != nil {
			words = append(words, r.PerformerName())
		}
		panels = append(panels, e.panel(r.Position.Name, strings.Join(append(words, v.Desk.Profile.Name), " · ")))
	}
	return panels
}

// panel is the graph of one strip: the whole of it, what was asked for where that is
// something else, and each part.
func (e equaliser) panel(name, title string) panel {
	hz := e.across(graphPoints)
	p := panel{name: name, title: []string{title}, frame: frameFor(e.reach())}
	for _, one := range e.parts {
		p.lines = append(p.lines, graphLine{one.label, onePart, hz, e.curve(one.shape, hz)})
	}
	label := "the whole strip"
	if e.fitted != nil {
		p.title = append(p.title, "EQ fitted to this desk: "+e.fitted.Say())
		p.lines = append(p.lines, graphLine{"as it was asked for", asked, e.fitted.Hz, e.target()})
		label += ", fitted"
	}
	p.lines = append(p.lines, graphLine{label, whole, hz, e.curve(e.shape, hz)})
	return p
}

// target is the EQ that was asked for, with the strip's low cut, so that it can be held
// against the whole strip.
func (e equaliser) target() []float64 {
	target := e.curve(tone.Shape{LowCut: e.shape.LowCut}, e.fitted.Hz)
	for i := range target {
		target[i] += e.fitted.Target[i]
	}
	return target
}
