package main

import (
	"cmp"
	"fmt"
	"math"
	"os"
	"strings"

	"deskhand/scenes"
)

// textColumns is how wide the curve is that a terminal shows.
const textColumns = 61

// showsDots reports whether the user's locale is one in which a terminal shows more than
// ASCII, as POSIX has it: LC_ALL before LC_CTYPE before LANG.
func showsDots() bool {
	locale := strings.ToLower(cmp.Or(os.Getenv("LC_ALL"), os.Getenv("LC_CTYPE"), os.Getenv("LANG")))
	return strings.Contains(locale, "utf-8") || strings.Contains(locale, "utf8")
}

// sayCurve shows the curve of a position's low cut and EQ on a terminal. What goes into a
// file or another program is the same everywhere, and without it.
func (a *app) sayCurve(v *scenes.Venue, r *scenes.Resolved) {
	if !a.curves {
		return
	}
	e := resolvedEqualiser(v, r)
	if e.isPlain() {
		return
	}
	for _, line := range textCurve(e, showsDots()) {
		fmt.Fprintln(a.out, line)
	}
}

// textCurve draws the curve of a strip as lines of text: with dots, eight to a letter, or
// in ASCII. No line ends in a blank.
func textCurve(e equaliser, dots bool) []string {
	f := frameFor(e.reach())
	letters := asciiLetters(e, f)
	bar := " |"
	if dots {
		letters, bar = dotLetters(e, f), " │"
	}
	var lines []string
	for row, text := range letters {
		level := sayLevel(f.top - f.step*float64(row))
		if row == 0 {
			level += " dB"
		}
		lines = append(lines, strings.TrimRight(fmt.Sprintf("%6s%s%s", level, bar, string(text)), " "))
	}
	return append(lines, textTicks())
}

// textTicks is the line under a curve that names the octaves.
func textTicks() string {
	line := []byte(strings.Repeat(" ", textColumns+12))
	const margin = 8 // the level and the bar
	for _, tick := range octaves {
		at := margin + int(math.Round(textPlace(tick.value)*(textColumns-1)))
		copy(line[at-(len(tick.label)-1)/2:], tick.label)
	}
	copy(line[margin+textColumns:], " Hz")
	return strings.TrimRight(string(line), " ")
}

// textPlace is where a frequency in Hz lies between the two ends of a graph, 0 to 1.
func textPlace(hz float64) float64 {
	return math.Log(hz/lowestHz) / math.Log(highestHz/lowestHz)
}

func blankLetters(rows int) [][]rune {
	letters := make([][]rune, rows)
	for row := range letters {
		letters[row] = []rune(strings.Repeat(" ", textColumns))
	}
	return letters
}

// asciiLetters draws a curve with ' - . for the upper, middle and lower third of a line,
// and | where it is steep.
func asciiLetters(e equaliser, f frame) [][]rune {
	letters := blankLetters(f.rows())
	thirds := 3 * f.rows()
	last := -1
	for column, level := range e.curve(e.shape, e.across(textColumns)) {
		at := heightOf(level, f, thirds)
		if last >= 0 {
			for row := min(last, at)/3 + 1; row < max(last, at)/3; row++ {
				letters[row][column] = '|'
			}
		}
		if at < thirds {
			letters[at/3][column] = rune("'-."[at%3])
		}
		last = at
	}
	return letters
}

// heightOf is how many of so many equal parts of a frame, of which each row has the same
// number around its level, lie above a level. It is of them where a level is below the frame.
func heightOf(level float64, f frame, of int) int {
	perRow := float64(of / f.rows())
	above := ((f.top-level)/f.step + 0.5) * perRow
	return int(math.Floor(max(min(above, float64(of)), 0)))
}

// dotBits are the dots of a braille letter (Unicode block "Braille Patterns", U+2800), by
// column and row.
var dotBits = [2][4]rune{{0x01, 0x02, 0x04, 0x40}, {0x08, 0x10, 0x20, 0x80}}

// dotLetters draws a curve with braille letters, two dots wide and four high.
func dotLetters(e equaliser, f frame) [][]rune {
	letters := blankLetters(f.rows())
	dots := 4 * f.rows()
	// A level on a line is in the middle of four dots, where the last digit would decide. A
	// quarter of a dot lower it is always the third.
	lower := f.step / 16
	last := -1
	for column, level := range e.curve(e.shape, e.across(2*textColumns)) {
		at := heightOf(level-lower, f, dots)
		from, to := at, at
		switch {
		case last >= 0 && last < at:
			from = last + 1
		case last > at:
			to = last - 1
		}
		for dot := from; dot <= min(to, dots-1); dot++ {
			letter := &letters[dot/4][column/2]
			if *letter == ' ' {
				*letter = 0x2800
			}
			*letter |= dotBits[column%2][dot%4]
		}
		last = at
	}
	return letters
}
