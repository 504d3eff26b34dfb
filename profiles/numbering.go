package profiles

import (
	"fmt"
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

func (n numbering) stretch(number int) stretch {
	for _, s := range n {
		if number <= s.upto {
			return s
		}
	}
	return stretch{from: 1, first: 1}
}

// word is the number as it stands in an address.
func (n numbering) word(number int) string {
	s := n.stretch(number)
	return s.before + s.bare(number) + s.after
}

func (s stretch) bare(number int) string {
	if len(s.words) > 0 {
		return s.words[number-s.from]
	}
	figures := strconv.Itoa(s.wire(number))
	return strings.Repeat("0", max(s.digits-len(figures), 0)) + figures
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

// numberings reads [numbers], where a profile says how the desk counts.
func (l *loader) numberings() {
	if !l.root.Has("numbers") {
		return
	}
	t, ok := l.root.Table("numbers")
	if !ok {
		return
	}
	counts := l.counts()
	for _, counter := range []string{"channel", "mix", "band", "group"} {
		if !t.Has(counter) {
			continue
		}
		if list, ok := t.Tables(counter); ok {
			l.numbers[counter] = readNumbering(list, counter, counts[counter])
		}
	}
}

func readNumbering(list []*source.Table, counter string, count int) numbering {
	var n numbering
	from := 1
	for i, t := range list {
		s := stretch{from: from, upto: count, first: from}
		upto, ok := t.Integer("upto")
		switch {
		case ok && (upto < from || upto > count):
			t.Fault("upto", "upto = %d: here it is a number from %d to %d, the last %s", upto, from, count, counter)
		case ok:
			s.upto = upto
		case i < len(list)-1:
			t.Fault("", "upto is missing: write the last %s that is written in this way, upto = ...", counter)
		}
		readStretch(t, &s, counter)
		n, from = append(n, s), s.upto+1
	}
	if len(n) > 0 && n[len(n)-1].upto < count {
		list[len(list)-1].Fault("upto", "nothing says how %s %d is written", counter, from)
	}
	return n
}

func readStretch(t *source.Table, s *stretch, counter string) {
	if first, ok := t.Integer("first"); ok {
		s.first = first
		if first < 0 || first > maxAddresses {
			t.Fault("first", "first = %d: write what the desk calls the first %s, 0 to %d", first, counter, maxAddresses)
		}
	}
	if digits, ok := t.Integer("digits"); ok {
		s.digits = digits
		if digits < 1 || digits > 6 {
			t.Fault("digits", "digits = %d: write a number from 1 to 6", digits)
		}
	}
	if words, ok := t.Texts("words"); ok {
		s.words = words
		if len(words) != s.upto-s.from+1 {
			t.Fault("words", "%d words for %d numbers, %s %d to %d", len(words), s.upto-s.from+1, counter, s.from, s.upto)
		}
		for _, word := range words {
			if err := checkLiteral(word, word); err != nil || word == "" {
				t.Fault("words", "the word %q can't be part of an OSC address", word)
			}
		}
	}
	if write, ok := t.Text("write"); ok {
		before, after, found := strings.Cut(write, "{}")
		if !found || checkLiteral(write, before+after) != nil {
			t.Fault("write", `write = %q: write what stands around the number in an address, with {} for it, as "in/{}"`, write)
			return
		}
		s.before, s.after = before, after
	}
}

// describe says how a numbering begins, for a person.
func (n numbering) describe() string {
	if len(n) == 0 {
		return "from 1"
	}
	return fmt.Sprintf("from %s", n.word(1))
}
