package tone

import (
	"math"

	"deskhand/profiles"
)

// Desk is how a desk works out its sound.
type Desk struct {
	// Rate is the sample rate in Hz at which its filters run.
	Rate float64
	// BellsNarrow says that the Q shown is that of a bell of little gain, and that the
	// bell gets narrower as its gain grows, up or down ("proportional Q"): by 10^(|gain|/40),
	// the square root of the gain as a factor. Otherwise the Q is the same at all gains.
	BellsNarrow bool
	// PanLaw is how many dB a channel in the centre is below one at a side, in the
	// loudspeaker of that side.
	PanLaw float64
	// FullScale is the level in dBu that fills the converter at a gain of 0 dB, NaN
	// where the profile doesn't say.
	FullScale float64
}

// DeskOf gives how desks of a model work out their sound.
func DeskOf(p *profiles.Profile) Desk {
	d := Desk{Rate: p.Sound.Rate, BellsNarrow: p.Sound.BellsNarrow, PanLaw: p.Sound.PanLaw, FullScale: math.NaN()}
	if p.Sound.FullScale != nil {
		d.FullScale = *p.Sound.FullScale
	}
	return d
}

// BellQ is the Q that a bell of the desk really has, as the cookbook means it: centre
// frequency over the width between the two points of half its gain in dB.
func (d Desk) BellQ(gain, shown float64) float64 {
	if !d.BellsNarrow {
		return shown
	}
	return shown * narrowing(gain)
}

// ShownQ is the Q to set on the desk for a bell that really has the given one. It is
// the inverse of [Desk.BellQ].
func (d Desk) ShownQ(gain, real float64) float64 {
	if !d.BellsNarrow {
		return real
	}
	return real / narrowing(gain)
}

func narrowing(gain float64) float64 { return math.Pow(10, math.Abs(gain)/40) }
