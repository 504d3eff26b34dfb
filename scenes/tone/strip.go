package tone

import (
	"math"
	"strconv"
	"strings"

	"deskhand/profiles"
)

// Strip is what one channel does to the sound of its microphone, as far as that can be
// worked out. The gate is taken as open, and mute is left out: it is the strip of a
// channel that is on.
type Strip struct {
	// Gain is before the converter, in dB, the pad taken off it. Trim is after it.
	Gain, Trim float64
	Shape      Shape
	Compressor Compressor
	// Main says that the channel is in the main mix, with Fader in dB and Pan from -100,
	// left, to 100, right.
	Main       bool
	Fader, Pan float64
	// Sends are by mix; one that is off is silent.
	Sends map[int]Send
}

// Send is what a channel gives to a mix.
type Send struct {
	// Level is in dB, Pan as in the main mix.
	Level, Pan float64
	// Post says that the send comes after the fader. Both come after EQ and dynamics.
	Post bool
}

// usualPad is how much a pad takes off, in dB. Desks don't tell theirs; most take 20 dB.
const usualPad = 20

// StripOf gathers a channel's strip for a desk with so many mixes and bands of EQ, or that
// of a mix or the main mix, whose fader is its only send. Settings that the desk does not
// have count as doing nothing, but for a switch: without one, what it would switch is on.
// The argument gives the value of a name at the place, no value where the desk has none.
func StripOf(mixes, bands int, value func(name string) profiles.Value) Strip {
	c := channel(value)
	s := Strip{
		Gain: c.number("input.gain", 0), Trim: c.number("input.trim", 0),
		Main: c.on("main"), Fader: c.number("fader", 0), Pan: c.number("pan", 0),
		Sends: make(map[int]Send, mixes),
	}
	if padded, _ := value("input.pad").On(); padded {
		s.Gain -= usualPad
	}
	s.Shape = c.shape(bands)
	if !value("compressor.threshold").IsZero() || !value("compressor.makeup").IsZero() {
		s.Compressor = c.compressor()
	}
	for m := 1; m <= mixes; m++ {
		send := "send." + strconv.Itoa(m) + "."
		if value(send + "level").IsZero() {
			continue
		}
		tap, _ := value(send + "tap").Word()
		to := Send{Level: c.number(send+"level", 0), Pan: c.number(send+"pan", 0), Post: tap == "post"}
		if !c.on(send + "on") {
			to.Level = math.Inf(-1)
		}
		s.Sends[m] = to
	}
	return s
}

// IsHeard reports whether [StripOf] asks for a name: whether what it does to speech can be
// worked out.
func IsHeard(name string) bool {
	switch name {
	case "input.gain", "input.trim", "input.pad", "main", "fader", "pan",
		"compressor.on", "compressor.threshold", "compressor.ratio", "compressor.knee", "compressor.makeup":
		return true
	}
	stage, _, _ := strings.Cut(name, ".")
	return stage == "lowcut" || stage == "eq" || stage == "send"
}

// channel gives the values of a channel by name.
type channel func(name string) profiles.Value

// number gives a number, or what stands for it where the desk has none.
func (c channel) number(name string, none float64) float64 {
	if n, ok := c(name).Number(); ok {
		return n
	}
	return none
}

func (c channel) on(name string) bool {
	on, hasSwitch := c(name).On()
	return on || !hasSwitch
}

// shape gathers the low cut and the bands that are on.
func (c channel) shape(bands int) Shape {
	var s Shape
	if frequency := c.number("lowcut.frequency", 0); frequency > 0 && c.on("lowcut.on") {
		s.LowCut = LowCut{Frequency: frequency, Slope: c.number("lowcut.slope", usualSlope)}
	}
	if !c.on("eq.on") {
		return s
	}
	for n := 1; n <= bands; n++ {
		if b, ok := c.band("eq." + strconv.Itoa(n) + "."); ok {
			s.Bands = append(s.Bands, b)
		}
	}
	return s
}

// usualSlope is that of a low cut of which no slope is known, in dB/octave.
const usualSlope = 12

// band gathers a band; one that is off, or has no frequency, is none.
func (c channel) band(prefix string) (Band, bool) {
	word, _ := c(prefix + "kind").Word()
	kind, _ := KindOf(word)
	b := Band{Kind: kind, Frequency: c.number(prefix+"frequency", 0), Gain: c.number(prefix+"gain", 0), Q: c.number(prefix+"q", 0)}
	return b, b.Frequency > 0 && c.on(prefix+"on")
}

func (c channel) compressor() Compressor {
	return Compressor{
		On:        c.on("compressor.on"),
		Threshold: c.number("compressor.threshold", 0), Ratio: c.number("compressor.ratio", 1),
		Knee: c.number("compressor.knee", 0), Makeup: c.number("compressor.makeup", 0),
	}
}

// WellSet is the level in dB re full scale at which speech arrives after gain and trim
// that are set well: the alignment level of EBU R 68.
const WellSet = -18.0

// ArrivesWellSet is the level in dB re full scale at which speech arrives at the converter
// at a gain of 0 dB, if the strip's gain suits it. A gain or trim that is silent suits
// nothing, and counts as 0 dB.
func (s Strip) ArrivesWellSet() float64 {
	if suited := s.Gain + s.Trim; !math.IsInf(suited, 0) {
		return WellSet - suited
	}
	return WellSet
}
