package desk

import (
	"math"
	"testing"

	"deskhand/profiles"

	"pgregory.net/rapid"
)

// A whole number can't be infinite: then what the profile would send is sent.
func TestWhatCanNotBeToldInTheDesksTypeIsToldAsTheProfileHasIt(t *testing.T) {
	for _, raw := range []any{float32(math.Inf(-1)), math.Inf(1), math.NaN(), 1e300, "7", nil} {
		if got := like(int32(3), raw); got != int32(3) {
			t.Errorf("%v becomes %v", raw, got)
		}
		if got := like(int64(3), raw); got != int64(3) {
			t.Errorf("%v becomes %v", raw, got)
		}
	}
}

// What is sent for a place between two steps is measured as that place, on every number
// of every shipped desk that is a number on the wire, too.
func TestAGaugeMeasuresWhatItSends(t *testing.T) {
	var gauges []gauge
	for _, name := range profiles.ShippedNames() {
		text, err := profiles.Shipped(name)
		if err != nil {
			t.Fatal(err)
		}
		p, err := profiles.Load(name, text)
		if err != nil {
			t.Fatal(err)
		}
		for _, q := range p.Parameters() {
			if g, ok := newGauge(p, q); ok && g.numeric && q.Place.Number <= 1 {
				gauges = append(gauges, g)
			}
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		g := gauges[rapid.IntRange(0, len(gauges)-1).Draw(t, "gauge")]
		at := rapid.Float64Range(0, float64(g.steps-1)).Draw(t, "at")
		argument, actual := g.argument(at)
		if back := g.position(argument); math.Abs(back-actual) > sameStep {
			t.Fatalf("%s: %v at %v is measured as %v", g.q, argument, actual, back)
		}
		step := math.Floor(at)
		argument, _ = g.argument(step)
		if back := g.position(argument); math.Abs(back-step) > sameStep {
			t.Fatalf("%s: %v of step %v is measured as %v", g.q, argument, step, back)
		}
		if g.offGrid(argument) > onGrid {
			t.Fatalf("%s: %v of step %v is off the grid", g.q, argument, step)
		}
	})
}
