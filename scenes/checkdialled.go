package scenes

import (
	"fmt"
	"slices"

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
	if d.Desk != "" && !slices.Contains(c.book.profileNames(), d.Desk) {
		c.add(file, source.Faults{{File: file, Line: d.DeskLine,
			What: fmt.Sprintf("there is no desk profile %q, neither in the book nor shipped%s", d.Desk, source.DidYouMean(d.Desk, c.book.profileNames()))}})
	}
	if d.Microphone != nil {
		c.dialledMicrophone(file, d.Microphone)
	}
}

func (c *checker) dialledMicrophone(file string, at *MicrophoneAt) {
	if venues := c.book.Names(Venues); !c.book.has(Named{Venues, at.Venue}) {
		c.add(file, source.Faults{{File: file, Line: at.Line,
			What: fmt.Sprintf("there is no venue %q in the book%s", at.Venue, source.DidYouMean(at.Venue, venues))}})
		return
	}
	v, err := c.book.Venue(at.Venue)
	if err != nil {
		return // told as a file of its own
	}
	if v.microphone(at.Name) == nil {
		c.add(file, source.Faults{{File: file, Line: at.Line,
			What: fmt.Sprintf("%s has no microphone %q%s", v.File, at.Name, source.DidYouMean(at.Name, v.microphoneNames()))}})
	}
}
