package main

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"math"
	"strings"

	"deskhand/scenes"
)

//go:embed sheet.gohtml
var sheetTemplateText string

// sheetTemplate is the page. The template escapes what the book says for each place that it
// stands in; what would turn the direction of writing is written out before.
var sheetTemplate = template.Must(template.New("sheet").Funcs(template.FuncMap{
	"plain": func(text string) string { return string(shown([]byte(text), false)) },
}).Parse(sheetTemplateText))

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
		Cautions: sheetCautions, Conflict: phantomConflicts(s), NothingByHand: nothingByHand,
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
	if err := sheetTemplate.Execute(&b, page); err != nil {
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

// Size is a class of the page's style for a label's text: how large it may be to stand in
// the label's width.
func (p sheetPage) Size(text string) string {
	longest := 0
	for _, word := range strings.Fields(text) {
		longest = max(longest, len([]rune(word)))
	}
	var width float64
	_, _ = fmt.Sscan(p.LabelWidth, &width)
	// A bold letter is about 0.6 of the size's 0.35 mm a point wide.
	fits := (width - 2) / (max(float64(longest), 1) * 0.6 * 25.4 / 72)
	switch {
	case fits >= 16 && width >= 20:
		return "large"
	case fits >= 11:
		return "middling"
	case fits >= 8:
		return "small"
	}
	return "tiny"
}
