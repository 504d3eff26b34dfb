// Package tone is the sound arithmetic: what the settings of a strip do to what is
// heard, and which settings of another desk come nearest to it. It is pure functions over
// values in trade units, and knows no file, no desk and no network.
package tone

import (
	"cmp"
	"maps"
	"math"
	"slices"
)

// Levels is how loud speech from one channel is at each place where it is heard, in dB
// relative to what its microphone gives; -inf where it isn't heard. Mute is left out: the
// levels are those of the channel when it is open.
type Levels struct {
	Main float64
	// Mixes are by number.
	Mixes map[int]float64
}

// Levels adds up what the strip does to speech: gain, pad and trim; low cut and EQ,
// weighed with the spectrum of speech; the compressor by its static curve; then fader and
// pan, or the sends. Arrives is the level in dB re full scale at which speech arrives at
// the converter at a gain of 0 dB.
//
// In the mains, and in a mix of two sides, the louder side counts: the level is the one in
// the centre, and up to the desk's pan law more at a side.
func (s Strip) Levels(d Desk, arrives float64) Levels {
	head := s.head(d, arrives).Sum()
	l := Levels{Main: math.Inf(-1), Mixes: make(map[int]float64, len(s.Sends))}
	if s.Main {
		l.Main = head + s.Fader + d.louderSide(s.Pan)
	}
	for mix, send := range s.Sends {
		l.Mixes[mix] = head + send.Level + d.louderSide(send.Pan)
		if send.Post {
			l.Mixes[mix] += s.Fader
		}
	}
	return l
}

// louderSide is how much louder a channel is in one loudspeaker of two than from the
// centre, in dB, with the pan from -100, left, to 100, right. The desk's law bends the
// cosine that keeps the power, whose step from side to centre is 3 dB, to its own step.
func (d Desk) louderSide(pan float64) float64 {
	angle := math.Pi / 4 * (1 - min(math.Abs(pan), 100)/100)
	return d.PanLaw * (1 + 20*math.Log10(math.Cos(angle))/halfPower)
}

// halfPower is the step from half of a power to the whole, in dB.
var halfPower = 10 * math.Log10(2)

// Rise is a place where a channel gets louder.
type Rise struct {
	// Mix is the mix's number, 0 for the mains.
	Mix int
	// By is how much louder in dB, above 0.
	By float64
	// FromSilence says that nothing was heard there before, so that By counts from
	// the venue's usual level.
	FromSilence bool
	// Masters is the part of By in dB that is not the channel's own, but of the mix or the
	// main mix.
	Masters float64
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
		add(mix, before.in(mix), to)
	}
	slices.SortFunc(rises, func(a, b Rise) int {
		return cmp.Or(cmp.Compare(b.By, a.By), cmp.Compare(a.Mix, b.Mix))
	})
	return rises
}

// Step is a place where a channel gets louder or softer.
type Step struct {
	// Mix is the mix's number, 0 for the mains.
	Mix int
	// From and To are levels as [Levels] has them; -inf is silence.
	From, To float64
}

// By is how much louder in dB, below 0 for softer; infinite from and to silence.
func (s Step) By() float64 { return s.To - s.From }

// heard is the least change in dB that is told: what one decimal shows.
const heard = 0.05

// Steps lists where after is louder or softer than before: the mains, then the mixes by
// number. What differs by less than 0.05 dB is left out.
func Steps(before, after Levels) []Step {
	all := []Step{{0, before.Main, after.Main}}
	mixes := slices.Collect(maps.Keys(after.Mixes))
	for mix := range before.Mixes {
		if _, known := after.Mixes[mix]; !known {
			mixes = append(mixes, mix)
		}
	}
	slices.Sort(mixes)
	for _, mix := range mixes {
		all = append(all, Step{mix, before.in(mix), after.in(mix)})
	}
	return slices.DeleteFunc(all, func(s Step) bool { return s.From == s.To || math.Abs(s.By()) < heard })
}

// in is the level in a mix, silence where it has none.
func (l Levels) in(mix int) float64 {
	if level, ok := l.Mixes[mix]; ok {
		return level
	}
	return math.Inf(-1)
}
