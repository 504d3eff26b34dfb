package profiles

import (
	"math"
	"regexp"
	"slices"
	"strings"
	"sync"

	"deskhand/profiles/source"
)

// family is a parameter before its pattern is expanded.
type family struct {
	part    Part
	name    string // with band, mix and group as words
	order   int    // where the catalogue has it; the desk's own come after
	control *Control
	pattern pattern
	// counters are the numbers that tell its members apart; fixed are those that its
	// name gives, as the 2 of "eq.2.gain".
	counters []string
	fixed    map[string]int
	// absent says that this desk has none, there that it would otherwise.
	absent, there bool
	slot          int // among the values of its message, from 1; 0 has the message to itself
	line          int // of the address
}

// numbered lists the numbers that a member has, in the order in which places are told.
func (f family) numbered() []string {
	var all []string
	for _, counter := range allCounters {
		if _, ok := f.fixed[counter]; ok || slices.Contains(f.counters, counter) {
			all = append(all, counter)
		}
	}
	return all
}

// readFamilies reads the parameters of every part of the desk, beside or in place of
// those of the profile that this one is based on.
func (l *loader) readFamilies() {
	empty := len(l.families) == 0
	for _, part := range []Part{Channel, Mix, Main} {
		t, ok := l.root.Table(part.String())
		switch {
		case ok:
			empty = empty && len(t.Keys()) == 0
			l.walk(part, t, "")
		case l.root.Has(part.String()):
			empty = false // no table: that has been told
		}
	}
	l.checkAbsent()
	if empty {
		l.root.Fault("", "the profile has no parameters: write [channel], [mix] and [main]")
	}
}

// walk adds the parameters of a table, which nests as their names do: an inner table
// with an address is a parameter.
func (l *loader) walk(part Part, t *source.Table, prefix string) {
	for _, key := range t.Keys() {
		inner, ok := t.Table(key)
		if !ok {
			continue
		}
		name := prefix + key
		switch {
		case slices.ContainsFunc(leafKeys, inner.Has):
			l.add(part, name, inner)
		case holdsTables(inner):
			l.walk(part, inner, name+".")
		default:
			inner.Fault("", `%s.%s has no address: write at = "/..."`, part, name)
			alreadyFaulty(inner)
		}
	}
}

// add reads a parameter, in place of the one with its name that there may be already.
func (l *loader) add(part Part, name string, t *source.Table) {
	known := slices.IndexFunc(l.families, func(f family) bool { return f.part == part && f.name == name })
	var f family
	var ok bool
	if t.Has("absent") {
		f, ok = l.absentFamily(part, name, t)
		f.there = known >= 0
	} else {
		f, ok = l.family(part, name, t)
	}
	switch {
	case !ok:
	case known >= 0:
		l.families[known] = f
	default:
		l.families = append(l.families, f)
	}
}

// absentFamily reads what takes away a parameter that would be there without: one of
// the profile that this one is based on, or one of a kind that only some bands lack.
func (l *loader) absentFamily(part Part, name string, t *source.Table) (family, bool) {
	if absent, ok := t.Bool("absent"); !ok || !absent {
		if ok {
			t.Fault("absent", "absent = false says nothing: leave it out")
		}
		return family{}, false
	}
	_, fixed := Family(name)
	f := family{part: part, name: name, counters: countersOf(part, name), fixed: fixed, absent: true, line: t.LineOf("absent")}
	return f, l.numbersExist(f, t)
}

// checkAbsent sees to it that whatever is absent would be there otherwise.
func (l *loader) checkAbsent() {
	for _, f := range l.families {
		all := FamilyName(f.name)
		if !f.absent || f.there || slices.ContainsFunc(l.families, func(g family) bool { return !g.absent && g.part == f.part && g.name == all }) {
			continue
		}
		l.document.AddFault(f.line, "absent = true takes away what would be there without it: there is no %s.%s", f.part, f.name)
	}
}

