package main

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"math"
	"strings"
	"sync"
	"unicode/utf8"

	"deskhand/scenes"
)

//go:embed sheet.gohtml
var sheetTemplateText string

// sheetTemplate is the page. The template escapes what the book says for each place that it
// stands in; what would turn the direction of writing is written out before.
var sheetTemplate = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("sheet").Funcs(template.FuncMap{
		"plain": func(text string) string { return string(shown([]byte(text), false)) },
	}).Parse(sheetTemplateText))
})

// paperMargin is the white around a printed page in mm: more than printers can't reach.
const paperMargin = 12

// sheetPage is what the template fills in.
type sheetPage struct {
	Title, Venue, Desk, Paper, LabelWidth string
	Margin                                int
	Cautions                              []string
	Conflict                              string
	Scenes                                []sheetScene
	Inputs                                []sheetInput
	NothingByHand                         string
	Hand                                  []sheetHand
	Strips                                []sheetStrip
	width                                 float64 // of a label in mm
}

type sheetScene struct {
	Number                int
	Title, Planned, Notes string
}

type sheetInput struct {
	Channel                               int
	Position, Microphone, Phantom, Source string
	Turns                                 []string
}

type sheetHand struct {
	Before   string
	Settings []sheetSetting
}

type sheetSetting struct{ Instruction, Who string }

type sheetStrip struct {
	Scenes string
	Rows   []sheetRow
}

// sheetRow is as much of a strip as fits across the paper.
type sheetRow struct {
	First, Last int
	// Part says which of the strip's rows it is, "" for the only one.
	Part   string
	Labels []scenes.Label
}

// sheetHTML is the sheet as one HTML file.
func sheetHTML(s *scenes.Sheet, width labelFlag, on paper) ([]byte, error) {
	page := sheetPage{
		Title: orderTitle(s.Order), Venue: s.Venue.Name, Desk: s.Venue.Desk.Profile.Name,
		Paper: on.said, LabelWidth: width.String(), Margin: paperMargin,
		Cautions: sheetCautions, Conflict: phantomConflicts(s), NothingByHand: nothingByHand, width: float64(width),
	}
	if s.Venue.Title != "" {
		page.Venue = s.Venue.Title
	}
	for i, it := range s.Order.Items {
		page.Scenes = append(page.Scenes, sheetScene{i + 1, it.Title, planOf(it), it.Notes})
	}
	for _, in := range s.Inputs {
		page.Inputs = append(page.Inputs, sheetInput{
			in.Position.Channel, in.Position.Name, sayMicrophone(in), sayPhantom(in.Phantom), saySources(in), listOf(in.Turns, sayTurn),
		})
	}
	for _, group := range handBefore(s) {
		page.Hand = append(page.Hand, sheetHand{sayBefore(s, group[0].Scene), listOf(group, func(h scenes.HandSetting) sheetSetting {
			return sheetSetting{instruction(h.Change), sayWhoFor(h)}
		})})
	}
	for _, strip := range s.Strips {
		page.Strips = append(page.Strips, sheetStrip{sayStrip(strip), stripRows(strip.Labels, float64(width), on)})
	}
	var b bytes.Buffer
	b.WriteString(htmlSheetBegins)
	if err := sheetTemplate().Execute(&b, page); err != nil {
		return nil, fmt.Errorf("the sheet can't be laid out: %w", err)
	}
	return b.Bytes(), nil
}

// stripRows breaks a strip into rows that fit across the paper, of as equal lengths as can be.
func stripRows(labels []scenes.Label, width float64, on paper) []sheetRow {
	across := int(math.Floor((on.width - 2*paperMargin) / width))
	rows := (len(labels) + across - 1) / across
	var out []sheetRow
	for i := range rows {
		part := labels[i*len(labels)/rows : (i+1)*len(labels)/rows]
		row := sheetRow{First: part[0].Channel, Last: part[len(part)-1].Channel, Labels: part}
		if rows > 1 {
			row.Part = fmt.Sprintf("row %d of %d", i+1, rows)
		}
		out = append(out, row)
	}
	return out
}

// The heights in mm that a label has for its two names, where it is as low as it can be; and
// the sizes in points between which they may be.
const (
	whoHigh, whereHigh           = 9, 3.6
	smallestName                 = 7
	largestWho, largestWhereName = 16, 9
)

// WhoPoints and WherePoints are how large the names of a label are.
func (p sheetPage) WhoPoints(text string) float64 {
	return pointsFor(text, p.width, whoHigh, largestWho)
}
func (p sheetPage) WherePoints(text string) float64 {
	return pointsFor(text, p.width, whereHigh, largestWhereName)
}

// pointsFor is the largest size at which a name stands in a label, so that strips are of one
// height where they can be. At the smallest size words are broken, and the label grows.
func pointsFor(text string, wide, high, largest float64) float64 {
	const (
		point  = 25.4 / 72 // mm
		letter = 0.6       // how wide a bold letter is, of its size, on the whole
		line   = 1.12      // how high a line is, of its size
		edges  = 2         // mm beside the name
	)
	words := strings.Fields(strings.ReplaceAll(text, "-", "- ")) // a browser breaks after a hyphen
	for size := largest; size > smallestName; size -= 0.5 {
		lines, fits := linesOf(words, int((wide-edges)/(letter*size*point)))
		if fits && float64(lines)*line*size*point <= high {
			return size
		}
	}
	return smallestName
}

// linesOf counts the lines that words take, of so many letters each, and says whether every
// word stands in one.
func linesOf(words []string, letters int) (lines int, fits bool) {
	left, fits := 0, true
	for _, word := range words {
		n := utf8.RuneCountInString(word)
		fits = fits && n <= letters
		if n > left {
			lines, left = lines+1, letters
		}
		left -= n + 1
	}
	return lines, fits
}
