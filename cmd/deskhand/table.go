package main

import (
	"strings"
	"unicode/utf8"
)

// The least widths of a table's columns, so that most tables are alike.
const (
	labelWidth = 12
	toWidth    = 10
)

// table lines rows up: label, both values with their signs hanging to the left of the
// figures, and the step. What is only sent again has one value.
func table(rows []row, p paint) string {
	label, from, to, again := labelWidth, 0, toWidth, 0
	for _, r := range rows {
		label = max(label, utf8.RuneCountInString(r.label))
		switch {
		case r.again:
			again = max(again, utf8.RuneCountInString(hanging(r.to)))
		case !r.wide:
			from = max(from, utf8.RuneCountInString(hanging(r.from)))
			to = max(to, utf8.RuneCountInString(r.to))
		}
	}
	var b strings.Builder
	for _, r := range rows {
		line := "  " + pad(r.label, label) + " "
		switch {
		case r.again:
			line += pad(hanging(r.to), again) + "   sent again"
		case r.wide:
			line += hanging(r.from) + "  ->  " + r.to
		default:
			line += pad(hanging(r.from), from) + " -> " + pad(r.to, to) + "   " + r.step
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
		for _, note := range r.notes {
			b.WriteString("  " + pad("", label) + "  " + p.dim(note) + "\n")
		}
	}
	return b.String()
}

// hanging leaves room for a sign where a text has none.
func hanging(s string) string {
	if strings.HasPrefix(s, "-") {
		return s
	}
	return " " + s
}

func pad(s string, width int) string {
	return s + strings.Repeat(" ", max(width-utf8.RuneCountInString(s), 0))
}
