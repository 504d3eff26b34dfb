package scenes

import (
	"deskhand/profiles/source"
)

// Distances are how far things are from each other around a position, in metres; 0
// where it isn't said.
type Distances struct {
	// Listener is from the talker to the farthest listener.
	Listener float64
	// Loudspeaker is from the microphone to the nearest loudspeaker.
	Loudspeaker float64
	// Throw is from that loudspeaker to the farthest listener.
	Throw float64
	// Unaided is how far from a talker speech is clear without any loudspeaker.
	Unaided float64
}

// distanceKeys are the keys of [distances], each with its range in metres. Beyond, it is
// another unit or a slip.
var distanceKeys = []struct {
	key       string
	of        func(*Distances) *float64
	low, high float64
	means     string
}{
	{"listener", func(d *Distances) *float64 { return &d.Listener }, 0.5, 500, "talker to the farthest listener"},
	{"loudspeaker", func(d *Distances) *float64 { return &d.Loudspeaker }, 0.1, 200, "microphone to the nearest loudspeaker"},
	{"throw", func(d *Distances) *float64 { return &d.Throw }, 0.5, 500, "that loudspeaker to the farthest listener"},
	{"unaided", func(d *Distances) *float64 { return &d.Unaided }, 0.1, 100, "how far speech is clear unaided"},
}

// readDistances reads [distances] in a table, over those that hold where it says
// nothing.
func readDistances(t *source.Table, over Distances) Distances {
	in, ok := optional(t, "distances")
	if !ok {
		return over
	}
	for _, k := range distanceKeys {
		n, ok := in.Number(k.key)
		if !ok {
			continue
		}
		if !(n >= k.low && n <= k.high) {
			in.Fault(k.key, "%s = %s: expected %s to %s metres, %s", k.key, figure(n), figure(k.low), figure(k.high), k.means)
		}
		*k.of(&over) = n
	}
	return over
}

// missing lists the keys that aren't said.
func (d Distances) missing() []string {
	var keys []string
	for _, k := range distanceKeys {
		if *k.of(&d) == 0 {
			keys = append(keys, "distances."+k.key)
		}
	}
	return keys
}
