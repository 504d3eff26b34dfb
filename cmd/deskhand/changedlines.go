package main

import (
	"fmt"
	"strings"
)

// changedLine is a line that is in one of two texts only.
type changedLine struct {
	number int
	gone   bool
	text   string
}

func (l changedLine) String() string {
	mark := "+"
	if l.gone {
		mark = "-"
	}
	return fmt.Sprintf("%4d %s %s", l.number, mark, l.text)
}

// changedLines lists the lines that differ between two texts. Edits change or add
// single lines, so that the nearest line that both have ends a change.
func changedLines(old, text []byte) []changedLine {
	x, y := strings.Split(string(old), "\n"), strings.Split(string(text), "\n")
	var out []changedLine
	i, j := 0, 0
	for i < len(x) || j < len(y) {
		if i < len(x) && j < len(y) && x[i] == y[j] {
			i, j = i+1, j+1
			continue
		}
		gone, come := nextCommon(x[i:], y[j:])
		for n, line := range x[i : i+gone] {
			out = append(out, changedLine{i + n + 1, true, strings.TrimRight(line, "\r")})
		}
		for n, line := range y[j : j+come] {
			out = append(out, changedLine{j + n + 1, false, strings.TrimRight(line, "\r")})
		}
		i, j = i+gone, j+come
	}
	return out
}

// nextCommon says how many lines of each to skip until both go on alike.
func nextCommon(x, y []string) (int, int) {
	for total := 1; total <= len(x)+len(y); total++ {
		for gone := min(total, len(x)); gone >= 0; gone-- {
			come := total - gone
			if come <= len(y) && (gone == len(x) && come == len(y) || gone < len(x) && come < len(y) && x[gone] == y[come] && strings.TrimSpace(x[gone]) != "") {
				return gone, come
			}
		}
	}
	return len(x), len(y)
}
