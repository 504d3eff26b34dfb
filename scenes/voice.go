package scenes

import (
	"deskhand/profiles/source"
)

// Voice is how loud a performer is.
type Voice struct {
	// Level is the long-term level in dB SPL at Distance, in metres from the mouth.
	Level, Distance float64
}

// usualVoiceDistance is the distance in metres that a level is meant at which says none:
// the one at which ISO 9921:2003 gives the levels of vocal effort.
const usualVoiceDistance = 1.0

// readVoice reads [voice]. A whisper at a metre has some 35 dB SPL and a shout 90; who
// measures at the mouth, or has a bell, gets higher.
func readVoice(t *source.Table) *Voice {
	in, ok := optional(t, "voice")
	if !ok {
		return nil
	}
	v := &Voice{Distance: usualVoiceDistance}
	level, ok := in.Number("level")
	switch {
	case !in.Has("level"):
		in.Fault("", "[voice] has no level: write it in dB SPL, as 66.0 (at 1 m a normal voice has some 60, a raised one 66, a loud one 72)")
	case ok && !(level >= 20 && level <= 140):
		in.Fault("level", "level %v: expected 20 to 140 dB SPL", level)
	}
	v.Level = level
	if n, ok := in.Number("distance"); ok {
		if v.Distance = n; !(n >= 0.005 && n <= 10) {
			in.Fault("distance", "distance %v: expected 0.005 to 10 metres, at which the voice has its level (40 cm is 0.4)", n)
		}
	}
	return v
}
