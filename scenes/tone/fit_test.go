package tone

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

func logGrid(low, high float64, n int) []float64 {
	g := make([]float64, n)
	for i := range g {
		g[i] = low * math.Pow(high/low, float64(i)/float64(n-1))
	}
	return g
}
func linGrid(low, high float64, n int) []float64 {
	g := make([]float64, n)
	for i := range g {
		g[i] = low + (high-low)*float64(i)/float64(n-1)
	}
	return g
}

func TestExp(t *testing.T) {
	d := Desk{Rate: 48000}
	slot := Slot{Kinds: []Kind{Bell, LowShelf, HighShelf}, Frequencies: logGrid(20, 16000, 481), Gains: linGrid(-15, 15, 121), Qs: logGrid(.25, 16, 121)}
	slots := []Slot{slot, slot, slot, slot}
	r := rand.New(rand.NewPCG(1, 2))
	grid := FitGrid(48000)
	for n := range 100 {
		var s Shape
		for b := range 4 {
			k := Bell
			if b == 0 && n%2 == 0 {
				k = LowShelf
			}
			if b == 3 && n%3 == 0 {
				k = HighShelf
			}
			f := 80 * math.Pow(2, float64(b)*1.9+r.Float64())
			g := slot.Gains[nearest(slot.Gains, (r.Float64()-.5)*12, distance)]
			if g == 0 {
				g = 1
			}
			s.Bands = append(s.Bands, Band{k, slot.Frequencies[nearest(slot.Frequencies, f, logDistance)], g, slot.Qs[nearest(slot.Qs, .6+r.Float64()*3, logDistance)]})
		}
		target := make([]float64, len(grid.Hz))
		grid.Curve(target, d, s)
		t0 := time.Now()
		fit := FitEQ(d, target, slots, nil)
		dt := time.Since(t0)
		t.Logf("%d %v error %.4f largest %.3f at %.0f", n, dt.Round(100*time.Microsecond), fit.Error, fit.Largest, fit.At)
		if fit.Error > 0.01 {
			t.Logf("  want %v\n  got %v", s.Bands, fit.Bands)
		}
	}
}
