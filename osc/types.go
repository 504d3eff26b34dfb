package osc

import "time"

// The arguments of a message are these Go types, by their OSC type tag:
//
//	i int32     f float32   s string   b []byte   h int64   d float64   T, F bool   N nil
//	t TimeTag   S Symbol    c Char     r Colour   m MIDI    I Impulse   [ ] Array
type (
	// Symbol is a string that the sender marked as a symbol (tag S).
	Symbol string
	// Char is a character, sent as 32 bits (tag c).
	Char int32
	// Colour is red, green, blue and alpha (tag r).
	Colour [4]byte
	// MIDI is a port number, a status byte and two data bytes (tag m).
	MIDI [4]byte
	// Impulse says that something happened, and nothing else (tag I).
	Impulse struct{}
	// Array is a list of arguments within the arguments (tags [ and ]). An empty one decodes to a nil Array.
	Array []any
)

// TimeTag is a moment in NTP's form: seconds since the start of 1900 UTC in the upper 32 bits, and fractions of
// 2^-32 s in the lower.
type TimeTag uint64

// AtOnce is the time tag of what is to be done without delay.
const AtOnce TimeTag = 1

// epochs are the moments from which a time tag's seconds count, as Unix seconds. The first is 1900-01-01 (RFC 868).
const (
	firstEpoch  = -2208988800
	secondEpoch = firstEpoch + 1<<32
)

// Time gives the moment in UTC. AtOnce, and 0 (no time tag at all), give the zero time.
//
// The 32 bits of seconds wrap on 2036-02-07. As RFC 4330 section 3 lays down, a tag whose highest bit is set lies in 1968
// to 2036, and one whose highest bit is clear in 2036 to 2104.
func (t TimeTag) Time() time.Time {
	if t <= AtOnce {
		return time.Time{}
	}
	epoch := int64(secondEpoch)
	if t>>63 == 1 {
		epoch = firstEpoch
	}
	nanoseconds := (uint64(t) & 0xffffffff) * 1e9 >> 32
	return time.Unix(epoch+int64(t>>32), int64(nanoseconds)).UTC()
}
