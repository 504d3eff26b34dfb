package source

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"
)

const (
	maxSize  = 4 << 20 // bytes of one file; a book's files are a few kilobytes
	maxDepth = 32      // tables and lists inside each other, counted along one path
)

// span is a stretch of bytes of the text, the end not included.
type span struct{ start, end int }

// keyPart is one name of a key: "eq" of eq.2.gain.
type keyPart struct {
	span        // as written, with its quotes
	name string // what it means
}

// entry is a key with its value, in a block or in an inline table.
type entry struct {
	line  int
	parts []keyPart
	value *value
}

// keySpan is the key as written, from its first name to its last.
func (e *entry) keySpan() span {
	return span{e.parts[0].start, e.parts[len(e.parts)-1].end}
}

type valueKind int

const (
	scalarValue valueKind = iota // text, number, switch or date
	arrayValue
	inlineValue // a table in braces
)

// value is where a value stands in the text; what it means is not the scanner's to say.
type value struct {
	span
	kind    valueKind
	line    int
	elems   []*value // of an array
	entries []*entry // of an inline table
}

// header is the line of a table: [strip.eq] or [[position]].
type header struct {
	span  // from the first bracket to the last
	line  int
	parts []keyPart
	array bool // double brackets
}

// block is a header and the keys below it; the first block of a file has no header.
type block struct {
	head    *header
	entries []*entry
}

// scanner finds the parts of a TOML text and leaves every byte where it is. It checks no more than it
// must to know where a value ends; the decoder is the judge of the rest.
type scanner struct {
	file string
	text []byte
	pos  int
	line int
}

// scan splits a text into blocks. There is always at least one, the part before the first header.
func scan(file string, text []byte) ([]*block, *Fault) {
	s := &scanner{file: file, text: text, line: 1}
	if len(text) > maxSize {
		return nil, &Fault{file, 0, fmt.Sprintf("the file has %d bytes; the most is %d", len(text), maxSize)}
	}
	s.pos = markLength(text)
	blocks := []*block{{}}
	for {
		s.skipBlank()
		if s.atEnd() {
			return blocks, nil
		}
		current := blocks[len(blocks)-1]
		if s.text[s.pos] == '[' {
			head, fault := s.header()
			if fault != nil {
				return nil, fault
			}
			blocks = append(blocks, &block{head: head})
		} else {
			e, fault := s.entry(current.depth())
			if fault != nil {
				return nil, fault
			}
			current.entries = append(current.entries, e)
		}
		if fault := s.lineEnd(); fault != nil {
			return nil, fault
		}
	}
}

// markLength is the length of the byte order mark that some editors put first. The decoder passes over all three.
func markLength(text []byte) int {
	for _, mark := range []string{"\xef\xbb\xbf", "\xff\xfe", "\xfe\xff"} {
		if bytes.HasPrefix(text, []byte(mark)) {
			return len(mark)
		}
	}
	return 0
}

func (b *block) depth() int {
	if b.head == nil {
		return 0
	}
	return len(b.head.parts)
}

func (s *scanner) atEnd() bool { return s.pos >= len(s.text) }

func (s *scanner) at(prefix string) bool { return bytes.HasPrefix(s.text[s.pos:], []byte(prefix)) }

func (s *scanner) fault(line int, format string, args ...any) *Fault {
	return &Fault{s.file, line, fmt.Sprintf(format, args...)}
}

// found names what stands at the current place, for a message.
func (s *scanner) found() string {
	if s.atEnd() {
		return "the file ends"
	}
	if s.text[s.pos] == '\n' || s.text[s.pos] == '\r' {
		return "the line ends"
	}
	r, _ := utf8.DecodeRune(s.text[s.pos:])
	return fmt.Sprintf("there is %q", r)
}

func (s *scanner) skipSpace() {
	for !s.atEnd() && (s.text[s.pos] == ' ' || s.text[s.pos] == '\t') {
		s.pos++
	}
}

// skipBlank passes over spaces, line ends and comments.
func (s *scanner) skipBlank() {
	for !s.atEnd() {
		switch c := s.text[s.pos]; {
		case c == '#':
			s.skipComment()
		case c == '\n':
			s.line++
			s.pos++
		case c == ' ' || c == '\t' || s.at("\r\n"):
			s.pos++
		default:
			return
		}
	}
}

