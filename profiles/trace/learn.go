package trace

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
)

// Entry is what was worked out of one control: a line of a profile.
type Entry struct {
	// Part is the table that it stands in, Name its name there.
	Part   profiles.Part
	Name   string
	Fields []Field
	// Notes say what the entry stands on.
	Notes []string
	// Heard is how many messages it was worked out of.
	Heard int
	// slots is how many values its message has.
	slot, slots int
}

// String gives the entry as TOML.
func (e Entry) String() string { return e.Name + " = " + e.inline() }

func (e Entry) inline() string {
	keys := make([]string, len(e.Fields))
	for i, f := range e.Fields {
		keys[i] = f.Key + " = " + f.TOML
	}
	return "{ " + strings.Join(keys, ", ") + " }"
}

// Line is a key that a table of the profile needs beside its entries, and what a person
// should know of it, or "".
type Line struct{ Table, Key, TOML, Note string }

// Question is what is not known yet of a control, and what would tell.
type Question struct {
	Parameter profiles.Parameter
	// Text says it to a person.
	Text string
	// Want is the mark that would answer it: a Moved at another place, Shows or Steps.
	Want Mark
}

// Trouble is why nothing was made out of a control, or what does not agree.
type Trouble struct {
	Parameter profiles.Parameter
	Err       error
}

// Findings are what a recording says of a profile.
type Findings struct {
	Entries []Entry
	// Lines are what the profile must say beside the entries, such as how the desk
	// counts.
	Lines     []Line
	Questions []Question
	Troubles  []Trouble
	// Counts are how many channels, and mixes, bands and groups of the entries, there are by
	// the recording, where the profile does not say it.
	Counts map[string]int
}

// learner is what has been worked out of a recording so far.
type learner struct {
	*Known
	session *session
}

// Learn works out of a recording what a profile must say of the controls that were
// moved, beside what it says already. The error is that of a recording out of all
// bounds; what can't be made out of one control is among the troubles or questions.
func Learn(r *Recording, known *Known) (*Findings, error) {
	s, err := r.sorted()
	if err != nil {
		return nil, err
	}
	l := &learner{Known: known.clone(), session: s}
	f := &Findings{Counts: make(map[string]int)}
	for c, n := range s.counts {
		if n > 0 && l.sizes[c] == 0 {
			l.sizes[c] = n
		}
	}
	for _, moves := range s.controls() {
		first := moves[0].parameter
		entry, err := l.control(moves)
		var place wanted
		var missing missingAnswer
		switch {
		case err == nil:
			f.Entries = append(f.Entries, entry)
		case errors.As(err, &place):
			at := AtNumber(first, place.counter, place.number)
			f.Questions = append(f.Questions, Question{first, "where its number stands: move " + at.String() + ", too", Mark{Kind: Moved, Parameter: at}})
		case errors.As(err, &missing):
			f.Questions = append(f.Questions, Question{first, missing.what, Mark{Kind: missing.kind, Parameter: first}})
		default:
			f.Troubles = append(f.Troubles, Trouble{first, err})
		}
	}
	f.Lines = l.lines(known)
	f.lookAtSlots()
	for c, n := range l.sizes {
		if known.sizes[c] == 0 && (c == "channel" || slices.ContainsFunc(f.Entries, func(e Entry) bool { return e.isOneOf(c) })) {
			f.Counts[c] = n
		}
	}
	return f, nil
}

// isOneOf reports whether an entry is about one, or all, of what a counter counts.
func (e Entry) isOneOf(counter string) bool {
	words := strings.Split(e.Name, ".")
	_, numbers := profiles.Family(e.Name)
	return e.Part.String() == counter || slices.Contains(words[1:], counter) || numbers[counter] > 0
}

// AtNumber is the same control at another number of a counter, such as "band".
func AtNumber(q profiles.Parameter, counter string, n int) profiles.Parameter {
	if counter == q.Place.Part.String() {
		q.Place.Number = n
		return q
	}
	family, numbers := profiles.Family(q.Name)
	numbers[counter] = n
	return profiles.Parameter{Place: q.Place, Name: numbered(family, numbers)}
}

// numbered puts numbers into the name of a family.
func numbered(family string, numbers map[string]int) string {
	words := strings.Split(family, ".")
	for i, word := range words {
		if n, ok := numbers[word]; ok && i > 0 {
			words[i] = strconv.Itoa(n)
		}
	}
	return strings.Join(words, ".")
}

// controls sorts the moves by control: the same at several places. A band, mix or group
// that only one of was moved is a control of its own.
func (s *session) controls() [][]*move {
	type control struct {
		part profiles.Part
		name string
	}
	by := make(map[control][]*move)
	var order []control
	for _, m := range s.moves {
		family := profiles.FamilyName(m.parameter.Name)
		c := control{m.parameter.Place.Part, family}
		if by[c] == nil {
			order = append(order, c)
		}
		by[c] = append(by[c], m)
	}
	var list [][]*move
	for _, c := range order {
		moves := by[c]
		// The one that was moved from end to end is the first.
		slices.SortStableFunc(moves, func(a, b *move) int { return b.whole() - a.whole() })
		list = append(list, moves)
	}
	return list
}

