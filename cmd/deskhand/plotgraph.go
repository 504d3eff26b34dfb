package main

import (
	"image/color"
	"math"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// The graph is drawn here, on what gonum's plot draws with, and not by its package plot,
// which reads all of its fonts whenever the program starts, whatever the command.

// The distances within a graph, in points.
const (
	tickLength vg.Length = 3
	titleGap   vg.Length = 6
	legendGap  vg.Length = 4
	thumbnail  vg.Length = 34
	labelsGap  vg.Length = 2
)

// words is how texts are written in a picture.
type words struct{ text.Style }

// newWords reads the fonts.
func newWords() words {
	return words{text.Style{
		Color: color.Black, Font: font.Font{Typeface: "Liberation", Variant: "Sans", Size: textSize},
		Handler: text.Plain{Fonts: font.NewCache(liberation.Collection())},
	}}
}

func (w words) sized(size vg.Length) words {
	w.Font.Size = size
	return w
}

// at writes a text with this part of it at a point.
func (w words) at(c draw.Canvas, x, y vg.Length, ax text.XAlignment, ay text.YAlignment, what string) {
	w.XAlign, w.YAlign = ax, ay
	c.FillText(w.Style, vg.Point{X: x, Y: y}, what)
}

// descent is how far letters reach below the line.
func (w words) descent() vg.Length { return w.FontExtents().Descent }

// tick is a line of the grid with its label.
type tick struct {
	value float64
	label string
}

// octaves are the ticks of the frequencies, as the trade writes them.
var octaves = [...]tick{
	{31.5, "31.5"}, {63, "63"}, {125, "125"}, {250, "250"}, {500, "500"},
	{1000, "1k"}, {2000, "2k"}, {4000, "4k"}, {8000, "8k"}, {16000, "16k"},
}

func (f frame) ticks() []tick {
	ticks := make([]tick, f.rows())
	for row := range ticks {
		level := f.bottom + f.step*float64(row)
		ticks[row] = tick{level, sayLevel(level)}
	}
	return ticks
}

// area is where the curves are, with its two scales.
type area struct {
	draw.Canvas
	frame frame
}

func (a area) x(hz float64) vg.Length {
	return a.X(math.Log(hz/lowestHz) / math.Log(highestHz/lowestHz))
}

func (a area) y(level float64) vg.Length {
	return a.Y((level - a.frame.bottom) / (a.frame.top - a.frame.bottom))
}

// drawGraph draws the title, the axes and the curves.
func (p panel) drawGraph(c draw.Canvas, w words) {
	lines := make([]string, len(p.title))
	for i, line := range p.title {
		lines[i] = label(line, longestTitle)
	}
	title, heading := strings.Join(lines, "\n"), w.sized(titleSize)
	heading.at(c, c.Center().X, c.Max.Y+heading.descent(), text.XCenter, text.YTop, title)
	c.Max.Y -= heading.Rectangle(title).Size().Y + titleGap

	var widest vg.Length
	for _, t := range p.frame.ticks() {
		widest = max(widest, w.Width(t.label))
	}
	line := w.Height("Hz")
	// Half of the uppermost label reaches above the area.
	a := area{draw.Crop(c, line+labelsGap+widest+2*tickLength, 0, 2*line+labelsGap+tickLength, -line/2), p.frame}
	a.drawGrid()
	a.drawAxes(c, w)
	styles := p.styles()
	for i, l := range p.lines {
		a.drawCurve(l, styles[i])
	}
}

// drawAxes draws the two axes around the area, within the room that the canvas has for
// them.
func (a area) drawAxes(c draw.Canvas, w words) {
	line := draw.LineStyle{Color: color.Black, Width: 0.5}
	a.StrokeLine2(line, a.Min.X, a.Min.Y, a.Max.X, a.Min.Y)
	a.StrokeLine2(line, a.Min.X, a.Min.Y, a.Min.X, a.Max.Y)
	for _, t := range octaves {
		x := a.x(t.value)
		a.StrokeLine2(line, x, a.Min.Y-tickLength, x, a.Min.Y)
		w.at(a.Canvas, x, a.Min.Y-tickLength, text.XCenter, text.YTop, t.label)
	}
	for _, t := range a.frame.ticks() {
		y := a.y(t.value)
		a.StrokeLine2(line, a.Min.X-tickLength, y, a.Min.X, y)
		w.at(a.Canvas, a.Min.X-2*tickLength, y+w.descent(), text.XRight, text.YCenter, t.label)
	}
	w.at(c, a.Center().X, c.Min.Y+w.descent(), text.XCenter, text.YBottom, "Hz")
	w.Rotation = math.Pi / 2
	w.at(c, c.Min.X+w.FontExtents().Ascent, a.Center().Y, text.XCenter, text.YBottom, "dB")
}

func (a area) drawGrid() {
	thin := draw.LineStyle{Color: color.Gray{208}, Width: 0.5}
	for _, t := range octaves {
		a.StrokeLine2(thin, a.x(t.value), a.Min.Y, a.x(t.value), a.Max.Y)
	}
	for _, t := range a.frame.ticks() {
		a.StrokeLine2(thin, a.Min.X, a.y(t.value), a.Max.X, a.y(t.value))
	}
	a.StrokeLine2(draw.LineStyle{Color: color.Gray{128}, Width: 0.75}, a.Min.X, a.y(0), a.Max.X, a.y(0))
}

// drawCurve draws as much of a curve as the frame shows.
func (a area) drawCurve(l graphLine, style draw.LineStyle) {
	points := make([]vg.Point, len(l.hz))
	for i, hz := range l.hz {
		points[i] = vg.Point{X: a.x(hz), Y: a.y(l.decibels[i])}
	}
	a.StrokeLines(style, a.ClipLinesXY(points)...)
}

// drawLegend draws a piece of each line with its label, from the top down.
func (p panel) drawLegend(c draw.Canvas, w words) {
	height := w.Rectangle("Hg").Max.Y + legendGap
	styles := p.styles()
	for i, l := range p.lines {
		y := c.Max.Y - height*(vg.Length(i)+0.5)
		c.StrokeLine2(styles[i], c.Min.X, y, c.Min.X+thumbnail, y)
		w.at(c, c.Min.X+thumbnail+legendGap, y, text.XLeft, text.YCenter, label(l.label, longestLabel))
	}
}
