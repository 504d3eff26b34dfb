// Package tone is the sound arithmetic: what the settings of a strip do to what is
// heard. It is pure functions over values in trade units, and knows no file, no
// desk and no network.
package tone

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"deskhand/profiles"
)

// Levels is what one channel gives to each place where it is heard, in dB relative
// to what its microphone gives; -inf where it isn't heard. Mute is left out: the
// levels are those of the channel when it is open.
type Levels struct {
	Main float64
	// Mixes are by number.
	Mixes map[int]float64
}

// usualPad is how much a pad takes off, in dB. Desks don't tell theirs; most take 20 dB.
const usualPad = 20

// LevelsOf adds up gain, pad, trim, make-up, sends and fader, in dB. Settings that the
// desk does not have count as doing nothing, but for a switch: without one, what it
// would switch is on. What the low cut, the EQ and the compressor's threshold do to the
// level is not in it. The argument gives the value of a name within the channel, no
// value where the desk has none.
func LevelsOf(mixes int, value func(name string) profiles.Value) Levels {
	c := channel(value)
	head := c.number("input.gain") + c.number("input.trim")
	if padded, _ := value("input.pad").On(); padded {
		head -= usualPad
	}
	if c.on("compressor.on") {
		head += c.number("compressor.makeup")
	}
	l := Levels{Main: c.ifOn("main", head+c.number("fader")), Mixes: make(map[int]float64, mixes)}
	for m := 1; m <= mixes; m++ {
		send := "send." + strconv.Itoa(m)
		if value(send + ".level").IsZero() {
			continue
		}
		level := head + c.number(send+".level")
		if tap, _ := value(send + ".tap").Word(); tap == "post" {
			level += c.number("fader")
		}
		l.Mixes[m] = c.ifOn(send+".on", level)
	}
	return l
}

// channel gives the values of a channel by name.
type channel func(name string) profiles.Value

func (c channel) number(name string) float64 {
	n, _ := c(name).Number()
	return n
}

func (c channel) on(name string) bool {
	on, hasSwitch := c(name).On()
	return on || !hasSwitch
}

// ifOn gives a level, or silence where a switch is off.
func (c channel) ifOn(name string, level float64) float64 {
	if c.on(name) {
		return level
	}
	return math.Inf(-1)
}

// Rise is a place where a channel gets louder.
type Rise struct {
	// Mix is the mix's number, 0 for the mains.
	Mix int
	// By is how much louder in dB, above 0.
	By float64
	// FromSilence says that nothing was heard there before, so that By counts from
	// the venue's usual level.
	FromSilence bool
}

// Rises lists where after is louder than before, loudest first. What comes up from
// silence counts from the usual level in dB; where the venue states none, a rise
// from silence is not counted.
func Rises(before, after Levels, usual *float64) []Rise {
	var rises []Rise
	add := func(mix int, from, to float64) {
		r := Rise{Mix: mix, By: to - from}
		if math.IsInf(from, -1) {
			if usual == nil || math.IsInf(to, -1) {
				return
			}
			r.By, r.FromSilence = to-*usual, true
		}
		if r.By > 0 {
			rises = append(rises, r)
		}
	}
	add(0, before.Main, after.Main)
	for mix, to := range after.Mixes {
		from, ok := before.Mixes[mix]
		if !ok {
			from = math.Inf(-1)
		}
		add(mix, from, to)
	}
	slices.SortFunc(rises, func(a, b Rise) int {
		return cmp.Or(cmp.Compare(b.By, a.By), cmp.Compare(a.Mix, b.Mix))
	})
	return rises
}