// skipComment passes over a comment, up to the end of its line.
func (s *scanner) skipComment() {
	if n := bytes.IndexByte(s.text[s.pos:], '\n'); n >= 0 {
		s.pos += n
	} else {
		s.pos = len(s.text)
	}
}

// lineEnd wants nothing more on the line than a comment.
func (s *scanner) lineEnd() *Fault {
	s.skipSpace()
	if s.atEnd() || s.text[s.pos] == '\n' || s.at("\r\n") || s.text[s.pos] == '#' {
		return nil
	}
	return s.fault(s.line, "the line should end here or go on with a comment, but %s", s.found())
}

// header reads [name] or [[name]].
func (s *scanner) header() (*header, *Fault) {
	h := &header{span: span{start: s.pos}, line: s.line, array: s.at("[[")}
	closing := "]"
	if h.array {
		closing = "]]"
	}
	s.pos += len(closing)
	parts, fault := s.key(0)
	if fault != nil {
		return nil, fault
	}
	if !s.at(closing) {
		return nil, s.fault(s.line, "the name of a table should end with %q, but %s", closing, s.found())
	}
	s.pos += len(closing)
	h.parts, h.end = parts, s.pos
	return h, nil
}

// entry reads key = value; depth is how deep the table is that holds it.
func (s *scanner) entry(depth int) (*entry, *Fault) {
	e := &entry{line: s.line}
	parts, fault := s.key(depth)
	if fault != nil {
		return nil, fault
	}
	if !s.at("=") {
		return nil, s.fault(s.line, `a key should be followed by "=", but %s`, s.found())
	}
	s.pos++
	s.skipSpace()
	v, fault := s.value(depth + len(parts))
	if fault != nil {
		return nil, fault
	}
	e.parts, e.value = parts, v
	return e, nil
}

// key reads names with dots between them and stops at what follows, past any spaces.
func (s *scanner) key(depth int) ([]keyPart, *Fault) {
	var parts []keyPart
	for {
		s.skipSpace()
		part, fault := s.keyPart()
		if fault != nil {
			return nil, fault
		}
		parts = append(parts, part)
		if depth+len(parts) > maxDepth {
			return nil, s.tooDeep()
		}
		s.skipSpace()
		if !s.at(".") {
			return parts, nil
		}
		s.pos++
	}
}

func (s *scanner) tooDeep() *Fault {
	return s.fault(s.line, "tables and lists go more than %d deep here", maxDepth)
}

func (s *scanner) keyPart() (keyPart, *Fault) {
	start := s.pos
	if !s.atEnd() && (s.text[s.pos] == '"' || s.text[s.pos] == '\'') {
		if fault := s.quoted(s.text[s.pos]); fault != nil {
			return keyPart{}, fault
		}
		inner := string(s.text[start+1 : s.pos-1])
		if s.text[start] == '"' {
			plain, err := unescape(inner)
			if err != nil {
				return keyPart{}, s.fault(s.line, "%v", err)
			}
			inner = plain
		}
		return keyPart{span{start, s.pos}, inner}, nil
	}
	for !s.atEnd() && isBare(s.text[s.pos]) {
		s.pos++
	}
	if s.pos == start {
		return keyPart{}, s.fault(s.line, "a key should stand here, but %s", s.found())
	}
	return keyPart{span{start, s.pos}, string(s.text[start:s.pos])}, nil
}

// isBare reports whether a byte may stand in a key without quotes.
func isBare(c byte) bool {
	return c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '_' || c == '-'
}

// value reads one value; depth is the length of the path that leads to it.
func (s *scanner) value(depth int) (*value, *Fault) {
	v := &value{span: span{start: s.pos}, line: s.line}
	var fault *Fault
	switch {
	case depth > maxDepth:
		fault = s.tooDeep()
	case s.at("["):
		v.kind = arrayValue
		v.elems, fault = s.array(depth)
	case s.at("{"):
		v.kind = inlineValue
		v.entries, fault = s.inlineTable(depth)
	case s.at(`"""`), s.at("'''"):
		fault = s.multiline(s.text[s.pos])
	case s.at(`"`), s.at("'"):
		fault = s.quoted(s.text[s.pos])
	default:
		fault = s.bareValue()
	}
	if fault != nil {
		return nil, fault
	}
	v.end = s.pos
	return v, nil
}

