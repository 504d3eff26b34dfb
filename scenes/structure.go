package scenes

import (
	"fmt"
	"math"

	"deskhand/profiles"
	"deskhand/scenes/tone"
)

// Arrives is the level in dB re full scale at which the performer's voice arrives at the
// converter of a desk at a gain of 0 dB. It is false where that isn't known: without the
// performer's voice, the position's microphone and distance, and the desk's full scale.
func (c Cast) Arrives(desk tone.Desk) (float64, bool) {
	at := c.Position.dialled()
	if c.Performer == nil || c.Performer.Voice == nil || at == nil || math.IsNaN(desk.FullScale) {
		return 0, false
	}
	voice := c.Performer.Voice
	return tone.Arrives(tone.AtDistance(voice.Level, voice.Distance, at.Distance), at.Sensitivity, desk.FullScale), true
}

func (b *builder) arrival() {
	if arrives, known := b.out.Arrives(tone.DeskOf(b.venue.Desk.Profile)); known {
		b.out.Arrival = &arrives
	}
}

// Structure is how the performer's voice fits into the converter, with the gain and pad
// that the strip asks for; a pad of which it says nothing counts as out. It is nil where
// that isn't known.
func (r *Resolved) Structure(desk tone.Desk) *tone.GainStructure {
	arrives, ok := r.Arrives(desk)
	if _, hasGain := r.wanted(gainName); !ok || !hasGain {
		return nil
	}
	strip := tone.StripOf(0, 0, func(name string) profiles.Value {
		w, _ := r.wanted(name)
		return w.Value
	})
	return &tone.GainStructure{Level: arrives + strip.Gain}
}

// RoughVoice reports whether the voice's level was measured too far from today's distance
// to trust the inverse square.
func (r *Resolved) RoughVoice() bool {
	measured, today := r.Performer.Voice.Distance, r.Position.Distance
	return max(measured, today) > roughFactor*min(measured, today)
}

func (r *Resolved) wanted(name string) (Wanted, bool) {
	for _, w := range r.Wanted {
		if w.Parameter.Name == name {
			return w, true
		}
	}
	return Wanted{}, false
}

// structure warns of a voice that would overload the converter, or be lost in it.
func (b *builder) structure() {
	g := b.out.Structure(tone.DeskOf(b.venue.Desk.Profile))
	if g == nil || g.Drive() == tone.DriveFits {
		return
	}
	gain, _ := b.out.wanted(gainName)
	b.warn(gain.Origin, "%s on %s: %s at the converter of %s, %s", b.out.PerformerName(), b.out.Position.Name, g.Drive(), b.venue.Desk.Profile.Name, b.sayFit(g))
}

// sayFit says how far a level is off, and what to do.
func (b *builder) sayFit(g *tone.GainStructure) string {
	level := fmt.Sprintf("speech at %.1f dB re full scale", g.Level)
	if g.Drive() == tone.TooHot {
		text := fmt.Sprintf("%s, its highest levels at %s: take the gain down by %.1f dB", level, SayHeadroom(g), -g.ToWellSet())
		if _, hasPad := b.control("input.pad"); hasPad {
			text += ", or press the pad"
		}
		return text
	}
	wanted, _ := b.out.wanted(gainName)
	gain, _ := wanted.Value.Number()
	most, end := b.mostGain()
	if gain+g.ToWellSet() <= most {
		return fmt.Sprintf("%s: %.1f dB more gain, with the fader down by as much, or a nearer microphone would set it well", level, g.ToWellSet())
	}
	return fmt.Sprintf("%s: %.1f dB more would set it well, and %s at a gain of %.1f dB: move the microphone nearer, or use another",
		level, g.ToWellSet(), end, most)
}

// mostGain is the highest gain in dB that a recall can set here, and what ends there.
func (b *builder) mostGain() (most float64, end string) {
	most = math.Inf(1)
	if control, ok := b.control(gainName); ok {
		most, _ = control.Curve.At(control.Curve.Steps() - 1).Number()
		end = "the desk ends"
	}
	if limit := b.venue.Limits.Gain; limit != nil && *limit < most {
		return *limit, fmt.Sprintf("the venue's limit (%s:%d) is", b.venue.File, b.venue.Limits.Lines["gain"])
	}
	return most, end
}

// SayHeadroom says where the highest short-term levels of speech are, in dB re full scale:
// "-8.0 dB".
func SayHeadroom(g *tone.GainStructure) string { return fmt.Sprintf("%+.1f dB", -g.Headroom()) }
