// Package tone is the sound arithmetic: what the settings of a strip do to what is
// heard. It is pure functions over values in trade units, and knows no file, no
// desk and no network.
package tone

import (
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

// LevelsOf adds up gain, trim, make-up, sends and fader, in dB. Settings that the
// desk does not have count as doing nothing; what the low cut, the EQ and the
// compressor's threshold do to the level is not in it. The argument gives the value
// of a name within the channel, no value where the desk has none.
func LevelsOf(mixes int, value func(name string) profiles.Value) Levels {
	number := func(name string) float64 {
		n, _ := value(name).Number()
		return n
	}
	on := func(name string) bool {
		on, ok := value(name).On()
		return on || !ok
	}
	head := number("input.gain") + number("input.trim")
	if compressing, ok := value("compressor.on").On(); ok && compressing {
		head += number("compressor.makeup")
	}
	fader := number("fader")

	l := Levels{Main: head + fader, Mixes: make(map[int]float64, mixes)}
	if !on("main") {
		l.Main = math.Inf(-1)
	}
	for m := 1; m <= mixes; m++ {
		send := "send." + strconv.Itoa(m)
		if value(send + ".level").IsZero() {
			continue
		}
		level := head + number(send+".level")
		if tap, _ := value(send + ".tap").Word(); tap == "post" {
			level += fader
		}
		if !on(send + ".on") {
			level = math.Inf(-1)
		}
		l.Mixes[m] = level
	}
	return l
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
		switch {
		case a.By != b.By && a.By > b.By:
			return -1
		case a.By != b.By:
			return 1
		}
		return a.Mix - b.Mix
	})
	return rises
}
