package source

import (
	"slices"
	"strings"
)

// addInBraces puts a key into a table in braces, after its nearest sibling there.
func (d *Document) addInBraces(braces *node, names []string, value string) []patch {
	v := braces.value
	anchor, before := anchorOf(v.entries, names)
	if anchor == nil {
		return d.addInEmptyBraces(braces, d.keyLike(nil, names)+" = "+value)
	}
	gap, after := d.gaps(anchor)
	if len(gap) > 1 {
		gap = " " // a column of its own means nothing to a single key
	}
	addition := d.keyLike(anchor.parts, names) + gap + "=" + after + value
	switch at := anchor.parts[0].start; {
	case before && d.ownLine(anchor):
		return []patch{insert(at, addition+","+d.lineEnding(at)+d.indentOf(at))}
	case before:
		return []patch{insert(at, addition+","+d.commaGap(v, anchor))}
	case d.ownLine(anchor):
		return d.addLineInBraces(anchor, addition)
	}
	return []patch{insert(anchor.value.end, ","+d.commaGap(v, anchor)+addition)}
}

func insert(at int, text string) patch { return patch{span{at, at}, text} }

// addInEmptyBraces fills braces that hold nothing, or nothing but comments.
func (d *Document) addInEmptyBraces(braces *node, addition string) []patch {
	inside := span{braces.value.start + 1, braces.value.end - 1}
	if strings.Trim(d.raw(inside), " \t") == "" {
		return []patch{{inside, " " + addition + " "}}
	}
	return []patch{insert(inside.end, addition+d.lineEnding(inside.end))}
}

// ownLine reports whether nothing stands before a key on its line.
func (d *Document) ownLine(e *entry) bool {
	start := e.parts[0].start
	return strings.Trim(d.raw(span{d.lineStart(start), start}), " \t") == ""
}

// commaGap is what a person puts between the comma and the next key in these braces.
func (d *Document) commaGap(v *value, anchor *entry) string {
	i := slices.Index(v.entries, anchor)
	if i == 0 {
		i = 1
	}
	if i >= len(v.entries) {
		return " "
	}
	between := d.raw(span{v.entries[i-1].value.end, v.entries[i].parts[0].start})
	_, gap, _ := strings.Cut(between, ",")
	return onlySpaces(gap, " ")
}

// addLineInBraces puts a key on a line of its own below another that has one. The comma after the upper
// one stays or is added; the new one has a comma if the upper one had.
func (d *Document) addLineInBraces(anchor *entry, addition string) []patch {
	end := anchor.value.end
	next := d.nextLine(end)
	onLine := strings.TrimSpace(d.raw(span{end, next}))
	afterComma, hasComma := strings.CutPrefix(onLine, ",")
	afterComma = strings.TrimSpace(afterComma)
	indent := d.indentOf(anchor.parts[0].start)
	ending := d.lineEnding(next)
	switch {
	case hasComma && (afterComma == "" || afterComma[0] == '#'):
		return []patch{insert(next, indent+addition+","+ending)}
	case !hasComma && (onLine == "" || onLine[0] == '#') && !d.commaFollows(next):
		return []patch{insert(end, ","), insert(next, indent+addition+ending)}
	case hasComma:
		return []patch{insert(end, ", "+addition)}
	case onLine != "" && onLine[0] == '}':
		return []patch{insert(end, ","+ending+indent+addition)}
	}
	return []patch{insert(end, ", "+addition)}
}

// commaFollows reports whether a comma is the next thing after spaces, comments and line ends.
func (d *Document) commaFollows(at int) bool {
	s := &scanner{text: d.text, pos: at}
	s.skipBlank()
	return s.at(",")
}
