package scenes

import (
	"math"

	"deskhand/profiles"
	"deskhand/scenes/tone"
)

// Sounds is what one place of a desk does to speech with two sets of its values.
type Sounds struct {
	Was, Is tone.Strip
	place   profiles.Place
	desk    tone.Desk
	arrives float64
}

// Sounds gathers what a place does to speech, before and after. The arguments give the
// value of a name at the place. Arrives is how speech arrives, see [Resolved]; where
// that is not known, nil, the gain after is taken to be set well.
func (v *Venue) Sounds(place profiles.Place, before, after func(name string) profiles.Value, arrives *float64) Sounds {
	model := v.Desk.Profile
	s := Sounds{
		Was: tone.StripOf(model.Mixes, model.Bands, before), Is: tone.StripOf(model.Mixes, model.Bands, after),
		place: place, desk: tone.DeskOf(model),
	}
	s.arrives = s.Is.ArrivesWellSet()
	if arrives != nil {
		s.arrives = *arrives
	}
	return s
}

// Levels are how loud speech is before and after. Those of a mix are the mix's own: what
// all that is in it gets.
func (s Sounds) Levels() (was, is tone.Levels) {
	return s.at(s.Was.Levels(s.desk, s.arrives)), s.at(s.Is.Levels(s.desk, s.arrives))
}

// Steps are where speech gets louder or softer.
func (s Sounds) Steps() []tone.Step { return tone.Steps(s.Levels()) }

// Causes are what makes speech louder or softer in a mix, 0 for the mains.
func (s Sounds) Causes(mix int) []tone.Cause {
	if s.place.Part == profiles.Mix {
		mix = 0 // its fader leads to what stands for the mains in its own strip
	}
	return tone.Causes(s.Was.Parts(s.desk, s.arrives, mix), s.Is.Parts(s.desk, s.arrives, mix))
}

// at turns the levels of a mix's own strip into levels in the mix.
func (s Sounds) at(l tone.Levels) tone.Levels {
	if s.place.Part != profiles.Mix {
		return l
	}
	return tone.Levels{Main: math.Inf(-1), Mixes: map[int]float64{s.place.Number: l.Main}}
}
