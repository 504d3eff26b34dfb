package main

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"deskhand/scenes"
)

// sheetText is the sheet in lines. What a terminal would act on is for the output to write
// out, or for [shown].
func sheetText(s *scenes.Sheet) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s%s · %s · %s\n", textSheetBegins, orderTitle(s.Order), s.Venue.Name, s.Venue.Desk.Profile.Name)
	for _, caution := range sheetCautions {
		fmt.Fprintln(&b, caution)
	}
	if text := phantomConflicts(s); text != "" {
		fmt.Fprintln(&b, "Caution: "+text+".")
	}
	scenesText(&b, s)
	inputsText(&b, s)
	handText(&b, s)
	labelsText(&b, s)
	return b.String()
}

func scenesText(b *strings.Builder, s *scenes.Sheet) {
	fmt.Fprintln(b, "\nscenes")
	var rows [][]string
	for i, it := range s.Order.Items {
		rows = append(rows, []string{strconv.Itoa(i + 1), it.Title, planOf(it), strings.Join(strings.Split(it.Notes, "\n"), " / ")})
	}
	sheetColumns(b, rows)
}

func inputsText(b *strings.Builder, s *scenes.Sheet) {
	fmt.Fprintln(b, "\ninputs")
	rows := [][]string{{"channel", "position", "microphone", "phantom", "source", "who, in scenes"}}
	for _, in := range s.Inputs {
		rows = append(rows, []string{
			strconv.Itoa(in.Position.Channel), in.Position.Name, sayMicrophone(in), sayPhantom(in.Phantom), saySources(in), sayTurns(in.Turns),
		})
	}
	sheetColumns(b, rows)
}

func handText(b *strings.Builder, s *scenes.Sheet) {
	fmt.Fprintln(b, "\nby hand")
	if len(s.Hand) == 0 {
		fmt.Fprintln(b, "  "+nothingByHand)
	}
	for _, group := range handBefore(s) {
		fmt.Fprintln(b, "  "+sayBefore(s, group[0].Scene))
		for _, h := range group {
			fmt.Fprintf(b, "    [ ] %s · %s\n", instruction(h.Change), sayWhoFor(h))
		}
	}
}

func labelsText(b *strings.Builder, s *scenes.Sheet) {
	for _, strip := range s.Strips {
		fmt.Fprintln(b, "\nlabels, "+sayStrip(strip))
		var rows [][]string
		for _, l := range strip.Labels {
			rows = append(rows, []string{strconv.Itoa(l.Channel), l.Position, l.Text})
		}
		sheetColumns(b, rows)
	}
}

// sheetColumns lines rows up, the first column to the right.
func sheetColumns(b *strings.Builder, rows [][]string) {
	var widths []int
	for _, row := range rows {
		for i, cell := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	for _, row := range rows {
		line := "  " + strings.Repeat(" ", widths[0]-utf8.RuneCountInString(row[0])) + row[0]
		for i, cell := range row[1:] {
			line += "  " + pad(cell, widths[i+1])
		}
		fmt.Fprintln(b, strings.TrimRight(line, " "))
	}
}
