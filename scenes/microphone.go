package scenes

import (
	"deskhand/profiles/source"
)

// Microphone is a microphone of the venue.
type Microphone struct {
	Name string
	// Sensitivity is in dB re 1 V/Pa.
	Sensitivity float64
	// Phantom says whether it needs phantom power.
	Phantom bool
	Origin  Origin // of Phantom
	// Response is how it hears, relative to Sensitivity; empty where it isn't said.
	Response Response
	// Harmed is where it is said that phantom power harms it, nil where that isn't
	// said. No recall switches phantom power on at such a microphone.
	Harmed *Origin
}

// sayPhantom says why phantom power is on or off where this microphone is.
func (m Microphone) sayPhantom() string {
	switch {
	case m.Phantom:
		return "as the microphone, " + m.Name + ", needs it"
	case m.Harmed != nil:
		return "as it harms the microphone, " + m.Name
	}
	return "as the microphone, " + m.Name + ", needs none"
}

// harmedKey is the key that says that phantom power harms a microphone.
const harmedKey = "harmed-by-phantom"

func (v *Venue) readMicrophones(root *source.Table) {
	eachNamed(root, "microphones", "microphone", func(in *source.Table, name string) {
		v.Microphones = append(v.Microphones, v.readMicrophone(in, name))
	})
}

func (v *Venue) readMicrophone(t *source.Table, name string) Microphone {
	m := Microphone{Name: name, Sensitivity: readSensitivity(t)}
	m.Phantom, _ = t.Bool("phantom")
	if !t.Has("phantom") {
		t.Fault("", "microphone %q does not say whether it needs phantom power: write phantom = true or false", name)
	}
	m.Origin = Origin{MicrophoneLayer, v.File, t.LineOf("phantom")}
	if harmed, _ := t.Bool(harmedKey); harmed {
		m.Harmed = &Origin{MicrophoneLayer, v.File, t.LineOf(harmedKey)}
	}
	if m.Phantom && m.Harmed != nil {
		t.Fault(harmedKey, "microphone %q needs phantom power and is harmed by it: only one can be true; hold it against the microphone's data sheet", name)
	}
	m.Response = readResponse(t)
	return m
}

func (v *Venue) microphone(name string) *Microphone {
	for i := range v.Microphones {
		if v.Microphones[i].Name == name {
			return &v.Microphones[i]
		}
	}
	return nil
}

func (v *Venue) microphoneNames() []string {
	names := make([]string, len(v.Microphones))
	for i, m := range v.Microphones {
		names[i] = m.Name
	}
	return names
}
