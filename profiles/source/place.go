package source

import (
	"bytes"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// waysToAdd gives the places where a new key could stand below a table, the likeliest first. rest is the
// names that are missing: the key itself, and before it any tables that there are not yet.
func (d *Document) waysToAdd(table *node, rest []string, value any) [][]patch {
	text := restyle(d.rawNamesake(rest[len(rest)-1]), value)
	if braces, below := bracesOf(table); braces != nil {
		return [][]patch{d.addInBraces(braces, append(below, rest...), text)}
	}
	if len(rest) == 1 {
		if table.form == impliedTable {
			return [][]patch{d.addHeader(table, 0, rest, text)}
		}
		return [][]patch{d.addKey(table, rest, text)}
	}
	inBlock := func() []patch { return d.addKey(table, rest, text) }
	underHeader := func() []patch { return d.addHeader(table, d.headerDepth(table, rest), rest, text) }
	sibling := lastTable(table)
	switch {
	case sibling != nil && sibling.form == bracedTable:
		return [][]patch{d.addBraced(table, sibling, rest, text), inBlock()}
	case table.form == dottedTable, sibling != nil && sibling.form == dottedTable:
		return [][]patch{inBlock()}
	case table.form == impliedTable:
		return [][]patch{underHeader()}
	case sibling == nil && table.parent != nil:
		return [][]patch{inBlock(), underHeader()}
	}
	return [][]patch{underHeader(), inBlock()}
}

// rawNamesake is how the value of the last key of the same name is written elsewhere in the document, or "".
func (d *Document) rawNamesake(name string) string {
	raw := ""
	var visit func(n *node)
	visit = func(n *node) {
		if n.name == name && n.entry != nil && n.value.kind == scalarValue {
			raw = d.raw(n.value.span)
		}
		for _, child := range n.keys {
			visit(child)
		}
		for _, elem := range n.elems {
			visit(elem)
		}
	}
	visit(d.root)
	return raw
}

// bracesOf finds the table in braces that a table is, or that it was made in by dotted keys, and the names from there.
func bracesOf(table *node) (braces *node, below []string) {
	for n := table; n != nil; n = n.parent {
		if n.isTable && n.form == bracedTable {
			return n, below
		}
		below = append([]string{n.name}, below...)
	}
	return nil, nil
}

// lastTable is the last table directly inside another; it shows how a person writes them here.
func lastTable(table *node) *node {
	for _, child := range slices.Backward(table.keys) {
		if child.isTable {
			return child
		}
	}
	return nil
}

// addKey puts a key into the block where the table's keys are.
func (d *Document) addKey(table *node, rest []string, value string) []patch {
	names := append(inBlock(table), rest...)
	anchor, before := anchorOf(table.block.entries, names)
	if anchor == nil {
		return d.addFirstKey(table.block, names, value)
	}
	line := d.indentOf(anchor.parts[0].start) + d.assignment(table.block, anchor, names) + value
	if before {
		at := d.lineStart(anchor.parts[0].start)
		return []patch{insert(at, line+d.lineEnding(d.nextLine(at)))}
	}
	return []patch{d.lineAfter(anchor.value.end, line)}
}

// inBlock is the names that lead from a block's header to a table made by dotted keys in it.
func inBlock(table *node) []string {
	if table.form != dottedTable {
		return nil
	}
	return append(inBlock(table.parent), table.name)
}

// anchorOf is the key beside which a new one goes: after the last of those with the most names in common.
// Where bands or channels are numbered, it goes by number, which may be before the first of them.
func anchorOf(entries []*entry, names []string) (anchor *entry, before bool) {
	most := 0
	for _, e := range entries {
		most = max(most, shared(e.parts, names))
	}
	var like []*entry
	for _, e := range entries {
		if shared(e.parts, names) == most {
			like = append(like, e)
		}
	}
	if len(like) == 0 {
		return nil, false
	}
	i := placeByNumber(names[most], len(like), func(i int) string { return like[i].parts[most].name })
	if i < 0 {
		return like[0], true
	}
	return like[i], false
}

// placeByNumber is the place after which a name goes among others: the last with a smaller number, -1
// for before the first, or the last of all when they aren't numbered.
func placeByNumber(name string, count int, nameOf func(int) string) int {
	number, err := strconv.Atoi(name)
	if err != nil {
		return count - 1
	}
	place := -1
	for i := range count {
		other, err := strconv.Atoi(nameOf(i))
		if err != nil {
			return count - 1
		}
		if other <= number {
			place = i
		}
	}
	return place
}

// shared counts the names at the beginning that a key has in common with others.
func shared(parts []keyPart, names []string) int {
	n := 0
	for n < len(parts) && n < len(names) && parts[n].name == names[n] {
		n++
	}
	return n
}

// keyLike writes a key; the names that it shares with a neighbour are written as they are there.
func (d *Document) keyLike(parts []keyPart, names []string) string {
	texts := make([]string, len(names))
	for i, name := range names {
		texts[i] = keyText(name)
	}
	n := shared(parts, names)
	switch {
	case n == 0:
		return strings.Join(texts, ".")
	case n == len(names):
		return d.raw(span{parts[0].start, parts[n-1].end})
	case n < len(parts):
		return d.raw(span{parts[0].start, parts[n].start}) + strings.Join(texts[n:], ".")
	}
	return d.raw(span{parts[0].start, parts[n-1].end}) + "." + strings.Join(texts[n:], ".")
}

// assignment writes a key and its equals sign like a neighbour in the same block, in the same column if
// signs stand in a column there.
func (d *Document) assignment(b *block, like *entry, names []string) string {
	key := d.keyLike(like.parts, names)
	before, after := d.gaps(like)
	if strings.Trim(before, " ") == "" && d.inColumn(b, like) {
		width := utf8.RuneCountInString(d.raw(like.keySpan())) + len(before) - utf8.RuneCountInString(key)
		before = strings.Repeat(" ", max(width, min(len(before), 1)))
	}
	return key + before + "=" + after
}

// gaps is what stands before and after the equals sign of a key.
func (d *Document) gaps(e *entry) (before, after string) {
	return d.gapsBetween(e.keySpan().end, e.value.start)
}

func (d *Document) gapsBetween(keyEnd, valueStart int) (before, after string) {
	before, after, _ = strings.Cut(d.raw(span{keyEnd, valueStart}), "=")
	return before, after
}

// inColumn reports whether the equals sign of a key stands in one column with those on the neighbouring
// lines on purpose, which shows when the keys have several lengths.
func (d *Document) inColumn(b *block, e *entry) bool {
	i := slices.Index(b.entries, e)
	for _, j := range []int{i - 1, i + 1} {
		if j < 0 || j >= len(b.entries) {
			continue
		}
		other := b.entries[j]
		adjacent := other.line == e.line-1 || other.line == e.line+1
		if adjacent && d.equalsColumn(other) == d.equalsColumn(e) && d.keyWidth(other) != d.keyWidth(e) {
			return true
		}
	}
	before, _ := d.gaps(e)
	return len(before) > 1
}

func (d *Document) keyWidth(e *entry) int { return utf8.RuneCountInString(d.raw(e.keySpan())) }

// equalsColumn is the number of characters on the line before the equals sign.
func (d *Document) equalsColumn(e *entry) int {
	before, _ := d.gaps(e)
	return utf8.RuneCountInString(d.indentOf(e.parts[0].start)) + d.keyWidth(e) + len(before)
}

// addFirstKey puts a key into a block that has none.
func (d *Document) addFirstKey(b *block, names []string, value string) []patch {
	line := d.keyLike(nil, names) + " = " + value
	if b.head != nil {
		return []patch{d.lineAfter(b.head.end, d.indentOf(b.head.start)+line)}
	}
	if len(d.blocks) > 1 {
		at := d.leadStart(d.blocks[1])
		return []patch{{span{at, at}, line + d.lineEnding(at) + d.lineEnding(at)}}
	}
	return []patch{d.paragraphAtEnd(line)}
}

// addBraced puts a new table in braces beside one that is written so.
func (d *Document) addBraced(table, sibling *node, rest []string, value string) []patch {
	opening, closing := " ", " "
	var like []keyPart
	before, after := " ", " "
	v := sibling.value
	if len(v.entries) > 0 {
		first, last := v.entries[0], v.entries[len(v.entries)-1]
		opening = onlySpaces(d.raw(span{v.start + 1, first.parts[0].start}), opening)
		closing = onlySpaces(d.raw(span{last.value.end, v.end - 1}), closing)
		before, after = d.gaps(first)
		like = first.parts
	}
	braced := "{" + opening + d.keyLike(like, rest[1:]) + before + "=" + after + value + closing + "}"
	return d.addKey(table, rest[:1], braced)
}

// onlySpaces is a gap if it is nothing but spaces, or else another one.
func onlySpaces(gap, otherwise string) string {
	if strings.Trim(gap, " \t") != "" {
		return otherwise
	}
	return gap
}

// indentOf is the spaces at the start of a line up to a place, or "" when there is something else.
func (d *Document) indentOf(at int) string {
	return onlySpaces(d.raw(span{d.lineStart(at), at}), "")
}

// lineStart is where the line of a place begins, after a byte order mark.
func (d *Document) lineStart(at int) int {
	return max(bytes.LastIndexByte(d.text[:at], '\n')+1, min(markLength(d.text), at))
}

// nextLine is where the line after that of a place begins, or the end of the text.
func (d *Document) nextLine(at int) int {
	if n := bytes.IndexByte(d.text[at:], '\n'); n >= 0 {
		return at + n + 1
	}
	return len(d.text)
}

// endsLine reports whether a place is the start of a line because the one before it has ended.
func (d *Document) endsLine(at int) bool {
	return at <= markLength(d.text) || d.text[at-1] == '\n'
}

// lineEnding is how the line before a place ends, or the first line of the text: "\n" or "\r\n".
func (d *Document) lineEnding(at int) string {
	end := bytes.LastIndexByte(d.text[:at], '\n')
	if end < 0 {
		end = bytes.IndexByte(d.text, '\n')
	}
	if end > 0 && d.text[end-1] == '\r' {
		return "\r\n"
	}
	return "\n"
}

// lineAfter adds a line below the one of a place. A text without a last line ending stays without.
func (d *Document) lineAfter(at int, line string) patch {
	next := d.nextLine(at)
	if !d.endsLine(next) {
		return patch{span{next, next}, d.lineEnding(next) + line}
	}
	return patch{span{next, next}, line + d.lineEnding(next)}
}
