package scenes

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// CarryGain gives the gain in dB that makes up for another microphone and distance:
//
//	gain2 = gain1 + (s1 - s2) + 20 log10(d2/d1)
//
// with the sensitivities s in dB re 1 V/Pa and the distances d in metres. Near a
// mouth the inverse-square rule behind it is a rough guide only.
func CarryGain(gain float64, from, to Dialled) float64 {
	return gain + carry(from, to)
}

func carry(from, to Dialled) float64 {
	return from.Sensitivity - to.Sensitivity + 20*math.Log10(to.Distance/from.Distance)
}

// roughFactor is how far distances may be apart before the inverse-square rule is
// only a rough guide.
const roughFactor = 4

// rough reports whether the distances are too far apart to trust the carry-over.
func rough(from, to Dialled) bool {
	return max(from.Distance, to.Distance) > roughFactor*min(from.Distance, to.Distance)
}

// sayCarry explains a carry-over for a person.
func sayCarry(gain float64, from, to Dialled) string {
	return fmt.Sprintf("%.1f dB at %s dB re 1 V/Pa and %s m, carried over to %s dB and %s m",
		gain, figure(from.Sensitivity), figure(from.Distance), figure(to.Sensitivity), figure(to.Distance))
}

// figure gives a number as a person wrote it.
func figure(n float64) string {
	return strings.ToLower(strconv.FormatFloat(n, 'g', -1, 64)) // TOML has -inf, and not -Inf
}
