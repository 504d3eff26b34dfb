package main

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"deskhand/profiles"
	"deskhand/scenes"
)

// rounded says which changes will not be to the letter, as their values lie between
// two steps of the desk.
func (m rowMaker) rounded(changes []scenes.Change) []string {
	var words []string
	for _, c := range changes {
		if c.Rounded() && !c.Asked.IsZero() {
			words = append(words, m.label(c.Spec, c.Parameter.Name)+" "+c.Spec.Say(c.Asked)+" as "+c.Spec.Say(c.To))
		}
	}
	return words
}

// row is one line of a difference, as the trade reads a channel: one for a setting,
// one for a whole band of EQ.
type row struct {
	label, from, to, step string
	// wide rows are not lined up in the columns of from and to.
	wide  bool
	notes []string
}

// rowMaker turns changes at one place into rows.
type rowMaker struct {
	mixes func(int) string
	// held gives what was there before, for the settings that do not change but
	// belong to a row.
	held func(name string) profiles.Value
	// unset is what to print for no value.
	unset string
	// written says that the names are as a file has them, and label the rows.
	written bool
	// desk gives the control of a setting, for the spec of what does not change.
	desk func(name string) (profiles.Spec, bool)
}

// rows makes the rows of a list of changes that are all at one place.
func (m rowMaker) rows(changes []scenes.Change) []row {
	byName := make(map[string]scenes.Change, len(changes))
	for _, c := range changes {
		byName[c.Parameter.Name] = c
	}
	var rows []row
	done := make(map[string]bool)
	for _, c := range changes {
		name := c.Parameter.Name
		if done[name] {
			continue
		}
		for _, group := range [](func(string, map[string]scenes.Change) (row, []string)){m.band, m.switched} {
			r, names := group(name, byName)
			if len(names) == 0 {
				continue
			}
			for _, n := range names {
				done[n] = true
			}
			rows = append(rows, r)
			break
		}
		if !done[name] {
			rows = append(rows, m.plain(c))
		}
	}
	return rows
}

func (m rowMaker) say(spec profiles.Spec, v profiles.Value) string {
	if v.IsZero() {
		return m.unset
	}
	return spec.Say(v)
}

// plain is the row of one setting by itself.
func (m rowMaker) plain(c scenes.Change) row {
	r := valueRow(m.label(c.Spec, c.Parameter.Name), c.Spec, c.From, c.To, m.unset)
	r.notes = notesOf(c)
	return r
}

// valueRow is the row of two values of a setting, the unit printed once.
func valueRow(label string, spec profiles.Spec, from, to profiles.Value, unset string) row {
	r := row{label: label, step: spec.SayStep(from, to), wide: spec.Kind == profiles.Text}
	r.from, r.to = spec.SayBoth(from, to)
	if from.IsZero() {
		r.from = unset
	}
	if to.IsZero() {
		r.to = unset
	}
	if unit := " " + unitOf(r.to); unit != " " {
		r.from = strings.TrimSuffix(r.from, unit)
	}
	return r
}

// unitOf gives the unit that a value is printed with.
func unitOf(text string) string {
	figure, unit, ok := strings.Cut(text, " ")
	if _, err := strconv.ParseFloat(figure, 64); !ok || err != nil {
		return ""
	}
	return unit
}

func notesOf(c scenes.Change) []string {
	if c.Note == "" || c.Origin.Layer == scenes.ImpliedLayer {
		return nil
	}
	return []string{c.Note}
}

func (m rowMaker) label(spec profiles.Spec, name string) string {
	if m.written {
		return name
	}
	return spec.SayLabel(name, m.mixes)
}

