package scenes

import (
	"deskhand/profiles/source"
)

// EQSettings are what the book says of fitting EQ to a desk.
type EQSettings struct {
	// Tolerance is by how many dB a fitted curve may be off before a person is told.
	Tolerance float64
	// Microphones says that the difference between the response of the microphone
	// under which a performer was dialled in and that of today's joins the EQ.
	Microphones bool
}

// usualEQ is what holds where a book says nothing.
var usualEQ = EQSettings{Tolerance: 1.5}

// read reads [eq] of book.toml over what holds without it.
func (s *EQSettings) read(root *source.Table) {
	t, ok := optional(root, "eq")
	if !ok {
		return
	}
	if n, ok := t.Number("tolerance"); ok {
		if s.Tolerance = n; !(n >= 0.1 && n <= 12) {
			t.Fault("tolerance", "tolerance = %s: expected 0.1 to 12 dB", figure(n))
		}
	}
	s.Microphones, _ = t.Bool("microphones")
}
