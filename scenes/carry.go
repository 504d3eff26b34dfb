package scenes

import (
	"fmt"
	"math"
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
	factor := to.Distance / from.Distance
	return factor > roughFactor || factor < 1.0/roughFactor
}

// sayCarry explains a carry-over for a person.
func sayCarry(gain float64, from, to Dialled) string {
	return fmt.Sprintf("%.1f dB at %.0f dB re 1 V/Pa and %s m, carried over to %.0f dB and %s m",
		gain, from.Sensitivity, metres(from.Distance), to.Sensitivity, metres(to.Distance))
}

func metres(d float64) string { return fmt.Sprintf("%.2g", d) }
