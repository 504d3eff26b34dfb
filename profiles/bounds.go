package profiles

import (
	"math"
	"strconv"
	"strings"
)

// Allows reports whether any desk could mean the number by this parameter. It finds
// slips of the pen; what one desk takes is for its [Control].
func (s Spec) Allows(n float64) bool {
	if math.IsInf(n, -1) {
		return s.HasSilence()
	}
	return n >= s.Lowest && n <= s.Highest
}

// HasSilence reports whether the parameter reaches -inf dB, as a fader does.
func (s Spec) HasSilence() bool { return s.Kind == Level && s.Lowest == noLowest }

// SayBounds says within which numbers the parameter is meant to be.
func (s Spec) SayBounds() string {
	high := sayNumber(s.Highest, s.Unit, 0)
	if s.HasSilence() {
		return "-inf or up to " + high
	}
	return sayNumber(s.Lowest, s.Unit, 0) + " to " + high
}

// SayLabel gives the parameter's label for one of its members, such as "EQ 2 gain"
// for "eq.2.gain". A mix is called what mixes calls it, or by its number where mixes
// is nil.
func (s Spec) SayLabel(name string, mixes func(int) string) string {
	_, numbers := Family(name)
	label := s.Label
	for _, counter := range counters {
		n, ok := numbers[counter]
		if !ok {
			continue
		}
		word := strconv.Itoa(n)
		if counter == "mix" && mixes != nil {
			word = mixes(n)
		}
		label = strings.ReplaceAll(label, "{"+counter+"}", word)
	}
	return label
}
