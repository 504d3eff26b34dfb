package main

import (
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes"
)

// Rows that take several settings together: a band of EQ, a switch and what it
// switches.

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
		said, becomes := spec.SayBoth(from, to)
		before.add(field, from, said)
		after.add(field, to, becomes)
	}
	r.from, r.to = before.say(m.unset), after.say(m.unset)
	if r.from == r.to { // what differs is in a band that is off
		r.from, r.to = before.sayAll(), after.sayAll()
	}
	return r, names
}

// bandState is a band of EQ in words.
type bandState struct {
	off   bool
	words []string
}

func (b *bandState) add(field string, v profiles.Value, text string) {
	if v.IsZero() {
		return
	}
	switch field {
	case "on":
		b.off = text == "off"
	case "kind":
		if text != "bell" {
			b.words = append(b.words, text)
		}
	case "gain":
		b.words = append(b.words, text+" ") // Q stands apart
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
	return b.sayAll()
}

// sayAll says also what a band holds that is off.
func (b *bandState) sayAll() string {
	text := strings.TrimSpace(strings.Join(b.words, " "))
	if b.off {
		return "off, " + text
	}
	return text
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
