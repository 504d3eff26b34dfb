package profiles

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// member is one parameter of a family on its way into the profile, with what its
// place among the others depends on.
type member struct {
	Parameter
	section int // where the section that its first word names begins
	number  int // of its band, mix or group
	order   int // of its family
}

// expand lays out every parameter of the desk with its address, and finds
// parameters that share one.
func (l *loader) expand(families []family) {
	counts, total := l.counts(), 0
	for _, f := range families {
		total += size(f.counters, counts)
	}
	if total > maxInAll {
		l.root.Fault("", "the profile would expand to %d addresses in all: at most %d are allowed", total, maxInAll)
		return
	}
	p := l.profile
	p.entries = make(map[Parameter]entry, total)
	p.places = make(map[string]Parameter, total)
	members := make([]member, 0, total)
	lines := make(map[*Control]int, len(families))
	sections := sectionsOf(families)
	for _, f := range families {
		lines[f.control] = f.line
		members = l.expandFamily(members, f, sections, lines)
	}
	slices.SortFunc(members, compareMembers)
	p.parameters = make([]Parameter, len(members))
	for i, m := range members {
		p.parameters[i] = m.Parameter
	}
}

// sectionsOf gives where in the order of reading the section of a first word begins:
// all of the EQ stands together, the desk's own parameters of it too.
func sectionsOf(families []family) map[string]int {
	sections := make(map[string]int)
	for _, f := range families {
		head := firstWord(f.name)
		if first, ok := sections[head]; !ok || f.order < first {
			sections[head] = f.order
		}
	}
	return sections
}

func firstWord(name string) string {
	word, _, _ := strings.Cut(name, ".")
	return word
}

func (l *loader) expandFamily(members []member, f family, sections map[string]int, lines map[*Control]int) []member {
	p := l.profile
	told := false
	each(f.counters, l.counts(), func(numbers map[string]int) {
		q := f.parameter(numbers)
		address := f.pattern.fill(numbers)
		if holder := l.holder(address, lines); holder != "" && !told {
			told = true // one fault a pattern, not one a channel
			l.document.AddFault(f.line, "%s and %s share the address %s", q, holder, address)
		}
		p.entries[q] = entry{f.control, address}
		p.places[address] = q
		m := member{Parameter: q, section: sections[firstWord(f.name)], order: f.order}
		if i := slices.IndexFunc(f.counters, func(c string) bool { return c != f.part.String() }); i >= 0 {
			m.number = numbers[f.counters[i]]
		}
		members = append(members, m)
	})
	return members
}

// holder says who has an address already, or "".
func (l *loader) holder(address string, lines map[*Control]int) string {
	p := l.profile
	if q, taken := p.places[address]; taken {
		return fmt.Sprintf("%s (line %d)", q, lines[p.entries[q].control])
	}
	switch address {
	case p.identity.ask, p.identity.answer:
		return "[identity]"
	case p.follow.ask:
		return "[follow]"
	}
	return ""
}

// each calls f for every combination of the counters' numbers, from 1.
func each(counters []string, counts map[string]int, f func(map[string]int)) {
	numbers := make(map[string]int, len(counters))
	var turn func(i int)
	turn = func(i int) {
		if i == len(counters) {
			f(numbers)
			return
		}
		for n := 1; n <= counts[counters[i]]; n++ {
			numbers[counters[i]] = n
			turn(i + 1)
		}
	}
	turn(0)
}

// parameter is the member of the family with these numbers.
func (f family) parameter(numbers map[string]int) Parameter {
	words := strings.Split(f.name, ".")
	for i, word := range words {
		if i > 0 && slices.Contains(counters, word) {
			words[i] = strconv.Itoa(numbers[word])
		}
	}
	return Parameter{Place{f.part, numbers[f.part.String()]}, strings.Join(words, ".")}
}

// compareMembers orders parameters as people read them: place by place, and there the
// catalogue's sections in turn, a section's bands or mixes one after another.
func compareMembers(a, b member) int {
	return cmp.Or(
		comparePlaces(a.Place, b.Place),
		cmp.Compare(a.section, b.section),
		cmp.Compare(a.number, b.number),
		cmp.Compare(a.order, b.order),
		compareNames(a.Name, b.Name),
	)
}
