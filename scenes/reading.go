package scenes

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Reading is what a desk reported holding, at a time.
type Reading struct {
	// Desk is the profile's name.
	Desk  string
	Taken time.Time
	// Note says why it was taken.
	Note   string
	Values Values
	// On is who was on which position, as far as that was known.
	On map[string]string
	// Scenes are by which scene they were on it, where it was one.
	Scenes map[string]string
	// File and Lines are where the values stand, for a reading out of a file.
	File  string
	lines map[profiles.Parameter]int
	// undo is its number, for a reading that an undo goes back to.
	undo int
}

// Reading reads a reading's file in the book.
func (b *Book) Reading(name string) (*Reading, error) {
	d, err := b.document(Readings, name)
	if err != nil {
		return nil, err
	}
	return readReading(d, b.Profile)
}

// ParseReading reads a reading that may lie anywhere; file is for messages.
func (b *Book) ParseReading(file string, text []byte) (*Reading, error) {
	d, err := source.Parse(file, text)
	if err != nil {
		return nil, err
	}
	return readReading(d, b.Profile)
}

// readReading takes the profile of its desk from where they are.
func readReading(d *source.Document, profile func(name string) (*profiles.Profile, error)) (*Reading, error) {
	root := d.Root()
	r := &Reading{File: d.File(), Values: make(Values), On: make(map[string]string), Scenes: make(map[string]string), lines: make(map[profiles.Parameter]int)}
	r.Desk, _ = root.Text("desk")
	r.Taken, _ = root.Time("taken")
	r.Note = readLine(root, "note")
	readLines(root, "on", r.On)
	readLines(root, "scene", r.Scenes)
	for _, part := range placed {
		root.Has(part.String()) // a known key, also where it isn't got to
	}
	if r.Desk == "" {
		root.Fault("", `the reading does not say of which desk it is: write desk = "..."`)
		return nil, d.Faults().Err()
	}
	p, err := profile(r.Desk)
	if err != nil {
		root.Fault("desk", "%s", firstOf(err))
		return nil, d.Faults().Err()
	}
	for _, part := range placed {
		if t, ok := optional(root, part.String()); ok {
			r.readPlace(t, part.String(), p)
		}
	}
	return whole(r, d)
}

// placed are the parts of a desk that a reading speaks of.
var placed = []profiles.Part{profiles.Channel, profiles.Mix, profiles.Main}

// readPlace reads the values under a table, which nests as parameters' paths do.
func (r *Reading) readPlace(t *source.Table, prefix string, p *profiles.Profile) {
	for _, key := range t.Keys() {
		path := prefix + "." + key
		raw, isValue := t.Value(key)
		if !isValue {
			if inner, ok := t.Table(key); ok {
				r.readPlace(inner, path, p)
			}
			continue
		}
		r.readValue(t, key, path, raw, p)
	}
}

func (r *Reading) readValue(t *source.Table, key, path string, raw any, p *profiles.Profile) {
	q, err := profiles.ParseParameter(path)
	if err != nil {
		t.Fault(key, "%s", err)
		return
	}
	control, ok := p.Control(q)
	if !ok {
		t.Fault(key, "%s has no %s%s", p.Name, q, source.DidYouMean(q.Name, p.Names(q.Place.Part)))
		return
	}
	v, err := valueFor(control.Spec, raw)
	if err == nil {
		v, err = control.Nearest(v)
	}
	if err != nil {
		t.Fault(key, "%s: %s", q, err)
		return
	}
	r.Values[q], r.lines[q] = v, t.LineOf(key)
}

// Wanted asks for everything in the reading, in the desk's order.
func (r *Reading) Wanted(p *profiles.Profile) []Wanted {
	var wanted []Wanted
	for _, q := range p.Parameters() {
		if v, ok := r.Values[q]; ok {
			wanted = append(wanted, Wanted{Parameter: q, Asked: v, Value: v, Origin: Origin{ReadingLayer, r.File, r.lines[q]}})
		}
	}
	return wanted
}

// readLines reads a table of texts into a map.
func readLines(root *source.Table, key string, into map[string]string) {
	if t, ok := optional(root, key); ok {
		for _, name := range t.Keys() {
			into[name] = readLine(t, name)
		}
	}
}

// writeLines writes a map of texts as a table, and nothing for none.
func writeLines(b *bytes.Buffer, key string, lines map[string]string) {
	if len(lines) == 0 {
		return
	}
	fmt.Fprintf(b, "\n[%s]\n", key)
	for _, name := range slices.Sorted(maps.Keys(lines)) {
		fmt.Fprintf(b, "%s = %s\n", source.Key(name), source.Quote(lines[name]))
	}
}

// Text writes the reading as TOML, in the desk's order, numbers with as few figures
// as fall on the same step.
func (r *Reading) Text(p *profiles.Profile) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "desk = %s\ntaken = %s\n", source.Quote(r.Desk), r.Taken.UTC().Format(time.RFC3339))
	if r.Note != "" {
		fmt.Fprintf(&b, "note = %s\n", source.Quote(r.Note))
	}
	writeLines(&b, "on", r.On)
	writeLines(&b, "scene", r.Scenes)
	place := profiles.Place{}
	for _, q := range p.Parameters() {
		v, ok := r.Values[q]
		if !ok || v.IsZero() {
			continue
		}
		if q.Place != place {
			place = q.Place
			fmt.Fprintf(&b, "\n[%s]\n", place)
		}
		control, _ := p.Control(q)
		fmt.Fprintf(&b, "%s = %s\n", q.Name, literal(control.Tidy(v)))
	}
	return b.Bytes()
}

// literal writes a value as TOML.
func literal(v profiles.Value) string {
	if n, ok := v.Number(); ok {
		return source.FormatNumber(n)
	}
	if on, ok := v.On(); ok {
		return fmt.Sprint(on)
	}
	word, _ := v.Word()
	return source.Quote(word)
}

// FileStamp is a time as part of a file's name.
func FileStamp(t time.Time) string {
	return t.Format("2006-01-02-15.04.05")
}
