package source

import (
	"bytes"
	"strings"
)

// value reads one value; depth is the length of the path that leads to it.
func (s *scanner) value(depth int) (*value, *Fault) {
	v := s.values.one()
	v.start, v.line = s.pos, s.line
	isPlain := false
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
		isPlain = v.line == s.line && !s.endsInComma()
	case s.at(`"""`), s.at("'''"):
		fault = s.multiline(s.text[s.pos])
	case s.at(`"`), s.at("'"):
		if fault = s.quoted(s.text[s.pos]); fault == nil {
			v.plain, isPlain = plainText(s.source[v.start:s.pos])
		}
	default:
		if fault = s.bareValue(); fault == nil {
			v.plain, isPlain = plainValue(s.source[v.start:s.pos])
		}
	}
	if fault != nil {
		return nil, fault
	}
	v.end = s.pos
	s.plain = s.plain && isPlain
	return v, nil
}

// endsInComma reports whether the table in braces that has just ended has a comma after its last key.
func (s *scanner) endsInComma() bool {
	return strings.HasSuffix(strings.TrimRight(s.source[:s.pos-1], " \t"), ",")
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
	for !s.atEnd() && strings.IndexByte(",]}#\n", s.text[s.pos]) < 0 {
		s.pos++
	}
	word := bytes.TrimRight(s.text[start:s.pos], " \t\r")
	s.pos = start + len(word)
	if len(word) == 0 {
		return s.fault(s.line, "a value should stand here, but %s", s.found())
	}
	return s.plainWord(s.source[start:s.pos])
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
