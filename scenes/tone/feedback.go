package tone

import "math"

// Room is what the gain before feedback at one position depends on, by direct sound in a
// free field, with an omnidirectional microphone and loudspeaker: an estimate. Directional
// ones do better, a live room worse. All distances are in metres, above 0.
type Room struct {
	// Microphone is from the talker to the microphone.
	Microphone float64
	// Listener is from the talker to the farthest listener.
	Listener float64
	// Loudspeaker is from the microphone to the nearest loudspeaker.
	Loudspeaker float64
	// Throw is from that loudspeaker to the farthest listener.
	Throw float64
	// Unaided is the distance at which speech is clear unaided.
	Unaided float64
	// Open is how many microphones are open, 1 at least.
	Open int
}

// FeedbackMargin is how far below feedback a system is kept, in dB, so that it doesn't
// ring: the usual figure of the classic estimate.
const FeedbackMargin = 6.0

// PotentialGain is how much louder than unaided the farthest listener can hear the talker
// before feedback, in dB, [FeedbackMargin] kept:
//
//	20 log10(listener*loudspeaker / (microphone*throw)) - 10 log10(open) - 6
func (r Room) PotentialGain() float64 {
	return 20*math.Log10(r.Listener*r.Loudspeaker/(r.Microphone*r.Throw)) - 10*math.Log10(float64(r.Open)) - FeedbackMargin
}

// NeededGain is how much louder than unaided the farthest listener has to hear the talker,
// in dB, so that it is as if they stood at the distance at which speech is clear:
//
//	20 log10(listener / unaided)
//
// It is below 0 where all are near enough.
func (r Room) NeededGain() float64 { return 20 * math.Log10(r.Listener/r.Unaided) }

// Margin is how much of the potential gain is left over the needed one, in dB. Below 0,
// speech is not clear at the back before the system rings.
func (r Room) Margin() float64 { return r.PotentialGain() - r.NeededGain() }

// Help is what, each alone, would bring a margin to 0.
type Help struct {
	// Microphone is from the talker to a nearer microphone, in metres.
	Microphone float64
	// Open is how many microphones may be open, 0 where even one is too many.
	Open int
	// Loudspeaker is from the microphone to a loudspeaker farther away, in metres.
	Loudspeaker float64
}

// Help works out what would bring the margin to 0, all else left as it is. In the formula
// of [Room.PotentialGain] a distance counts 20 log10, the number of microphones 10 log10.
func (r Room) Help() Help {
	const rounding = 1e-9 // so that a margin of 0 doesn't lose a microphone
	factor := math.Pow(10, r.Margin()/20)
	return Help{
		Microphone:  r.Microphone * factor,
		Open:        int(float64(r.Open)*factor*factor + rounding),
		Loudspeaker: r.Loudspeaker / factor,
	}
}
