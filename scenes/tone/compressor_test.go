package tone_test

import (
	"math"
	"testing"

	"deskhand/scenes/tone"
)

func TestTheCompressorByHand(t *testing.T) {
	hard := tone.Compressor{On: true, Threshold: -20, Ratio: 4}
	soft := tone.Compressor{On: true, Threshold: -20, Ratio: 4, Knee: 6, Makeup: 3}
	for _, c := range []struct {
		name string
		tone.Compressor
		level, want float64
	}{
		{"off", tone.Compressor{Threshold: -20, Ratio: 4, Makeup: 3}, 0, 0},
		{"below the threshold", hard, -26, 0},
		{"at the threshold", hard, -20, 0},
		// 12 dB over come out as 12/4 = 3 over: -9 dB.
		{"over it", hard, -8, -9},
		// The knee is from -23 to -17 dB. Below it only make-up.
		{"below the knee", soft, -30, 3},
		{"where the knee begins", soft, -23, 3},
		// At the threshold, 3 dB into a knee of 6: (1/4 - 1) 3^2 / (2 x 6) = -0.5625; 3 - 0.5625.
		{"in the middle of the knee", soft, -20, 2.4375},
		// 4.5 dB into it: -0.75 x 20.25 / 12 = -1.265625.
		{"three quarters into the knee", soft, -18.5, 1.734375},
		// 3 dB over: -0.75 x 3 = -2.25, as the parabola says: -0.75 x 36 / 12.
		{"where the knee ends", soft, -17, 0.75},
		// 4 dB over, just above the knee: -3 + 3.
		{"just above the knee", soft, -16, 0},
		// 20 dB over: -15 + 3.
		{"far above the knee", soft, 0, -12},
		{"a ratio of 1 does nothing", tone.Compressor{On: true, Threshold: -60, Ratio: 1, Knee: 10}, 0, 0},
		{"no ratio below 1 makes it an expander", tone.Compressor{On: true, Threshold: -60, Ratio: 0.5}, 0, 0},
		// All that is over goes: 14 dB.
		{"a limiter", tone.Compressor{On: true, Threshold: -20, Ratio: math.Inf(1)}, -6, -14},
		{"silence", soft, math.Inf(-1), 3},
		// A lowest threshold is -120 dB: half of the 100 dB over goes.
		{"a threshold without end", tone.Compressor{On: true, Threshold: math.Inf(-1), Ratio: 2}, -20, -50},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := c.Gain(c.level); math.Abs(got-c.want) > 1e-9 {
				t.Errorf("%+v: %v dB, not %v dB", c.Compressor, got, c.want)
			}
		})
	}
}

func TestPanByHand(t *testing.T) {
	for _, c := range []struct {
		name           string
		law, pan, want float64
	}{
		{"the centre is 0 dB", 3, 0, 0},
		{"a side is the law", 3, 100, 3},
		{"both sides are the same", 4.5, -100, 4.5},
		// Half way, the near side's angle is 22.5 degrees: 20 log cos = -0.6877 dB from
		// a side, where the centre is at -3.0103 dB: 3 (1 - 0.6877 / 3.0103).
		{"half way", 3, -50, 2.3147},
		// 6 (1 - 0.6877 / 3.0103).
		{"half way by a law of 6 dB", 6, 50, 4.6293},
		{"a desk without a law", 0, 100, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := tone.Strip{Main: true, Pan: c.pan, Sends: map[int]tone.Send{1: {Pan: c.pan}}}
			l := s.Levels(tone.Desk{Rate: 48000, PanLaw: c.law}, -18)
			if math.Abs(l.Main-c.want) > 1e-4 || math.Abs(l.Mixes[1]-c.want) > 1e-4 {
				t.Errorf("%v dB in the mains and %v dB in a mix, not %v dB", l.Main, l.Mixes[1], c.want)
			}
		})
	}
}