// array reads [a, b, c] over any number of lines.
func (s *scanner) array(depth int) ([]*value, *Fault) {
	opened := s.line
	var elems []*value
	s.pos++
	for {
		s.skipBlank()
		if s.at("]") {
			s.pos++
			return elems, nil
		}
		if s.atEnd() {
			return nil, s.fault(opened, `the list that begins here has no closing "]"`)
		}
		v, fault := s.value(depth + 1)
		if fault != nil {
			return nil, fault
		}
		elems = append(elems, v)
		if fault := s.separator(opened, "list", "]"); fault != nil {
			return nil, fault
		}
	}
}

// inlineTable reads { a = 1, b = 2 } over any number of lines.
func (s *scanner) inlineTable(depth int) ([]*entry, *Fault) {
	opened := s.line
	var entries []*entry
	s.pos++
	for {
		s.skipBlank()
		if s.at("}") {
			s.pos++
			return entries, nil
		}
		if s.atEnd() {
			return nil, s.fault(opened, `the table that begins here has no closing "}"`)
		}
		e, fault := s.entry(depth)
		if fault != nil {
			return nil, fault
		}
		entries = append(entries, e)
		if fault := s.separator(opened, "table", "}"); fault != nil {
			return nil, fault
		}
	}
}

// separator passes over the comma after an element; before the closing bracket there need not be one.
func (s *scanner) separator(opened int, what, closing string) *Fault {
	s.skipBlank()
	switch {
	case s.at(","):
		s.pos++
		return nil
	case s.at(closing):
		return nil
	case s.atEnd():
		return s.fault(opened, "the %s that begins here has no closing %q", what, closing)
	}
	return s.fault(s.line, `a "," or the closing %q of the %s should stand here, but %s`, closing, what, s.found())
}

// quoted reads a text on one line, as a value or as a key.
func (s *scanner) quoted(quote byte) *Fault {
	for s.pos++; !s.atEnd(); s.pos++ {
		switch c := s.text[s.pos]; {
		case c == quote:
			s.pos++
			return nil
		case c == '\n':
			return s.fault(s.line, "the text has no closing %c on its line", quote)
		case c == '\\' && quote == '"' && s.pos+1 < len(s.text) && s.text[s.pos+1] != '\n':
			s.pos++
		}
	}
	return s.fault(s.line, "the text has no closing %c", quote)
}

// multiline reads a text between three quotes. Up to two more quotes may stand before the closing three.
func (s *scanner) multiline(quote byte) *Fault {
	opened := s.line
	for s.pos += 3; !s.atEnd(); s.pos++ {
		switch c := s.text[s.pos]; {
		case c == '\n':
			s.line++
		case c == '\\' && quote == '"':
			if s.pos+1 < len(s.text) && s.text[s.pos+1] != '\n' {
				s.pos++
			}
		case c == quote:
			run := s.run(quote)
			if run >= 3 {
				s.pos += run
				return nil
			}
			s.pos += run - 1
		}
	}
	return s.fault(opened, "the text that begins here has no closing %[1]c%[1]c%[1]c", quote)
}

// run counts the same bytes from the current place on.
func (s *scanner) run(c byte) int {
	n := 0
	for s.pos+n < len(s.text) && s.text[s.pos+n] == c {
		n++
	}
	return n
}

// bareValue reads a number, a switch or a date: all that has no brackets and no quotes.
func (s *scanner) bareValue() *Fault {
	start := s.pos
	for !s.atEnd() && bytes.IndexByte([]byte(",]}#\n"), s.text[s.pos]) < 0 {
		s.pos++
	}
	word := bytes.TrimRight(s.text[start:s.pos], " \t\r")
	s.pos = start + len(word)
	if len(word) == 0 {
		return s.fault(s.line, "a value should stand here, but %s", s.found())
	}
	return s.plainWord(string(word))
}

// plainWord catches a text without its quotes, the commonest slip, and says so better than the decoder would.
func (s *scanner) plainWord(word string) *Fault {
	switch lower := strings.ToLower(word); {
	case lower == word && (word == "true" || word == "false" || word == "inf" || word == "nan"):
		return nil
	case lower == "true" || lower == "false" || lower == "inf" || lower == "nan":
		return s.fault(s.line, "%s is written %s", word, lower)
	case lower[0] < 'a' || lower[0] > 'z':
		return nil
	}
	for i := range len(word) {
		if !isBare(word[i]) && word[i] != ' ' {
			return nil
		}
	}
	return s.fault(s.line, "%s is no value: a text needs quotes, %q", word, word)
}
