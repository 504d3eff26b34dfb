package scenes

import (
	"deskhand/profiles"
	"deskhand/profiles/source"
)

const phantomName = "input.phantom"

// Harmed lists the positions whose microphone is harmed when phantom power is on at a
// channel: the one that is on it, and those that share its switch.
func (v *Venue) Harmed(channel profiles.Place) []*Position {
	control, ok := v.Desk.Profile.Control(profiles.Parameter{Place: channel, Name: phantomName})
	if !ok || channel.Part != profiles.Channel {
		return nil
	}
	first, last := profiles.Bank(control.Bank, channel.Number)
	var harmed []*Position
	for i := range v.Positions {
		p := &v.Positions[i]
		if p.Channel >= first && p.Channel <= last && p.Microphone != nil && p.Microphone.Harmed != nil {
			harmed = append(harmed, p)
		}
	}
	return harmed
}

// sharedPhantom finds microphones that need phantom power on a switch that would harm
// another: no recall can do both. Where the venue never sends phantom power, none tries.
func (c *checker) sharedPhantom(v *Venue) {
	for _, p := range v.Positions {
		_, safe := v.SafeFor(profiles.Parameter{Place: p.Place(), Name: phantomName})
		if safe || p.Microphone == nil || !p.Microphone.Phantom {
			continue
		}
		for _, harmed := range v.Harmed(p.Place()) {
			c.add(v.File, source.Faults{Origin{PositionLayer, v.File, p.Line}.fault(
				"the microphone of %q needs phantom power, and %s has one switch of it for this channel and that of %q, whose microphone is harmed by it (%s): put one of them on another channel",
				p.Name, v.Desk.Profile.Name, harmed.Name, harmed.Microphone.Harmed)})
		}
	}
}
