package main

import (
	"bytes"
	"strings"

	"charm.land/lipgloss/v2"
	"github.com/charmbracelet/x/ansi"
)

// shade is how a piece of text looks. Nothing is said by it alone.
type shade int

const (
	usual  shade = iota
	head         // the name of a panel, or of what is on
	faint        // what is less important
	alarm        // what went wrong, or is too loud
	keyCap       // a key
)

// looks are the styles of the shades: few and dim, for a dark room.
type looks map[shade]lipgloss.Style

func looksFor(colours bool) looks {
	if !colours {
		return nil
	}
	style := lipgloss.NewStyle
	return looks{
		head:   style().Bold(true),
		faint:  style().Faint(true),
		alarm:  style().Foreground(lipgloss.Yellow),
		keyCap: style().Foreground(lipgloss.Cyan),
	}
}

// span is a piece of a line that looks alike. Its text has no control characters.
type span struct {
	text string
	look shade
}

// line is one line of the screen.
type line []span

func plainLine(text string) line { return line{{text, usual}} }

// width is how many columns a text takes on a terminal. Terminals count some characters
// differently; the greater figure is sure not to be too small.
func width(text string) int { return max(lipgloss.Width(text), ansi.StringWidthWc(text)) }

// cut shortens a text to so many columns.
func cut(text string, columns int) string {
	if width(text) <= columns {
		return text
	}
	if columns < 1 {
		return ""
	}
	text = ansi.Truncate(text, columns, "…")
	for width(text) > columns {
		text = ansi.TruncateWc(text, columns, "…")
		if width(text) > columns {
			columns--
		}
	}
	return text
}

// fill makes a text so many columns wide.
func fill(text string, columns int) string {
	text = cut(text, columns)
	return text + strings.Repeat(" ", max(columns-width(text), 0))
}

// drawn gives the line as it goes to the terminal, at most so many columns wide.
func (l line) drawn(k looks, columns int) string {
	var b strings.Builder
	for _, s := range l {
		text := cut(s.text, columns)
		columns -= width(text)
		if style, has := k[s.look]; has && text != "" {
			text = style.Render(text)
		}
		b.WriteString(text)
	}
	return b.String()
}

// apart puts one text at the left and another at the right, which gives way first.
func apart(left span, right span, columns int) line {
	room := columns - width(left.text)
	if room < width(right.text)+2 {
		return line{left}
	}
	return line{left, {strings.Repeat(" ", room-width(right.text)), usual}, right}
}

// wrapped breaks a text into lines of so many columns; those after the first are indented.
func wrapped(text string, columns, indent int) []string {
	columns = max(columns, indent+8)
	var lines []string
	rest := text
	for width(rest) > columns {
		first, more := broken(rest, columns)
		lines = append(lines, first)
		rest = strings.Repeat(" ", indent) + more
	}
	return append(lines, rest)
}

// broken splits a text that is too wide, at a space if there is a fit one.
func broken(text string, columns int) (string, string) {
	first := strings.TrimSuffix(cut(text, columns+1), "…")
	for width(first) > columns {
		_, size := lastCluster(first)
		first = first[:len(first)-size]
	}
	if first == "" || !strings.HasPrefix(text, first) {
		return cut(text, columns), ""
	}
	if at := strings.LastIndexByte(first, ' '); at > len(first)/2 && strings.TrimSpace(first[:at]) != "" {
		return first[:at], strings.TrimLeft(text[at:], " ")
	}
	return first, text[len(first):]
}

// lastCluster gives the last character of a text, with what is combined with it.
func lastCluster(text string) (string, int) {
	last := ""
	for rest := text; rest != ""; {
		last, _ = ansi.FirstGraphemeCluster(rest, ansi.GraphemeWidth)
		rest = rest[len(last):]
	}
	return last, max(len(last), 1)
}

// printed is what an app prints, without colours, and with what a terminal would act on
// written out.
func (a *app) printed(do func(*app)) string {
	var text bytes.Buffer
	quiet := *a
	quiet.out, quiet.paint = &output{to: &text}, paint{}
	do(&quiet)
	return text.String()
}

// safeText is a text of a file or of the desk with what a terminal would act on written out.
func safeText(text string) string { return string(shown([]byte(text), false)) }

// onOneLine makes a text safe and puts it on one line.
func onOneLine(text string) string {
	text = strings.TrimSpace(safeText(text))
	text = strings.ReplaceAll(text, "\t", " ")
	return strings.ReplaceAll(text, "\n", "; ")
}
