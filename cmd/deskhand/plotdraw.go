package main

import (
	"bytes"
	"fmt"
	"image/color"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// The sizes of a picture, in points of 1/72 inch, and the dots per inch of one that is
// made of dots.
const (
	panelWidth   vg.Length = 720
	panelHeight  vg.Length = 264
	legendWidth  vg.Length = 212
	panelMargin  vg.Length = 12
	dotsPerInch            = 120
	textSize     vg.Length = 9
	titleSize    vg.Length = 11
	longestLabel           = 46
	longestTitle           = 120
)

// drawn draws panels below each other and gives the file's text.
func drawn(panels []panel, as format) ([]byte, error) {
	height := panelHeight * vg.Length(len(panels))
	var canvas vg.CanvasWriterTo = vgsvg.New(panelWidth, height)
	if as == pngFormat {
		canvas = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(panelWidth, height), vgimg.UseDPI(dotsPerInch))}
	}
	for i, p := range panels {
		graph, err := p.graph()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.name, err)
		}
		// Each panel has its own origin, for the figures of an SVG are rounded to five
		// digits.
		canvas.Push()
		canvas.Translate(vg.Point{Y: panelHeight * vg.Length(len(panels)-1-i)})
		drawPanel(draw.NewCanvas(canvas, panelWidth, panelHeight), graph)
		canvas.Pop()
	}
	var out bytes.Buffer
	if _, err := canvas.WriteTo(&out); err != nil {
		return nil, fmt.Errorf("draw the picture: %w", err)
	}
	if as == pngFormat {
		return out.Bytes(), nil
	}
	// Where the font isn't installed, any without serifs will do.
	return bytes.ReplaceAll(out.Bytes(), []byte("font-family:Liberation Sans;"), []byte("font-family:Liberation Sans,sans-serif;")), nil
}

// drawPanel draws a graph with its legend beside it, where it hides no curve.
func drawPanel(c draw.Canvas, graph *plot.Plot) {
	c.SetColor(color.White)
	c.Fill(c.Rectangle.Path())
	legend := graph.Legend
	graph.Legend = plot.NewLegend()
	c = draw.Crop(c, panelMargin, -panelMargin, panelMargin, -panelMargin)
	graph.Draw(draw.Crop(c, 0, -legendWidth, 0, 0))
	legend.Draw(draw.Crop(c, panelWidth-2*panelMargin-legendWidth+panelMargin, 0, 0, -2*titleSize))
}

func sans(size vg.Length) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
}

// graph makes the graph of a panel.
func (p panel) graph() (*plot.Plot, error) {
	g := plot.New()
	lines := make([]string, len(p.title))
	for i, line := range p.title {
		lines[i] = label(line, longestTitle)
	}
	g.Title.Text = strings.Join(lines, "\n")
	g.Title.TextStyle.Font = sans(titleSize)
	g.Title.Padding = 6
	p.axes(g)
	g.Legend.Top, g.Legend.Left = true, true
	g.Legend.TextStyle.Font = sans(textSize)
	g.Legend.ThumbnailWidth, g.Legend.Padding = 34, 4
	thin := draw.LineStyle{Color: color.Gray{208}, Width: 0.5}
	g.Add(&plotter.Grid{Vertical: thin, Horizontal: thin}, zeroLine())
	parts := 0
	for _, l := range p.lines {
		line, err := plotter.NewLine(l)
		if err != nil {
			return nil, err
		}
		line.LineStyle = l.look.style(parts)
		if l.look == onePart {
			parts++
		}
		g.Add(line)
		g.Legend.Add(label(l.label, longestLabel), line)
	}
	// What is drawn must not stretch the axes.
	g.X.Min, g.X.Max, g.Y.Min, g.Y.Max = lowestHz, highestHz, p.frame.bottom, p.frame.top
	return g, nil
}

// Len and XY make a line one that the plotter takes.
func (l graphLine) Len() int                    { return len(l.hz) }
func (l graphLine) XY(i int) (float64, float64) { return l.hz[i], l.decibels[i] }

func zeroLine() *plotter.Line {
	return &plotter.Line{
		XYs:       plotter.XYs{{X: lowestHz, Y: 0}, {X: highestHz, Y: 0}},
		LineStyle: draw.LineStyle{Color: color.Gray{128}, Width: 0.75},
	}
}

// octaves are the ticks of the frequencies, as the trade writes them.
var octaves = plot.ConstantTicks{
	{Value: 31.5, Label: "31.5"}, {Value: 63, Label: "63"}, {Value: 125, Label: "125"}, {Value: 250, Label: "250"}, {Value: 500, Label: "500"},
	{Value: 1000, Label: "1k"}, {Value: 2000, Label: "2k"}, {Value: 4000, Label: "4k"}, {Value: 8000, Label: "8k"}, {Value: 16000, Label: "16k"},
}

func (p panel) axes(g *plot.Plot) {
	g.X.Scale = plot.LogScale{}
	g.X.Tick.Marker = octaves
	g.X.Label.Text, g.Y.Label.Text = "Hz", "dB"
	var ticks plot.ConstantTicks
	for row := range p.frame.rows() {
		level := p.frame.bottom + p.frame.step*float64(row)
		ticks = append(ticks, plot.Tick{Value: level, Label: sayLevel(level)})
	}
	g.Y.Tick.Marker = ticks
	for _, axis := range []*plot.Axis{&g.X, &g.Y} {
		axis.Padding = 0
		axis.Tick.Length = 3
		for _, style := range []*text.Style{&axis.Label.TextStyle, &axis.Tick.Label} {
			style.Font = sans(textSize)
		}
	}
}

// sayLevel labels a level with its sign, and nought without one.
func sayLevel(level float64) string {
	if level == 0 {
		return "0"
	}
	return fmt.Sprintf("%+.0f", level)
}

// dashes tell parts apart without colour: lengths of line and gap in points, by turns.
var dashes = [][]vg.Length{{1, 2}, {4, 2}, {7, 2, 1, 2}, {10, 3}, {4, 2, 1, 2, 1, 2}, {2, 4}, {12, 2, 2, 2}, {6, 6}}

// style is how a line of this look is drawn, the n-th of its panel if it is a part.
func (l look) style(n int) draw.LineStyle {
	switch l {
	case before:
		return draw.LineStyle{Color: color.Black, Width: 1, Dashes: []vg.Length{5, 3}}
	case asked:
		return draw.LineStyle{Color: color.Black, Width: 1.25, Dashes: []vg.Length{8, 4}}
	case onePart:
		return draw.LineStyle{Color: color.Gray{112}, Width: 0.75, Dashes: dashes[n%len(dashes)]}
	}
	return draw.LineStyle{Color: color.Black, Width: 2.25}
}

// label makes a text fit to be drawn: names come from files that others wrote.
func label(words string, longest int) string {
	clean := strings.Map(func(r rune) rune {
		switch r {
		case '\n', '\t':
			return ' '
		case 0xfffe, 0xffff: // no characters, and XML can't have them
			return '?'
		}
		return r
	}, string(shown([]byte(words), false)))
	runes := []rune(clean)
	if len(runes) > longest {
		return string(runes[:longest-1]) + "…"
	}
	return string(runes)
}
