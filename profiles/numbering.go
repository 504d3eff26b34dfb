package profiles

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles/source"
)

// numbering says how a desk writes the numbers of its channels, mixes, bands or
// groups: a stretch of them each in its own way, the last to the end. No stretch at
// all is the number as people count, from 1.
type numbering []stretch

// stretch is a run of numbers that are written in one way.
type stretch struct {
	from, upto int
	// first is what the desk calls the first of them; digits is how many figures a
	// number has at least, with zeros before it.
	first, digits int
	// words are what the desk calls them instead, in order.
	words []string
	// before and after stand around the number in an address.
	before, after string
}

// toTheEnd is the upto of a last stretch that does not say where it ends.
const toTheEnd = math.MaxInt

func (n numbering) stretch(number int) stretch {
	for _, s := range n {
		if number <= s.upto {
			return s
		}
	}
	return stretch{from: 1, first: 1, upto: toTheEnd}
}

// appendWord writes the number as it stands in an address.
func (n numbering) appendWord(to []byte, number int) []byte {
	s := n.stretch(number)
	to = append(to, s.before...)
	if len(s.words) > 0 {
		to = append(to, s.words[number-s.from]...)
		return append(to, s.after...)
	}
	begun := len(to)
	to = strconv.AppendInt(to, int64(s.wire(number)), 10)
	for len(to)-begun < s.digits {
		to = slices.Insert(to, begun, '0')
	}
	return append(to, s.after...)
}

func (s stretch) wire(number int) int { return number - s.from + s.first }

// argument is the number as it stands among the arguments of a message.
func (n numbering) argument(number int) any {
	s := n.stretch(number)
	if len(s.words) > 0 {
		return s.words[number-s.from]
	}
	return int32(s.wire(number))
}

// last is the last number that the numbering says how to write.
func (n numbering) last() int {
	if len(n) == 0 {
		return toTheEnd
	}
	return n[len(n)-1].upto
}

// numberings reads [numbers], where a profile says how the desk counts.
func (l *loader) numberings() {
	if t, ok := l.root.Table("numbers"); ok {
		for _, counter := range allCounters {
			if list, ok := t.Tables(counter); ok {
				l.numbers[counter] = readNumbering(list, counter)
			}
		}
	}
	for _, counter := range allCounters {
		count := l.counts()[counter]
		if last := l.numbers[counter].last(); last < count {
			l.faultIn("numbers", "nothing says how %s %d is written, the last being %d", counter, last+1, count)
			delete(l.numbers, counter)
		}
	}
}

// readNumbering reads the stretches of one counter. It gives none after a fault.
func readNumbering(list []*source.Table, counter string) numbering {
	for _, t := range list {
		for _, key := range []string{"upto", "first", "digits", "words", "write"} {
			t.Has(key) // so that one fault is not told as several
		}
	}
	var n numbering
	from := 1
	for i, t := range list {
		s := stretch{from: from, upto: toTheEnd, first: from}
		if !readStretch(t, &s, counter) {
			return nil
		}
		if s.upto == toTheEnd && i < len(list)-1 {
			t.Fault("", "upto is missing: write the last %s that is written in this way, upto = ...", counter)
			return nil
		}
		n, from = append(n, s), s.upto+1
	}
	return n
}

func readStretch(t *source.Table, s *stretch, counter string) bool {
	ok := readEnd(t, s, counter)
	if first, given := t.Integer("first"); given {
		s.first = first
		if first < 0 || first > maxAddresses {
			t.Fault("first", "first = %d: write what the desk calls the first %s, 0 to %d", first, counter, maxAddresses)
			ok = false
		}
	}
	if digits, given := t.Integer("digits"); given {
		s.digits = digits
		if digits < 1 || digits > 6 {
			t.Fault("digits", "digits = %d: write a number from 1 to 6", digits)
			ok = false
		}
	}
	if write, given := t.Text("write"); given {
		var found bool
		s.before, s.after, found = strings.Cut(write, "{}")
		if !found || len(write) > maxPattern || !inAddress(s.before+"0"+s.after) {
			t.Fault("write", `write = %q: write what stands around the number in an address, with {} for it, as "in/{}"`, write)
			ok = false
		}
	}
	return ok
}

// readEnd reads where a stretch ends: at a number, after its words, or with the last
// of all.
func readEnd(t *source.Table, s *stretch, counter string) bool {
	upto, given := t.Integer("upto")
	if given {
		s.upto = upto
		if upto < s.from || upto > maxAddresses {
			t.Fault("upto", "upto = %d: write the last %s that is written in this way, %d or more", upto, counter, s.from)
			return false
		}
	}
	words, ok := t.Texts("words")
	if !ok {
		return !t.Has("words")
	}
	s.words = words
	ends := s.from + len(words) - 1
	switch {
	case len(words) == 0 || given && ends != upto:
		t.Fault("words", "%d words for %s %d to %d", len(words), counter, s.from, max(s.upto, s.from))
		return false
	case t.Has("first") || t.Has("digits"):
		t.Fault("words", "words: a %s has a number or a word, not both", counter)
		return false
	}
	for i, word := range words {
		switch {
		case word == "" || !inAddress(word):
			t.Fault("words", "the word %q can't be part of an OSC address", word)
		case slices.Contains(words[:i], word):
			t.Fault("words", "the word %q stands twice", word)
		default:
			continue
		}
		return false
	}
	s.upto = ends
	return true
}

// inAddress reports whether a text may stand within an address, between other parts.
func inAddress(text string) bool {
	return checkLiteral(text, text) == nil && !strings.HasPrefix(text, "/") && !strings.HasSuffix(text, "/") && !strings.Contains(text, "//")
}
