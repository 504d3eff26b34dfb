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

// expand lays out every parameter of the desk with the messages that reach it, and
// finds parameters that share them.
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
	p.numbers = l.numbers
	x := &expansion{
		loader: l, sections: sectionsOf(families), members: make([]member, 0, total),
		lines: make(map[*Control]int, len(families)), units: make(map[string]*unit, total),
	}
	// What a profile says of one band, mix or group comes before what it says of all.
	slices.SortStableFunc(families, func(a, b family) int { return cmp.Compare(len(a.counters), len(b.counters)) })
	for _, f := range families {
		x.lines[f.control] = f.line
		x.family(f)
	}
	x.enterUnits()
	slices.SortFunc(x.members, compareMembers)
	p.parameters = make([]Parameter, len(x.members))
	for i, m := range x.members {
		p.parameters[i] = m.Parameter
	}
}

// expansion is what the laying out of the families of one profile has made so far.
type expansion struct {
	*loader
	sections map[string]int
	members  []member
	lines    map[*Control]int // of each family's address
	// units are by what tells them apart; order is as they were made.
	units map[string]*unit
	order []*unit
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

// family lays out the members of one family.
func (x *expansion) family(f family) {
	told := false
	each(f.counters, x.counts(), func(numbers map[string]int) {
		q := f.parameter(numbers)
		if _, taken := x.profile.entries[q]; taken {
			return // the profile says something else of this one
		}
		m := member{Parameter: q, section: x.sections[firstWord(f.name)], order: f.order, number: numberIn(q.Name)}
		x.members = append(x.members, m)
		e := entry{control: f.control}
		if len(f.pattern.literals) > 0 {
			e.address = f.pattern.fill(numbers, x.numbers)
			var holder string
			if e.unit, holder = x.unit(f, q, e.address, numbers); holder != "" && !told {
				told = true // one fault a pattern, not one a channel
				x.document.AddFault(f.line, "%s and %s share the address %s", q, holder, e.address)
			}
		}
		x.profile.entries[q] = e
	})
}

// numberIn is the number of a name's band, mix or group, 0 where it has none.
func numberIn(name string) int {
	_, numbers := Family(name)
	for _, n := range numbers {
		return n
	}
	return 0
}

// unit puts a parameter into the unit whose messages it shares: its own, or that of
// its slot. The text says who has that place already.
func (x *expansion) unit(f family, q Parameter, address string, numbers map[string]int) (*unit, string) {
	if address == x.profile.identity.ask || address == x.profile.identity.answer {
		return nil, "[identity]"
	}
	if _, taken := x.profile.follow.asks[address]; taken {
		return nil, "[follow]"
	}
	missing := slices.DeleteFunc(slices.Clone(f.counters), func(c string) bool { return slices.Contains(f.pattern.counters, c) })
	fill := func(t template) layout { return t.fill(address, missing, numbers, x.numbers) }
	made := &unit{tell: fill(x.tell), ask: fill(x.ask), answer: fill(x.answer), askable: !x.ask.never}
	key := fmt.Sprint(made.tell.address, made.tell.args)
	u, known := x.units[key]
	if !known {
		u = made
		x.units[key], x.order = u, append(x.order, u)
	}
	slot := max(f.slot, 1)
	for len(u.members) < slot {
		u.members = append(u.members, Parameter{})
	}
	if held := u.members[slot-1]; held != (Parameter{}) {
		return u, fmt.Sprintf("%s (line %d)", held, x.lines[x.profile.entries[held].control])
	}
	u.members[slot-1] = q
	return u, ""
}

// enterUnits makes every unit to be found by the messages about it.
func (x *expansion) enterUnits() {
	p := x.profile
	p.tells, p.asks, p.answers = make(doors, len(x.order)), make(doors, len(x.order)), make(doors, len(x.order))
	told := false
	for _, u := range x.order {
		if i := slices.Index(u.members, Parameter{}); i >= 0 {
			x.faultOf(u, &told, "%s: slot %d of its message is missing", u.first(), i+1)
			continue
		}
		x.enter(u, &told)
	}
}

func (x *expansion) enter(u *unit, told *bool) {
	for _, d := range []struct {
		doors  doors
		layout layout
		what   string
		skip   bool
	}{{x.profile.tells, u.tell, "setting", false}, {x.profile.answers, u.answer, "answer", false}, {x.profile.asks, u.ask, "question", !u.askable}} {
		if d.skip {
			continue
		}
		other, err := d.doors.add(d.layout, u)
		switch {
		case err != nil:
			x.faultOf(u, told, "%s: %s", u.first(), err)
		case other != nil:
			x.faultOf(u, told, "%s and %s share one %s, %s", u.first(), other.first(), d.what, d.layout.message([]any{"..."}))
		}
	}
	if tell, ok := x.profile.tells[u.ask.address]; ok && u.askable && tell.arguments <= len(u.ask.args) {
		x.faultOf(u, told, "%s: the question %s would set it", u.first(), u.ask.message(nil))
	}
}

// faultOf tells of the first fault of its kind only: the others are its like.
func (x *expansion) faultOf(u *unit, told *bool, format string, args ...any) {
	if !*told {
		*told = true
		x.document.AddFault(x.lines[x.profile.entries[u.first()].control], format, args...)
	}
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