// band gathers all that changes in one band of EQ.
func (m rowMaker) band(name string, changes map[string]scenes.Change) (row, []string) {
	words := strings.Split(name, ".")
	if len(words) != 3 || words[0] != "eq" {
		return row{}, nil
	}
	prefix := "eq." + words[1] + "."
	fields := []string{"on", "kind", "frequency", "gain", "q"}
	if !slices.Contains(fields, words[2]) {
		return row{}, nil
	}
	var before, after bandState
	var names []string
	r := row{label: "EQ " + words[1], wide: true}
	for _, field := range fields {
		c, changes := changes[prefix+field]
		from, to := m.held(prefix+field), m.held(prefix+field)
		if changes {
			from, to = c.From, c.To
			names = append(names, prefix+field)
			if c.Note != "" && field == "frequency" {
				r.notes = append(r.notes, c.Note)
			}
		}
		spec := c.Spec
		if !changes {
			spec, _ = m.desk(prefix + field)
		}
		before.add(field, spec, from)
		after.add(field, spec, to)
	}
	r.from, r.to = before.say(m.unset), after.say(m.unset)
	return r, names
}

// bandState is a band of EQ in words.
type bandState struct {
	off   bool
	words []string
}

func (b *bandState) add(field string, spec profiles.Spec, v profiles.Value) {
	if v.IsZero() {
		return
	}
	switch text := spec.Say(v); field {
	case "on":
		b.off = text == "off"
	case "kind":
		if text != "bell" {
			b.words = append(b.words, text)
		}
	case "q":
		b.words = append(b.words, "Q "+text)
	default:
		b.words = append(b.words, text)
	}
}

func (b *bandState) say(unset string) string {
	switch {
	case b.off:
		return "off"
	case len(b.words) == 0:
		return unset
	}
	return strings.Join(b.words, "  ")
}

// switched gathers a switch and the value that it switches, where the switch itself
// changes: "off -> 120 Hz".
func (m rowMaker) switched(name string, changes map[string]scenes.Change) (row, []string) {
	prefix, value := name[:strings.LastIndexByte(name, '.')+1], ""
	switch {
	case prefix == "lowcut.":
		value = "frequency"
	case strings.HasPrefix(prefix, "send."):
		value = "level"
	}
	last := name[len(prefix):]
	toggle, isThere := changes[prefix+"on"]
	if value == "" || !isThere || (last != "on" && last != value) {
		return row{}, nil
	}
	names := []string{prefix + "on"}
	spec, known := m.desk(prefix + value)
	from, to := m.held(prefix+value), m.held(prefix+value)
	r := row{}
	if c, changes := changes[prefix+value]; changes {
		spec, known, from, to = c.Spec, true, c.From, c.To
		names = append(names, prefix+value)
		r.notes = notesOf(c)
	}
	if !known {
		return row{}, nil
	}
	r.label = m.label(spec, prefix+value)
	r.from, r.to = m.onlyIf(toggle.From, spec, from), m.onlyIf(toggle.To, spec, to)
	return r, names
}

func (m rowMaker) onlyIf(toggle profiles.Value, spec profiles.Spec, v profiles.Value) string {
	on, known := toggle.On()
	switch {
	case !known:
		return m.unset
	case !on:
		return "off"
	}
	return m.say(spec, v)
}

// table lines rows up.
func table(rows []row, p paint) string {
	var label, from, to int
	for _, r := range rows {
		label = max(label, utf8.RuneCountInString(r.label))
		if !r.wide {
			from = max(from, utf8.RuneCountInString(r.from))
			to = max(to, utf8.RuneCountInString(r.to))
		}
	}
	var b strings.Builder
	for _, r := range rows {
		line := "  " + pad(r.label, label) + "  "
		if r.wide {
			line += r.from + "  ->  " + r.to
		} else {
			line += padLeft(r.from, from) + " -> " + pad(r.to, to)
			if r.step != "" {
				line += "   " + r.step
			}
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
		for _, note := range r.notes {
			b.WriteString("  " + pad("", label) + "  " + p.dim(note) + "\n")
		}
	}
	return b.String()
}

func pad(s string, width int) string {
	return s + strings.Repeat(" ", max(width-utf8.RuneCountInString(s), 0))
}

func padLeft(s string, width int) string {
	return strings.Repeat(" ", max(width-utf8.RuneCountInString(s), 0)) + s
}