// leafKeys are the keys that make a table a parameter: where it is, or why it is
// nowhere.
var leafKeys = []string{"at", "by-hand", "fixed", "absent"}

func holdsTables(t *source.Table) bool {
	return slices.ContainsFunc(t.Keys(), func(key string) bool {
		_, isValue := t.Value(key)
		return !isValue
	})
}

// alreadyFaulty marks all that a parameter could have as read, so that one fault is
// not told as several, while a key that nothing could have still is a fault.
func alreadyFaulty(t *source.Table) {
	for _, key := range slices.Concat(numericShapes, []string{
		"at", "label", "unit", "class", "steps", "silence", "text", "choice", "start", "settle",
		"by-hand", "bank", "fixed", "slot", "asked", "octaves",
	}, formKeys) {
		t.Has(key)
	}
}

// family reads one parameter: what the trade knows of it, its address, its grid.
func (l *loader) family(part Part, name string, t *source.Table) (family, bool) {
	spec, order, ok := l.spec(part, name, t)
	if !ok {
		alreadyFaulty(t)
		return family{}, false
	}
	_, fixed := Family(name)
	f := family{part: part, name: name, order: order, counters: countersOf(part, name), fixed: fixed, line: t.LineOf("at")}
	ok = l.numbersExist(f, t)
	if t.Has("at") {
		ok = l.at(&f, t) && ok
	}
	ok = l.countable(f) && ok
	if f.control = l.control(spec, t); f.control == nil {
		alreadyFaulty(t)
		return family{}, false
	}
	return f, ok
}

// at reads the address pattern of a family.
func (l *loader) at(f *family, t *source.Table) bool {
	address, ok := t.Text("at")
	if !ok {
		return false
	}
	for _, other := range []string{"by-hand", "fixed"} {
		if t.Has(other) {
			t.Fault("at", "at: with %s, OSC does not reach it", other)
			alreadyFaulty(t)
			return false
		}
	}
	var err error
	if f.pattern, err = parsePattern(address, f.numbered()); err != nil {
		t.Fault("at", "%s", err)
		return false
	}
	if slot, given := t.Integer("slot"); given {
		if f.slot = slot; slot < 1 || slot > maxSlots {
			t.Fault("slot", "slot = %d: write which of the message's values this is, 1 to %d", slot, maxSlots)
			return false
		}
	}
	switch n := size(f.counters, l.counts()); {
	case n >= uncounted:
		t.Fault("at", "%s.%s would expand to more addresses than can be counted: at most %d are allowed", f.part, f.name, maxAddresses)
	case n > maxAddresses:
		t.Fault("at", "%s.%s would expand to %d addresses: at most %d are allowed", f.part, f.name, n, maxAddresses)
	default:
		return true
	}
	return false
}

// numbersExist sees to it that the desk has the band, mix or group that a name is about.
func (l *loader) numbersExist(f family, t *source.Table) bool {
	for counter, n := range f.fixed {
		if count := l.counts()[counter]; n > count && count > 0 {
			t.Fault("", "%s.%s: the desk has no %s %d, the last is %d", f.part, f.name, counter, n, count)
			return false
		}
	}
	return true
}

// countable finds a family that would have no members at all, since the profile
// says that there is none of what it counts, or nothing about it.
func (l *loader) countable(f family) bool {
	counts := l.counts()
	for _, counter := range f.numbered() {
		key := map[string]string{"channel": "channels", "mix": "mixes", "band": "bands", "group": "groups"}[counter]
		if counts[counter] > 0 {
			continue
		}
		if given, ok := l.root.Integer(key); !l.root.Has(key) || ok && given == 0 {
			l.root.Fault(key, "the profile does not say how many %s the desk has: write %s = ...", key, key)
		}
		return false
	}
	return true
}

