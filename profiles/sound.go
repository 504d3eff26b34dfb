package profiles

// Sound is how a desk of this model works out its sound.
type Sound struct {
	// Rate is the sample rate in Hz at which its EQ runs.
	Rate float64
	// BellsNarrow says that a bell gets narrower as its gain grows, at the Q that is
	// shown ("proportional Q"). Otherwise it keeps its width.
	BellsNarrow bool
	// PanLaw is how many dB a channel in the centre is below one at a side, in the
	// loudspeaker of that side.
	PanLaw float64
	// FullScale is the level in dBu that fills the converter at a gain of 0 dB, nil where
	// the profile doesn't say.
	FullScale *float64
}
