package tone_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes/tone"
)

// fitDesk is a desk to fit onto.
type fitDesk struct {
	name string
	tone.Desk
	slots []tone.Slot
}

// shippedDesk gives the bands of channel 1 of a profile that comes with the program, as
// bells and shelves.
func shippedDesk(t testing.TB, name string) fitDesk {
	t.Helper()
	text, err := profiles.Shipped(name)
	if err != nil {
		t.Fatal(err)
	}
	profile, err := profiles.Load(name+".toml", text)
	if err != nil {
		t.Fatal(err)
	}
	desk := fitDesk{name: name, Desk: tone.DeskOf(profile)}
	for band := 1; band <= profile.Bands; band++ {
		desk.slots = append(desk.slots, tone.Slot{
			Kinds:       gainKinds(t, profile, band),
			Frequencies: gridOf(profile, band, "frequency"),
			Gains:       gridOf(profile, band, "gain"),
			Qs:          gridOf(profile, band, "q"),
		})
	}
	return desk
}

func bandCurve(profile *profiles.Profile, band int, field string) (profiles.Curve, bool) {
	name := "eq." + string(rune('0'+band)) + "." + field
	control, ok := profile.Control(profiles.Parameter{Place: profiles.Place{Part: profiles.Channel, Number: 1}, Name: name})
	if !ok {
		return nil, false
	}
	return control.Curve, true
}

func gridOf(profile *profiles.Profile, band int, field string) (grid []float64) {
	curve, ok := bandCurve(profile, band, field)
	if !ok {
		return nil
	}
	for step := range curve.Steps() {
		value, _ := curve.At(step).Number()
		grid = append(grid, value)
	}
	return grid
}

func gainKinds(t testing.TB, profile *profiles.Profile, band int) (kinds []tone.Kind) {
	t.Helper()
	curve, ok := bandCurve(profile, band, "kind")
	if !ok {
		t.Fatalf("band %d of %s has no kind", band, profile.Name)
	}
	for step := range curve.Steps() {
		word, _ := curve.At(step).Word()
		if kind, _ := tone.KindOf(word); kind.HasGain() {
			kinds = append(kinds, kind)
		}
	}
	return kinds
}

var allGainKinds = []tone.Kind{tone.Bell, tone.LowShelf, tone.HighShelf}

// coarseDesk has third-octaves, whole dB and seven widths.
func coarseDesk() fitDesk {
	slot := tone.Slot{Kinds: allGainKinds, Frequencies: logGrid(20, 20480, 31), Gains: linearGrid(-12, 12, 25),
		Qs: []float64{0.5, 0.7, 1, 1.4, 2, 2.8, 4}}
	return fitDesk{"coarse", tone.Desk{Rate: 48000}, []tone.Slot{slot, slot, slot, slot}}
}

// twoBells has two sweepable bells of one width.
func twoBells() fitDesk {
	slot := tone.Slot{Kinds: []tone.Kind{tone.Bell}, Frequencies: logGrid(80, 10240, 65), Gains: linearGrid(-12, 12, 25), Qs: []float64{1}}
	return fitDesk{"two bells", tone.Desk{Rate: 48000}, []tone.Slot{slot, slot}}
}

func linearGrid(low, high float64, steps int) []float64 {
	grid := make([]float64, steps)
	for i := range grid {
		grid[i] = low + (high-low)*float64(i)/float64(steps-1)
	}
	return grid
}

func logGrid(low, high float64, steps int) []float64 {
	grid := linearGrid(math.Log(low), math.Log(high), steps)
	for i, v := range grid {
		grid[i] = math.Exp(v)
	}
	return grid
}

// voice makes up the EQ of a voice: four bands from low to high, at least apart octaves
// from each other, the lowest and the highest often shelves.
func voice(random *rand.Rand, apart float64) []tone.Band {
	bands := make([]tone.Band, 4)
	for !farApart(bands, apart) {
		for i := range bands {
			bands[i].Frequency = 80 * math.Pow(125, random.Float64()) // to 10 kHz
		}
		slices.SortFunc(bands, func(a, b tone.Band) int {
			if a.Frequency < b.Frequency {
				return -1
			}
			return 1
		})
	}
	for i := range bands {
		bands[i].Gain = 1 + 5*random.Float64()
		if random.IntN(2) == 0 {
			bands[i].Gain = -bands[i].Gain
		}
		bands[i].Q = 0.5 * math.Pow(8, random.Float64()) // to 4
	}
	if random.IntN(2) == 0 && bands[0].Frequency < 400 {
		bands[0].Kind = tone.LowShelf
	}
	if random.IntN(2) == 0 && bands[3].Frequency > 1600 {
		bands[3].Kind = tone.HighShelf
	}
	for i := range bands {
		if bands[i].Kind != tone.Bell {
			bands[i].Q = 0.5 + 0.5*random.Float64()
		}
	}
	return bands
}

func farApart(bands []tone.Band, apart float64) bool {
	for i := 1; i < len(bands); i++ {
		if !(bands[i].Frequency >= bands[i-1].Frequency*math.Pow(2, apart)) {
			return false
		}
	}
	return bands[0].Frequency > 0
}

// targetOf is the curve of bands of a real Q on the grid of fits.
func (d fitDesk) targetOf(bands []tone.Band) []float64 {
	grid := tone.FitGrid(d.Rate)
	curve := make([]float64, len(grid.Hz))
	grid.Curve(curve, tone.Desk{Rate: d.Rate}, tone.Shape{Bands: bands})
	return curve
}
