package scenes

import (
	"deskhand/profiles/source"
)

// dialled checks a [dialled-in], if there is one, and warns of one that speaks of
// nothing in the strip beside it.
func (c *checker) dialled(file string, strip Strip, d *Dialled) {
	if d == nil {
		return
	}
	if _, ok := strip.find(gainName); !ok && d.Microphone == nil && d.Desk == "" {
		c.warn(source.Faults{{File: file, Line: d.Line, What: "this says how a gain was dialled in, but the strip beside it has no input.gain"}})
	}
}
