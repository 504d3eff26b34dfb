package scenes

import (
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
	p.Title = readLine(root, "title")
	p.Dialled = readDialled(root)
	p.Strip = stripReader{file: p.File, layer: PerformerLayer, words: words}.read(root)
	if at, ok := optional(root, "at"); ok {
		for _, venue := range at.Keys() {
			if t, ok := at.Table(venue); ok {
				strip := stripReader{file: p.File, layer: PerformerHereLayer, words: words, venue: venue}.read(t)
				p.Here[venue] = Here{readDialled(t), strip, t.Line()}
			}
		}
	}
	return whole(p, d)
}

// whole gives what was read out of a document, or its faults.
func whole[T any](read *T, d *source.Document) (*T, error) {
	if err := d.Faults().Err(); err != nil {
		return nil, err
	}
	return read, nil
}

func readDialled(t *source.Table) *Dialled {
	in, ok := optional(t, "dialled-in")
	if !ok {
		return nil
	}
	return &Dialled{Sensitivity: readSensitivity(in), Distance: readDistance(in), Line: in.Line()}
}

// readSensitivity reads a microphone's sensitivity. Figures outside -90..0 dB re
// 1 V/Pa are another unit, as mV/Pa, or a slip.
func readSensitivity(t *source.Table) float64 {
	v, ok := t.Number("sensitivity")
	switch {
	case !t.Has("sensitivity"):
		t.Fault("", "sensitivity is missing: write the microphone's, in dB re 1 V/Pa, as -38.0")
	case ok && !(v >= -90 && v <= 0):
		t.Fault("sensitivity", "sensitivity %v: expected -90 to 0 dB re 1 V/Pa (20 mV/Pa is 20 log10(0.020) = -34 dB)", v)
	}
	return v
}

// readDistance reads a distance in metres. Beyond 10 m it is more likely in
// centimetres than meant.
func readDistance(t *source.Table) float64 {
	v, ok := t.Number("distance")
	switch {
	case !t.Has("distance"):
		t.Fault("", "distance is missing: write it in metres, talker to microphone, as 0.3")
	case ok && !(v >= 0.005 && v <= 10):
		t.Fault("distance", "distance %v: expected 0.005 to 10 metres, talker to microphone (40 cm is 0.4)", v)
	}
	return v
}
