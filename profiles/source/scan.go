package source

import (
	"bytes"
	"fmt"
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

type valueKind uint8

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
	plain   any      // what a scalar holds, in a text that is plain
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
	file   string
	text   []byte
	source string // the text, for parts that stay
	pos    int
	line   int
	plain  bool // so far, see plain.go

	entries slab[entry]
	values  slab[value]
	rows    slab[keyPart]
}

// scan splits a text into blocks. There is always at least one, the part before the first header. It
// reports, too, whether the text is plain.
func scan(file string, text []byte) (blocks []*block, plain bool, fault *Fault) {
	if len(text) > maxSize {
		return nil, false, &Fault{file, 0, fmt.Sprintf("the file has %d bytes; the most is %d", len(text), maxSize)}
	}
	s := &scanner{file: file, text: text, source: string(text), line: 1, pos: markLength(text)}
	s.plain = isPlainText(s.source)
	keys := bytes.Count(text, []byte("="))
	s.entries, s.values, s.rows = slabFor[entry](keys), slabFor[value](keys), slabFor[keyPart](keys+keys/2)
	blocks, fault = s.blocks()
	return blocks, s.plain, fault
}

func (s *scanner) blocks() ([]*block, *Fault) {
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

func (s *scanner) at(prefix string) bool {
	return len(s.text)-s.pos >= len(prefix) && string(s.text[s.pos:s.pos+len(prefix)]) == prefix
}

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
		case c == ' ' || c == '\t' || c == '\r' && s.at("\r\n"):
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
		s.plain = false
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
	e := s.entries.one()
	e.line = s.line
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
	var few [4]keyPart
	parts := few[:0]
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
			row := s.rows.some(len(parts))
			copy(row, parts)
			return row, nil
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
		s.plain = false
		if fault := s.quoted(s.text[s.pos]); fault != nil {
			return keyPart{}, fault
		}
		inner := s.source[start+1 : s.pos-1]
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
	return keyPart{span{start, s.pos}, s.source[start:s.pos]}, nil
}

// isBare reports whether a byte may stand in a key without quotes.
func isBare(c byte) bool {
	return c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '_' || c == '-'
}
