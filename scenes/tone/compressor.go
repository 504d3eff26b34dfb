package tone

// Compressor is a compressor by its static curve: what it does to a level that stays.
type Compressor struct {
	On bool
	// Threshold is in dB re full scale, Ratio at least 1, Knee the width of the bend in
	// dB, around the threshold, and Makeup in dB.
	Threshold, Ratio, Knee, Makeup float64
}

// lowestThreshold is in dB re full scale, below the noise of any converter. A desk that
// calls its lowest threshold -inf is taken to mean it.
const lowestThreshold = -120

// Gain is what the compressor does to a level in dB re full scale, in dB, make-up
// included. The bend is a parabola: D. Giannoulis, M. Massberg, J. D. Reiss, "Digital
// dynamic range compressor design", JAES 60(6), 2012.
func (c Compressor) Gain(level float64) float64 {
	if !c.On {
		return 0
	}
	slope := 1/max(c.Ratio, 1) - 1
	over := level - max(c.Threshold, lowestThreshold)
	switch {
	case 2*over <= -c.Knee:
		return c.Makeup
	case 2*over < c.Knee:
		into := over + c.Knee/2
		return c.Makeup + slope*into*into/(2*c.Knee)
	}
	return c.Makeup + slope*over
}
