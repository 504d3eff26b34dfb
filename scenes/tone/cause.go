package tone

import (
	"cmp"
	"math"
	"slices"
)

// Parts are what the stages of a strip do to speech on its way to one place, in dB. They
// add up to its level there.
type Parts struct {
	// Gain is that of gain, pad and trim; Shape of low cut and EQ; Compressor with its
	// make-up; Send with the fader where it comes after that, and Pan.
	Gain, Shape, Compressor, Fader, Send, Pan float64
}

// Sum is the level.
func (p Parts) Sum() float64 { return p.Gain + p.Shape + p.Compressor + p.Fader + p.Send + p.Pan }

// Parts takes the level in a mix, 0 for the mains, apart; see [Strip.Levels]. Where the
// channel does not go there, Send is -inf.
func (s Strip) Parts(d Desk, arrives float64, mix int) Parts {
	p := s.head(d, arrives)
	send, known := s.Sends[mix]
	switch {
	case mix == 0 && s.Main:
		p.Fader, p.Pan = s.Fader, d.louderSide(s.Pan)
	case mix == 0 || !known:
		p.Send = math.Inf(-1)
	default:
		p.Send, p.Pan = send.Level, d.louderSide(send.Pan)
		if send.Post {
			p.Fader = s.Fader
		}
	}
	return p
}

// head are the stages that are the same on every way.
func (s Strip) head(d Desk, arrives float64) Parts {
	p := Parts{Gain: s.Gain + s.Trim, Shape: s.Shape.SpeechChange(d)}
	p.Compressor = s.Compressor.Gain(arrives + p.Gain + p.Shape)
	return p
}

// Cause is a stage that makes speech louder or softer.
type Cause struct {
	// Stage is what people call it: "gain", "low cut and EQ", "compressor", "fader",
	// "send", "pan".
	Stage string
	// By is how much louder in dB, below 0 for softer; infinite from and to silence.
	By float64
}

// Causes lists the stages that change, the loudest first.
func Causes(before, after Parts) []Cause {
	var all []Cause
	add := func(stage string, from, to float64) {
		if by := to - from; from != to && math.Abs(by) >= heard {
			all = append(all, Cause{stage, by})
		}
	}
	add("gain", before.Gain, after.Gain)
	add("low cut and EQ", before.Shape, after.Shape)
	add("compressor", before.Compressor, after.Compressor)
	add("fader", before.Fader, after.Fader)
	add("send", before.Send, after.Send)
	add("pan", before.Pan, after.Pan)
	slices.SortStableFunc(all, func(a, b Cause) int { return cmp.Compare(b.By, a.By) })
	return all
}
