package desk

import (
	"math"
	"testing"
	"time"

	"deskhand/profiles"

	"pgregory.net/rapid"
)

// shippedFaders are the faders of channel 1 on every desk that is shipped.
func shippedFaders(t *testing.T) map[string]*profiles.Control {
	t.Helper()
	all := make(map[string]*profiles.Control)
	for _, name := range profiles.ShippedNames() {
		text, err := profiles.Shipped(name)
		if err != nil {
			t.Fatal(err)
		}
		p, err := profiles.Load(name+".toml", text)
		if err != nil {
			t.Fatal(err)
		}
		q, _ := profiles.ParseParameter("channel.1.fader")
		control, ok := p.Control(q)
		if !ok {
			t.Fatal(name, "has no fader")
		}
		all[name] = control
	}
	return all
}

// A ladder leads from one level to another on the desk's grid: always on, never twice the
// same, in steps as small as asked for or of one step of the grid, and at each moment no
// farther from the line than half a step.
func TestALadderLeadsFromOneLevelToTheOther(t *testing.T) {
	faders := shippedFaders(t)
	for name, control := range faders {
		rapid.Check(t, func(rt *rapid.T) {
			steps := control.Curve.Steps()
			from := control.Curve.At(rapid.IntRange(0, steps-1).Draw(rt, "from"))
			to := control.Curve.At(rapid.IntRange(0, steps-1).Draw(rt, "to"))
			most := rapid.SampledFrom(glideSteps).Draw(rt, "most")
			rungs := ladder(control, from, to, most, rapid.Float64Range(0.01, most).Draw(rt, "first"))
			held, along := from, 0.0
			for _, r := range rungs {
				if control.Same(held, r.value) {
					rt.Fatalf("%s: %v is sent twice running", name, held)
				}
				if r.along < along || r.along > 1 || r.slack <= 0 {
					rt.Fatalf("%s: due at %v after %v, slack %v", name, r.along, along, r.slack)
				}
				checkRung(rt, control, held, r, most)
				held, along = r.value, r.along
			}
			if !control.Same(held, to) {
				rt.Fatalf("%s: it ends at %v, not at %v", name, held, to)
			}
		})
	}
}

// checkRung sees that a step is no larger than asked for, or one step of the grid. Below
// -60 dB any is allowed.
func checkRung(rt *rapid.T, control *profiles.Control, held profiles.Value, r rung, most float64) {
	a, _ := held.Number()
	b, _ := r.value.Number()
	if math.Abs(b-a) <= most || min(a, b) < -59 && (math.IsInf(a, -1) || math.IsInf(b, -1) || min(a, b) < glideFloor-0.2) {
		return
	}
	x, _ := control.Curve.Step(held)
	y, _ := control.Curve.Step(r.value)
	lowest := level(control.Curve.At(lowestHeard(control)))
	if x-y != 1 && y-x != 1 && min(a, b) > lowest {
		rt.Fatalf("from %v to %v dB at once", a, b)
	}
}

// Whatever is asked of it, a course sends no step farther from when it is due than its
// slack, and keeps the pace.
func TestACourseKeepsThePaceAndTheLines(t *testing.T) {
	faders := shippedFaders(t)
	rapid.Check(t, func(rt *rapid.T) {
		control := faders[rapid.SampledFrom(profiles.ShippedNames()).Draw(rt, "desk")]
		var ways []way
		for range rapid.IntRange(1, 12).Draw(rt, "levels") {
			steps := control.Curve.Steps()
			ways = append(ways, way{
				control: control, messages: 1,
				from: control.Curve.At(rapid.IntRange(0, steps-1).Draw(rt, "from")), to: control.Curve.At(rapid.IntRange(0, steps-1).Draw(rt, "to")),
			})
		}
		asked := time.Duration(rapid.IntRange(50, 60_000).Draw(rt, "ms")) * time.Millisecond
		pace := rapid.Float64Range(5, 1500).Draw(rt, "pace")
		c := plot(ways, asked, pace)
		if c.over < asked || len(c.rungs) != len(c.at) {
			rt.Fatal(c.over, asked)
		}
		gap := time.Duration(float64(time.Second) / pace)
		for i, r := range c.rungs {
			due := c.lead + time.Duration(r.along*float64(c.over))
			if off := c.at[i] - due; c.at[i] < 0 || r.along > 0 && float64(off.Abs()) > r.slack*float64(c.over)+1 {
				rt.Fatalf("step %d is %v late, in a glide of %v", i, off, c.over)
			}
			if i > 0 && c.at[i]-c.at[i-1] < gap-time.Microsecond {
				rt.Fatalf("step %d comes %v after the one before", i, c.at[i]-c.at[i-1])
			}
		}
	})
}

// On a control from -40 dB up in steps of 2 dB, without silence, no step is smaller.
func TestOnACoarseGridEveryStepOfItIsTaken(t *testing.T) {
	p, err := profiles.Load("tub.toml", []byte(`name = "tub"
about = "one channel"
channels = 1
[link]
port = 47099
[identity]
ask = "/who"
says = "tub"
[channel]
mute = { at = "/mute/{channel}" }
fader = { at = "/fader/{channel}", linear = [-40.0, 10.0], steps = 26 }
`))
	if err != nil {
		t.Fatal(err)
	}
	q, _ := profiles.ParseParameter("channel.1.fader")
	control, _ := p.Control(q)
	rungs := ladder(control, profiles.Number(-40), profiles.Number(0), 0.5, 0.5)
	if len(rungs) != 20 {
		t.Errorf("%d steps, not 20", len(rungs))
	}
	for i, r := range rungs { // each is due halfway, at 1, 3, 5 ... of 40 dB
		if want := float64(2*i+1) / 40; math.Abs(r.along-want) > 1e-9 || level(r.value) != float64(-38+2*i) {
			t.Errorf("step %d: %v at %v, not at %v", i, r.value, r.along, want)
		}
	}
	if lowest := level(control.Curve.At(lowestHeard(control))); lowest != -40 {
		t.Errorf("the lowest sound is %v dB", lowest)
	}
}