// whole is 1 for a move through all that a control has.
func (m *move) whole() int {
	if m.sweep || len(m.words) > 0 {
		return 1
	}
	return 0
}

// control works out one control.
func (l *learner) control(moves []*move) (Entry, error) {
	first := moves[0]
	spec, ok := SpecOf(first.parameter)
	if !ok {
		return Entry{}, fmt.Errorf("the catalogue has no such parameter at a %s: write one of the desk's own by hand", first.parameter.Place.Part)
	}
	if first.whole() == 0 {
		return Entry{}, missingAnswer{Moved, "it was nowhere moved from end to end, or into each position"}
	}
	seen, err := l.session.pick(first, moves[1:])
	if err != nil {
		return Entry{}, err
	}
	trial := &learner{Known: l.Known.clone(), session: l.session}
	for _, s := range seen {
		if s.sets == "" {
			continue
		}
		if err := trial.learnAnswer(s.address, s.sets); err != nil {
			return Entry{}, err
		}
	}
	for i := range seen {
		if seen[i].own, err = trial.own(seen[i].address); err != nil {
			return Entry{}, err
		}
	}
	p := &placing{learner: trial, seen: seen}
	name := p.number(first)
	at, err := p.work()
	if err != nil {
		return Entry{}, err
	}
	v, err := value(spec, seen[0])
	if err != nil {
		return Entry{}, err
	}
	*l.Known = *trial.Known
	e := Entry{Part: first.parameter.Place.Part, Name: name, Notes: v.notes, slot: at.slot, slots: at.slots}
	for _, s := range seen {
		e.Heard += len(s.values)
	}
	e.Fields = l.fields(spec, at, v)
	return e, nil
}

// SpecOf gives what the catalogue knows of a parameter.
func SpecOf(q profiles.Parameter) (profiles.Spec, bool) {
	family := profiles.FamilyName(q.Name)
	for _, spec := range profiles.Catalogue() {
		if spec.Name == family && slices.Contains(spec.Parts, q.Place.Part) {
			return spec, true
		}
	}
	return profiles.Spec{}, false
}

// number sorts the counters of the control: those that vary, and those of one number,
// which stays in the name that it gives.
func (p *placing) number(first *move) (name string) {
	family := profiles.FamilyName(first.parameter.Name)
	fixed := make(map[string]int)
	for _, c := range counters {
		n, has := first.numbers[c]
		if !has {
			continue
		}
		p.counters = append(p.counters, c)
		varies := slices.ContainsFunc(p.seen, func(s sighting) bool { return s.numbers[c] != n })
		switch {
		case varies:
			p.varied = append(p.varied, c)
		case c != first.parameter.Place.Part.String():
			fixed[c] = n
		case p.sizes[c] != 1: // a channel or mix that was moved alone must be moved elsewhere, too
			p.varied = append(p.varied, c)
		}
	}
	return numbered(family, fixed)
}

// lines gives what was worked out beside the entries.
func (l *learner) lines(before *Known) []Line {
	var lines []Line
	for _, c := range slices.Sorted(maps.Keys(l.counts)) {
		if _, known := before.counts[c]; !known && !l.counts[c].usual() {
			lines = append(lines, Line{Table: "numbers", Key: c, TOML: l.counts[c].toml()})
		}
	}
	if before.arguments == nil && l.arguments != nil {
		lines = append(lines, Line{Table: "tell", Key: "arguments", TOML: argumentsTOML(l.arguments)})
		if !before.asks {
			// The usual question would not say about which place it is.
			lines = append(lines, Line{Table: "ask", Key: "never", TOML: "true",
				Note: "what a desk sends does not say how it is asked: write that here when you know it"})
		}
	}
	if before.answer != l.answer {
		lines = append(lines, Line{Table: "answer", Key: "at", TOML: tomlText(l.answer)})
	}
	return lines
}

// lookAtSlots notes which other values an entry's message has that nothing is known of.
func (f *Findings) lookAtSlots() {
	at := func(e Entry) string { return e.Part.String() + " " + e.Fields[0].TOML }
	for i := range f.Entries {
		e := &f.Entries[i]
		var unknown []string
		for slot := 1; slot <= e.slots && e.slots > 1; slot++ {
			if !slices.ContainsFunc(f.Entries, func(o Entry) bool { return o.slot == slot && at(o) == at(*e) }) {
				unknown = append(unknown, strconv.Itoa(slot))
			}
		}
		if len(unknown) > 0 {
			e.Notes = append(e.Notes, fmt.Sprintf("its message has %d values, and of number %s nothing is known: move what else changes with it, too",
				e.slots, strings.Join(unknown, ", ")))
		}
	}
}
