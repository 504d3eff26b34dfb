package profiles

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// expand lays out every parameter of the desk with its address, and finds
// parameters that share one.
func (l *loader) expand(families []family) {
	p := l.profile
	p.entries = make(map[Parameter]entry)
	p.places = make(map[string]Parameter)
	for _, address := range []string{p.identity.ask, p.identity.answer, p.follow.ask} {
		p.places[address] = Who
	}
	counts, total := l.counts(), 0
	for _, f := range families {
		total += size(f.counters, counts)
	}
	if total > maxInAll {
		l.root.Fault("", "the profile would expand to %d addresses in all: at most %d are allowed", total, maxInAll)
		return
	}
	for _, f := range families {
		l.expandFamily(f, counts)
	}
	delete(p.places, p.identity.ask)
	delete(p.places, p.identity.answer)
	delete(p.places, p.follow.ask)
	l.order(families)
}

func (l *loader) expandFamily(f family, counts map[string]int) {
	p := l.profile
	told := false
	each(f.counters, counts, func(numbers map[string]int) {
		q := f.parameter(numbers)
		address := f.pattern.fill(numbers)
		if other, taken := p.places[address]; taken && !told {
			told = true // one fault a pattern, not one a channel
			l.document.AddFault(f.control.line, "%s and %s share the address %s", q, l.sayTaken(other, address), address)
		}
		p.entries[q] = entry{f.control, address}
		p.places[address] = q
		p.parameters = append(p.parameters, q)
	})
}

func (l *loader) sayTaken(other Parameter, address string) string {
	switch {
	case other != Who:
		return other.String()
	case address == l.profile.follow.ask:
		return "[follow]"
	}
	return "[identity]"
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

func (f family) parameter(numbers map[string]int) Parameter {
	words := strings.Split(f.name, ".")
	for i, word := range words {
		if i > 0 && slices.Contains(counters, word) {
			words[i] = strconv.Itoa(numbers[word])
		}
	}
	return Parameter{Place{f.part, numbers[f.part.String()]}, strings.Join(words, ".")}
}

// order sorts the parameters as people read them: place by place, and there the
// catalogue's sections in turn, a section's bands or mixes one after another.
func (l *loader) order(families []family) {
	section := make(map[string]int) // by first word
	rank := make(map[string]int)    // by family name
	for _, f := range families {
		head, _, _ := strings.Cut(f.name, ".")
		if first, ok := section[head]; !ok || f.order < first {
			section[head] = f.order
		}
		rank[f.name] = f.order
	}
	type key struct {
		section, number, rank int
	}
	keys := make(map[string]key, len(families))
	keyOf := func(q Parameter) key {
		k, ok := keys[q.Name]
		if !ok {
			head, _, _ := strings.Cut(q.Name, ".")
			name, numbers := Family(q.Name)
			k = key{section: section[head], rank: rank[name]}
			for _, n := range numbers {
				k.number = n
			}
			keys[q.Name] = k
		}
		return k
	}
	slices.SortStableFunc(l.profile.parameters, func(a, b Parameter) int {
		x, y := keyOf(a), keyOf(b)
		return cmp.Or(
			cmp.Compare(a.Place.Part, b.Place.Part), cmp.Compare(a.Place.Number, b.Place.Number),
			cmp.Compare(x.section, y.section), cmp.Compare(x.number, y.number), cmp.Compare(x.rank, y.rank),
			compareNames(a.Name, b.Name),
		)
	})
}
