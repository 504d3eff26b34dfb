package source

import (
	"slices"
	"strings"
)

// headerDepth is how many of the missing names a new header takes in: as many as the headers beside it
// do, and otherwise one.
func (d *Document) headerDepth(table *node, rest []string) int {
	depth := 1
	for _, b := range d.below(table) {
		beside := b.head.parts[len(table.path()):]
		if len(beside) > len(rest)-1 || len(beside) <= depth {
			continue
		}
		if shared(beside[1:], rest[1:]) == len(beside)-1 {
			depth = len(beside)
		}
	}
	return depth
}

// below is the blocks whose headers begin with the path of a table, its own not included.
func (d *Document) below(table *node) []*block {
	path := table.path()
	var found []*block
	for _, b := range d.blocks[1:] {
		if len(b.head.parts) > len(path) && shared(b.head.parts, path) == len(path) {
			found = append(found, b)
		}
	}
	return found
}

// addHeader makes a new block for a table, whose header takes in so many of the missing names. With
// none it is the header that the table itself has done without, and goes before the first table inside it.
func (d *Document) addHeader(table *node, depth int, rest []string, value string) []patch {
	path := append(table.path(), rest[:depth]...)
	inside := d.below(table)
	var like *block
	switch {
	case len(inside) > 0:
		like = inside[len(inside)-1]
	case len(d.blocks) > 1:
		like = d.blocks[len(d.blocks)-1]
	}
	lines := d.headerLike(like, path) + "\n" + d.firstKeyLike(like, rest[depth:]) + value
	if depth == 0 {
		return []patch{d.paragraphBefore(inside[0], lines)}
	}
	next := d.blockAfter(table, inside, rest[0])
	if next == nil {
		return []patch{d.paragraphAtEnd(lines)}
	}
	return []patch{d.paragraphBefore(next, lines)}
}

// blockAfter is the block before which a new one of a name goes, below a table and among the blocks that
// are inside it; nil is the end of the text.
func (d *Document) blockAfter(table *node, inside []*block, name string) *block {
	after := table.block
	if len(inside) > 0 {
		depth := len(table.path())
		i := placeByNumber(name, len(inside), func(i int) string { return inside[i].head.parts[depth].name })
		if i < 0 {
			return inside[0]
		}
		after = inside[i]
	}
	i := slices.Index(d.blocks, after) + 1
	if i == len(d.blocks) {
		return nil
	}
	return d.blocks[i]
}

// headerLike writes a header, indented and spaced like another.
func (d *Document) headerLike(like *block, path []string) string {
	if like == nil {
		return "[" + dotted(path) + "]"
	}
	head := like.head
	inner := strings.TrimLeft(d.raw(span{head.start, head.parts[0].start}), "[")
	return d.indentOf(head.start) + "[" + inner + d.keyLike(head.parts, path) + inner + "]"
}

// firstKeyLike writes a key and its equals sign, indented and spaced like the first of another block.
func (d *Document) firstKeyLike(like *block, names []string) string {
	if like == nil || len(like.entries) == 0 {
		indent := ""
		if like != nil {
			indent = d.indentOf(like.head.start)
		}
		return indent + dotted(names) + " = "
	}
	first := like.entries[0]
	before, after := d.gaps(first)
	if len(before) > 1 {
		before = " " // a column of its own means nothing to a single key
	}
	return d.indentOf(first.parts[0].start) + d.keyLike(first.parts, names) + before + "=" + after
}

// leadStart is where a block begins, with the comments that stand right above its header.
func (d *Document) leadStart(b *block) int {
	at := d.lineStart(b.head.start)
	for at > markLength(d.text) {
		above := d.lineStart(at - 1)
		if !strings.HasPrefix(strings.TrimLeft(d.raw(span{above, at}), " \t"), "#") {
			break
		}
		at = above
	}
	return at
}

// paragraphBefore adds lines before a block, with an empty line between unless blocks have none here.
func (d *Document) paragraphBefore(next *block, lines string) patch {
	at := d.leadStart(next)
	ending := d.lineEnding(at)
	text := strings.ReplaceAll(lines, "\n", ending) + ending
	if at <= markLength(d.text) || d.blankBefore(at) {
		text += ending
	}
	return patch{span{at, at}, text}
}

// blankBefore reports whether the line before a place, which starts a line, is empty.
func (d *Document) blankBefore(at int) bool {
	return strings.TrimSpace(d.raw(span{d.lineStart(at - 1), at})) == ""
}

// paragraphAtEnd adds lines at the end of the text, with an empty line before them unless there is one,
// or the blocks of the text have none between them. A text without a last line ending stays without.
func (d *Document) paragraphAtEnd(lines string) patch {
	at := len(d.text)
	ending := d.lineEnding(at)
	text := strings.ReplaceAll(lines, "\n", ending)
	switch {
	case at <= markLength(d.text):
		return patch{span{at, at}, text + ending}
	case !d.endsLine(at):
		if d.spaced() {
			text = ending + text
		}
		return patch{span{at, at}, ending + text}
	case d.blankBefore(at) || !d.spaced():
		return patch{span{at, at}, text + ending}
	}
	return patch{span{at, at}, ending + text + ending}
}

// spaced reports whether new lines at the end need an empty one before them: the last block has one, or
// is the only one, or the text ends in a comment, which must not look as if it belonged to the new lines.
func (d *Document) spaced() bool {
	end := strings.TrimSuffix(string(d.text), "\n")
	if strings.HasPrefix(strings.TrimLeft(d.raw(span{d.lineStart(len(end)), len(end)}), " \t"), "#") {
		return true
	}
	last := d.blocks[len(d.blocks)-1]
	if last.head == nil {
		return true
	}
	at := d.leadStart(last)
	return at <= markLength(d.text) || d.blankBefore(at)
}
