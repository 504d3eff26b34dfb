package profiles

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"deskhand/osc"
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
	l.requests()
	p := l.profile
	p.entries = make(map[Parameter]entry, total)
	p.numbers = l.numbers
	x := &expansion{
		loader: l, sections: sectionsOf(families), members: make([]member, 0, total), answer: l.answerTemplate(),
		lines: make(map[*Control]int, len(families)), units: make(map[string]*unit), order: make([]*unit, 0, total),
	}
	if !x.flatNumbersFit() {
		return
	}
	// What a profile says of one band, mix or group comes before what it says of all.
	slices.SortStableFunc(families, func(a, b family) int { return cmp.Compare(len(a.counters), len(b.counters)) })
	for _, f := range families {
		x.lines[f.control] = f.line
		x.family(f)
	}
	for _, q := range x.absent {
		delete(p.entries, q)
	}
	slices.SortFunc(x.members, compareMembers)
	p.parameters = make([]Parameter, 0, len(x.members))
	for _, m := range x.members {
		p.parameters = append(p.parameters, m.Parameter)
	}
	p.enterOrdinals()
	x.enterUnits()
	x.enterBlocks()
	if len(p.parameters) == 0 && len(l.faults()) == 0 {
		l.faultIn("", "the desk has no parameter: all are absent, or of places that it has none of")
	}
}

// expansion is what the laying out of the families of one profile has made so far.
type expansion struct {
	*loader
	answer   template
	sections map[string]int
	members  []member
	lines    map[*Control]int // of each family's address
	// units are those of several members, by what tells them apart; order is all of
	// them as they were made.
	units map[string]*unit
	order []*unit
	// absent hold a place among the entries until all families are laid out.
	absent []Parameter
	// toldOf are the lines of which a fault has been told.
	toldOf map[int]bool
}

