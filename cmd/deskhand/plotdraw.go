package main

import (
	"bytes"
	"fmt"
	"image/color"
	"strings"

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
	words := newWords()
	for i, p := range panels {
		// Each panel has its own origin, for the figures of an SVG are rounded to five
		// digits.
		canvas.Push()
		canvas.Translate(vg.Point{Y: panelHeight * vg.Length(len(panels)-1-i)})
		p.draw(draw.NewCanvas(canvas, panelWidth, panelHeight), words)
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

// draw draws a graph with its legend beside it, where it hides no curve.
func (p panel) draw(c draw.Canvas, words words) {
	c.SetColor(color.White)
	c.Fill(c.Rectangle.Path())
	c = draw.Crop(c, panelMargin, -panelMargin, panelMargin, -panelMargin)
	legend := draw.Crop(c, panelWidth-panelMargin-legendWidth, 0, 0, -2*titleSize)
	p.drawGraph(draw.Crop(c, 0, -legendWidth, 0, 0), words)
	p.drawLegend(legend, words)
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

// styles are how the lines of a panel are drawn, in their order.
func (p panel) styles() []draw.LineStyle {
	styles, parts := make([]draw.LineStyle, len(p.lines)), 0
	for i, l := range p.lines {
		styles[i] = l.look.style(parts)
		if l.look == onePart {
			parts++
		}
	}
	return styles
}

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
