package main

import (
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes"
)

// row is one line of a difference, as the trade reads a channel: one for a setting,
// one for a whole band of EQ.
type row struct {
	label, from, to, step string
	// wide rows are not lined up in the columns of from and to.
	wide bool
	// again rows are of settings that the desk is believed to hold, and is only sent again.
	again bool
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
			r.again = true
			for _, n := range names {
				done[n] = true
				r.again = r.again && byName[n].Again
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
	r.again, r.notes = c.Again, notesOf(c)
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
