package scenes

import (
	"math"
	"slices"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Performer is a person or act and the strip that suits them.
type Performer struct {
	Name  string
	Title string
	File  string
	// Dialled is how the gain of Strip was dialled in, nil where it isn't said.
	Dialled *Dialled
	Strip   Strip
	// Here is what is different at a venue, by its name.
	Here map[string]Here
}

// Here is what a performer needs at one venue only.
type Here struct {
	Dialled *Dialled
	Strip   Strip
	line    int
}

// Dialled is the microphone and distance under which a gain was found right.
type Dialled struct {
	// Sensitivity is the microphone's, in dB re 1 V/Pa.
	Sensitivity float64
	// Distance is from the talker to the microphone, in metres.
	Distance float64
	Line     int
}

// Performer reads a performer's file.
func (b *Book) Performer(name string) (*Performer, error) {
	d, err := b.document(Performers, name)
	if err != nil {
		return nil, err
	}
	return readPerformer(d, name, b.words())
}

func readPerformer(d *source.Document, name string, words *vocabulary) (*Performer, error) {
	root := d.Root()
	p := &Performer{Name: name, File: d.File(), Here: make(map[string]Here)}
	p.Title, _ = root.Text("title")
	p.Dialled = readDialled(root)
	p.Strip = readStrip(root, "strip", p.File, PerformerLayer, words)
	if root.Has("at") {
		if at, ok := root.Table("at"); ok {
			for _, venue := range at.Keys() {
				if t, ok := at.Table(venue); ok {
					p.Here[venue] = Here{readDialled(t), readStrip(t, "strip", p.File, PerformerHereLayer, words), t.Line()}
				}
			}
		}
	}
	return p, d.Faults().Err()
}

func readDialled(t *source.Table) *Dialled {
	if !t.Has("dialled-in") {
		return nil
	}
	in, ok := t.Table("dialled-in")
	if !ok {
		return nil
	}
	d := Dialled{Line: in.Line()}
	d.Sensitivity = readSensitivity(in)
	d.Distance = readDistance(in)
	return &d
}

// readSensitivity reads a microphone's sensitivity. Figures outside -90..0 dB re
// 1 V/Pa are another unit, as mV/Pa, or a slip.
func readSensitivity(t *source.Table) float64 {
	v, ok := t.Number("sensitivity")
	switch {
	case !t.Has("sensitivity"):
		t.Fault("", "sensitivity is missing: write the microphone's, in dB re 1 V/Pa, as -38.0")
	case ok && (v < -90 || v > 0):
		t.Fault("sensitivity", "sensitivity %v: expected -90 to 0 dB re 1 V/Pa (20 mV/Pa is 20 log10(0.020) = -34 dB)", v)
	}
	return v
}

func readDistance(t *source.Table) float64 {
	v, ok := t.Number("distance")
	switch {
	case !t.Has("distance"):
		t.Fault("", "distance is missing: write it in metres, talker to microphone, as 0.3")
	case ok && !(v >= 0.005 && v <= 50 && !math.IsInf(v, 0)):
		t.Fault("distance", "distance %v: expected 0.005 to 50 metres", v)
	}
	return v
}

// words is the vocabulary of the book's files.
func (b *Book) words() *vocabulary {
	return newVocabulary(func() []*profiles.Profile {
		var desks []*profiles.Profile
		for _, name := range append(b.Names(Profiles), profiles.ShippedNames()...) {
			if p, err := b.Profile(name); err == nil { // a faulty one is told where it is used, and by Check
				desks = append(desks, p)
			}
		}
		return desks
	}, b.mixNames)
}

// mixNames lists the names that mixes have in any venue of the book.
func (b *Book) mixNames() []string {
	var names []string
	for _, venue := range b.Names(Venues) {
		d, err := b.document(Venues, venue)
		if err != nil {
			continue // told where the venue is used, and by Check
		}
		if t, ok := d.Root().Table("mixes"); ok {
			names = append(names, t.Keys()...)
		}
	}
	slices.Sort(names)
	return slices.Compact(names)
}