// spec finds what the trade knows of a parameter, or takes it from the profile
// where the parameter is the desk's own. It also gives the parameter's place in the
// order in which people read.
func (l *loader) spec(part Part, name string, t *source.Table) (Spec, int, bool) {
	names := make([]string, 0, len(catalogue))
	family := FamilyName(name) // a number in it stands for one band, mix or group
	for i, s := range catalogue {
		if !slices.Contains(s.Parts, part) {
			continue
		}
		if s.Name == family {
			return s, i, true
		}
		names = append(names, s.Name)
	}
	if len(name) > maxName {
		t.Fault("", "a name of %d bytes: at most %d are allowed", len(name), maxName)
		return Spec{}, 0, false
	}
	if !t.Has("label") {
		t.Fault("", `%s.%s is not in the catalogue%s (a parameter that only this desk has needs a label = "...")`,
			part, name, source.DidYouMean(name, names))
		return Spec{}, 0, false
	}
	spec, ok := ownSpec(part, name, t)
	return spec, len(catalogue) + t.Line(), ok
}

// maxName bounds the name of a desk's own parameter, in bytes.
const maxName = 80

// ownSpec reads what a profile says of a parameter that only its desk has.
func ownSpec(part Part, name string, t *source.Table) (Spec, bool) {
	if !checkOwnName(part, name, t) {
		return Spec{}, false
	}
	label, ok := t.Text("label")
	if ok && label == "" {
		t.Fault("label", "%s.%s: the label is empty: write what people call it", part, name)
	}
	unit, _ := t.Text("unit")
	class, okClass := ownClass(t)
	return Spec{
		Name: name, Label: label, Kind: ownKind(t, Unit(unit)), Unit: Unit(unit), Class: class,
		Lowest: noLowest, Highest: math.Inf(1), Parts: []Part{part},
	}, ok && label != "" && okClass
}

var nameWord = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[a-z][a-z0-9-]*$`) })

// checkOwnName sees to it that the name of every member of a family leads back to
// the family: [Family] must find each of its numbers.
func checkOwnName(part Part, name string, t *source.Table) bool {
	words := strings.Split(name, ".")
	counted := []string{part.String()}
	for i, word := range words {
		if !nameWord().MatchString(word) {
			t.Fault("", "the name %q: words are small letters, figures and hyphens, and begin with a letter", name)
			return false
		}
		if i == 0 || !slices.Contains(counters, word) {
			continue
		}
		if counterAfter(words[i-1]) != word {
			t.Fault("", "the name %q: here %q would stand for a number, which it does only as eq.band, send.mix or group.group", name, word)
			return false
		}
		if slices.Contains(counted, word) {
			t.Fault("", "%s.%s: the number of the %s stands in it twice", part, name, word)
			return false
		}
		counted = append(counted, word)
	}
	return true
}

func ownClass(t *source.Table) (Class, bool) {
	word, ok := t.Text("class")
	if !ok {
		return Tone, !t.Has("class")
	}
	words := []string{Tone.String(), NameOnly.String(), Loudness.String(), Noise.String()}
	i := slices.Index(words, word)
	if i < 0 {
		t.Fault("class", "class %q: there is none such%s", word, source.DidYouMean(word, words))
		return Tone, false
	}
	return Class(i), true
}

// ownKind tells from its curve what sort of values a desk's own parameter takes.
func ownKind(t *source.Table, unit Unit) Kind {
	if raw, ok := t.Value("fixed"); ok {
		v, _ := ValueOf(raw)
		switch v.form {
		case wordValue:
			return Choice
		case switchValue:
			return Toggle
		}
	}
	switch {
	case t.Has("text"):
		return Text
	case t.Has("choice"):
		return Choice
	case !t.Has("fixed") && !slices.ContainsFunc(numericShapes, t.Has):
		return Toggle
	case unit == Decibel:
		return Level
	}
	return Quantity
}

// countersOf lists the numbers that an address of this parameter must hold.
func countersOf(part Part, name string) []string {
	var found []string
	if part != Main {
		found = append(found, part.String())
	}
	for i, word := range strings.Split(name, ".") {
		if i > 0 && slices.Contains(counters, word) {
			found = append(found, word)
		}
	}
	return found
}

// maxSlots bounds how many values one message holds.
const maxSlots = 64