// flatNumbersFit sees to it that the flat numbers of all places fit into an argument.
func (x *expansion) flatNumbersFit() bool {
	fit := true
	for key, t := range map[string]template{telling: x.tell, asking: x.ask, answering: x.loader.answer} {
		if err := t.checkFlat(x.counts()); err != nil {
			x.faultIn(key, "[%s]: %s", key, err)
			fit = false
		}
	}
	return fit
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
	for counter, n := range f.fixed {
		if n > x.counts()[counter] {
			return // of a larger desk that this one is based on
		}
	}
	reached := len(f.pattern.literals) > 0
	if reached && !x.reachesEach(f) {
		return
	}
	told := false
	section := x.sections[firstWord(f.name)]
	each(f.counters, x.counts(), f.fixed, func(numbers map[string]int) {
		q := f.parameter(numbers)
		if _, taken := x.profile.entries[q]; taken {
			return // the profile says something else of this one
		}
		e := entry{control: f.control}
		if f.absent {
			x.profile.entries[q] = e
			x.absent = append(x.absent, q)
			return
		}
		x.members = append(x.members, member{Parameter: q, section: section, order: f.order, number: numberOf(numbers)})
		if reached {
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

// numberOf is the number of a name's band, mix or group, 0 where it has none.
func numberOf(numbers map[string]int) int {
	for _, counter := range counters {
		if n, ok := numbers[counter]; ok {
			return n
		}
	}
	return 0
}

// reachesEach sees to it that messages tell the members of a family apart, whichever
// way they go, and that it has all the numbers that they hold.
func (x *expansion) reachesEach(f family) bool {
	for _, t := range []struct {
		key string
		template
	}{{telling, x.tell}, {asking, x.ask}, {answering, x.answer}} {
		if t.never || t.key == asking && f.control.reach != OverOSC {
			continue
		}
		for _, counter := range f.counters {
			switch {
			case t.holds(counter, f.pattern):
				continue
			case t.key == telling:
				x.document.AddFault(f.line, "address %q: {%s} is missing, so that each %s would share one address", f.pattern.text, counter, counter)
			default:
				x.document.AddFault(f.line, "address %q: {%s} is missing, and [%s] says it nowhere else, so that each %s would share one message",
					f.pattern.text, counter, t.key, counter)
			}
			return false
		}
		for _, counter := range t.at.counters {
			if counter != "at" && !slices.Contains(f.numbered(), counter) {
				x.document.AddFault(f.line, "%s.%s has no {%s}, which is in the address %q of [%s]", f.part, f.name, counter, t.at.text, t.key)
				return false
			}
		}
	}
	return true
}

// unit puts a parameter into the unit whose messages it shares: its own, or that of
// its slot. The text says who has that place already.
func (x *expansion) unit(f family, q Parameter, address string, numbers map[string]int) (*unit, string) {
	missing := slices.DeleteFunc(f.numbered(), func(c string) bool { return slices.Contains(f.pattern.counters, c) })
	at := spot{own: address, numbers: numbers, missing: missing}
	u := &unit{
		tell: x.tell.fill(at, x.numbers), ask: x.ask.fill(at, x.numbers), answer: x.answer.fill(at, x.numbers),
		askable: !x.ask.never && f.control.reach == OverOSC,
	}
	if f.slot > 0 {
		u = x.shared(u)
		u.askable = u.askable || !x.ask.never && f.control.reach == OverOSC
	} else {
		x.order = append(x.order, u)
	}
	slot := max(f.slot, 1)
	for len(u.members) < slot {
		u.members, u.controls = append(u.members, Parameter{}), append(u.controls, nil)
	}
	if held := u.members[slot-1]; held != (Parameter{}) {
		return u, x.placeOf(held)
	}
	u.members[slot-1], u.controls[slot-1] = q, f.control
	return u, ""
}

// shared gives the unit that stands for the same messages, which may be this one.
func (x *expansion) shared(made *unit) *unit {
	key := made.tell.address + "\x00" + string(made.tell.key())
	u, known := x.units[key]
	if !known {
		u = made
		x.units[key], x.order = u, append(x.order, u)
	}
	return u
}

// placeOf names a parameter with the line on which the profile has it.
func (x *expansion) placeOf(q Parameter) string {
	return fmt.Sprintf("%s (line %d)", q, x.lines[x.profile.entries[q].control])
}

// enterUnits makes every unit to be found by the messages about it.
func (x *expansion) enterUnits() {
	p := x.profile
	p.tells, p.answers = make(doors, len(x.order)), make(doors, len(x.order))
	p.asks = make(doors)
	whole := x.order[:0:0]
	for _, u := range x.order {
		if i := slices.Index(u.members, Parameter{}); i >= 0 {
			x.faultOf(u, "%s: slot %d of its message is missing", u.first(), i+1)
			continue
		}
		whole = append(whole, u)
		u.enterOrdinals(p)
		x.enter(p.tells, u.tell, u, setting)
		x.enter(p.answers, u.answer, u, "answer")
		if u.askable {
			x.enter(p.asks, u.ask, u, "question")
		}
	}
	for _, u := range whole {
		if !u.askable {
			continue
		}
		if err := x.free(u.ask, "the question", p.tells); err != nil {
			x.faultOf(u, "%s: %s", u.first(), err)
		}
	}
}

// setting is what faults call a message that sets.
const setting = "setting"

// enter makes a unit to be found by one sort of message.
func (x *expansion) enter(d doors, s layout, u *unit, what string) {
	if who := x.reserved(s.address); who != "" {
		x.faultOf(u, "%s and %s share the address %s", u.first(), who, s.address)
		return
	}
	other, err := d.add(s, u)
	switch {
	case err != nil:
		x.faultOf(u, "%s: %s", u.first(), err)
	case other == nil:
	case what == setting && len(s.args) == 1:
		x.faultOf(u, "%s and %s share the address %s", u.first(), x.placeOf(other.first()), s.address)
	default:
		x.faultOf(u, "%s and %s share the %s %s", u.first(), x.placeOf(other.first()), what, s.message([]any{"..."}))
	}
}

// reserved says what else the desk listens to at an address, or says there.
func (x *expansion) reserved(address string) string {
	p := x.profile
	_, followed := p.follow.asks[address]
	switch {
	case address == p.identity.ask || address == p.identity.answer:
		return "[identity]"
	case followed:
		return "[follow]"
	case address == p.Link.Greeting.Address:
		return "the greeting"
	case address == p.Link.Alive.Address:
		return "alive"
	}
	return ""
}

// free sees to it that a question is no message of another sort.
func (x *expansion) free(s layout, what string, others ...doors) error {
	if who := x.reserved(s.address); who != "" {
		return fmt.Errorf("%s %s is at the address of %s", what, s.message(nil), who)
	}
	for _, d := range others {
		if u, _ := d.find(osc.Heard{Message: s.message(nil)}); u != nil {
			return fmt.Errorf("%s %s would be taken for one about %s", what, s.message(nil), u.first())
		}
	}
	return nil
}

// faultOf tells what is wrong with a unit. Of one line it is told once: the further
// members of a family are its like.
func (x *expansion) faultOf(u *unit, format string, args ...any) {
	line := x.lines[x.profile.entries[u.first()].control]
	if x.toldOf == nil {
		x.toldOf = make(map[int]bool)
	}
	if !x.toldOf[line] {
		x.toldOf[line] = true
		x.document.AddFault(line, format, args...)
	}
}

// each calls f for every combination of the counters' numbers, from 1, together with
// numbers that are fixed. The map is f's only while it is called.
func each(counters []string, counts, fixed map[string]int, f func(map[string]int)) {
	numbers := make(map[string]int, len(counters)+len(fixed))
	maps.Copy(numbers, fixed)
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
	if order := cmp.Or(
		comparePlaces(a.Place, b.Place),
		cmp.Compare(a.section, b.section),
		cmp.Compare(a.number, b.number),
		cmp.Compare(a.order, b.order),
	); order != 0 {
		return order
	}
	return compareNames(a.Name, b.Name) // which takes long, and is rarely needed
}
