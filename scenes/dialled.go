package scenes

import (
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Dialled is how a strip was found right: the microphone and distance for its gain, and,
// where they are named, the microphone and desk for its EQ.
type Dialled struct {
	// Sensitivity is the microphone's, in dB re 1 V/Pa.
	Sensitivity float64
	// Distance is from the talker to the microphone, in metres.
	Distance float64
	Line     int
	// Microphone is the one it was, whose response the EQ was made for, nil where it
	// isn't named.
	Microphone *MicrophoneAt
	// Desk is the profile of the desk whose meaning of Q the bands have, "" where it
	// isn't named; DeskLine is where it is.
	Desk     string
	DeskLine int

	model      *profiles.Profile // of Desk
	microphone *Microphone       // that Microphone names
}

// MicrophoneAt names a microphone of a venue of the book.
type MicrophoneAt struct {
	Venue, Name string
	Line        int
}

func (b *Book) readDialled(t *source.Table) *Dialled {
	in, ok := optional(t, "dialled-in")
	if !ok {
		return nil
	}
	d := &Dialled{Sensitivity: readSensitivity(in), Distance: readDistance(in), Line: in.Line(), Microphone: readMicrophoneAt(in)}
	d.Desk, _ = in.Text("desk")
	d.DeskLine = in.LineOf("desk")
	b.lookUp(in, d)
	return d
}

func readMicrophoneAt(t *source.Table) *MicrophoneAt {
	text, ok := t.Text("microphone")
	if !ok {
		return nil
	}
	venue, name, found := strings.Cut(text, "/")
	if !found || checkName(venue) != nil || !isWord(name) {
		t.Fault("microphone", `microphone %q: write VENUE/MICROPHONE, as "net-loft/gooseneck"`, text)
		return nil
	}
	return &MicrophoneAt{venue, name, t.LineOf("microphone")}
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
