package main

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/tone"
)

// equaliser is what a strip does to the spectrum, as far as its settings say.
type equaliser struct {
	desk  tone.Desk
	shape tone.Shape
	// parts are the low cut and the bands, each by itself; those that do nothing are
	// not among them.
	parts []part
	// fitted is set where the bands stand for others that were asked for.
	fitted *scenes.FittedEQ
}

// part is the low cut, or one band.
type part struct {
	label string
	shape tone.Shape
}

// stripSettings are what is known of one strip, by the name at its place.
type stripSettings map[string]scenes.Stated

func (s stripSettings) value(name string) profiles.Value { return s[name].Value }

// say gives a value in words, "" where there is none.
func (s stripSettings) say(name string) string {
	if s.value(name).IsZero() {
		return ""
	}
	return s[name].Spec.Say(s.value(name))
}

// equaliserOf works out what settings do on a desk with so many bands of EQ.
func equaliserOf(desk tone.Desk, bands int, s stripSettings) equaliser {
	e := equaliser{desk: desk, shape: tone.StripOf(0, bands, s.value).Shape}
	if cut := e.shape.LowCut; cut.Frequency > 0 {
		e.parts = append(e.parts, part{s.lowCutLabel(), tone.Shape{LowCut: cut}})
	}
	for n := 1; n <= bands; n++ {
		prefix := fmt.Sprintf("eq.%d.", n)
		alone := tone.StripOf(0, bands, func(name string) profiles.Value {
			if name == "eq.on" || strings.HasPrefix(name, prefix) {
				return s.value(name)
			}
			return profiles.Value{}
		}).Shape
		if slices.ContainsFunc(alone.Bands, isHeard) {
			e.parts = append(e.parts, part{s.bandLabel(n, prefix), alone})
		}
	}
	return e
}

func isHeard(b tone.Band) bool { return !b.Kind.HasGain() || b.Gain != 0 }

func (s stripSettings) lowCutLabel() string {
	label := "low cut " + s.say("lowcut.frequency")
	if slope := s.say("lowcut.slope"); slope != "" {
		label += " " + slope
	}
	return label
}

func (s stripSettings) bandLabel(n int, prefix string) string {
	var state bandState
	for _, field := range []string{"kind", "frequency", "gain", "q"} {
		state.add(field, s.value(prefix+field), s.say(prefix+field))
	}
	return fmt.Sprintf("EQ %d %s", n, state.sayAll())
}

// isPlain reports whether there is nothing to draw.
func (e equaliser) isPlain() bool { return len(e.parts) == 0 && e.fitted == nil }

// The range of all graphs: what people hear.
const (
	lowestHz  = 20.0
	highestHz = 20000.0
)

// across gives n frequencies in Hz from the lowest to the highest, evenly spaced to the
// ear. A band's own frequency takes the place of the nearest, so that its peak is met.
func (e equaliser) across(n int) []float64 {
	hz := make([]float64, n)
	octaves := math.Log(highestHz / lowestHz)
	for i := range hz {
		hz[i] = lowestHz * math.Exp(octaves*float64(i)/float64(n-1))
	}
	for _, b := range e.shape.Bands {
		if at := int(math.Round(float64(n-1) * math.Log(b.Frequency/lowestHz) / octaves)); at >= 0 && at < n {
			hz[at] = b.Frequency
		}
	}
	return hz
}

// curve gives what a shape does at some frequencies, in dB.
func (e equaliser) curve(s tone.Shape, hz []float64) []float64 {
	decibels := make([]float64, len(hz))
	tone.NewGrid(e.desk.Rate, hz).Curve(decibels, e.desk, s)
	return decibels
}

// deepest is how far down a graph follows a low cut, a pass filter or a notch, in dB:
// they go on for ever.
const deepest = -18.0

// reach gives the lowest and the highest level in dB that a graph should show.
func (e equaliser) reach() (lowest, highest float64) {
	hz := e.across(graphPoints)
	shapes := []tone.Shape{e.shape, {Bands: slices.DeleteFunc(slices.Clone(e.shape.Bands), func(b tone.Band) bool { return !b.Kind.HasGain() })}}
	for _, p := range e.parts {
		shapes = append(shapes, p.shape)
	}
	for _, s := range shapes {
		curve := e.curve(s, hz)
		low := slices.Min(curve)
		if s.LowCut.Frequency > 0 || slices.ContainsFunc(s.Bands, func(b tone.Band) bool { return !b.Kind.HasGain() }) {
			low = max(low, deepest)
		}
		lowest, highest = min(lowest, low), max(highest, slices.Max(curve))
	}
	if e.fitted != nil {
		lowest, highest = min(lowest, slices.Min(e.fitted.Target)), max(highest, slices.Max(e.fitted.Target))
	}
	return lowest, highest
}

// resolvedEqualiser is the equaliser of a position's strip.
func resolvedEqualiser(v *scenes.Venue, r *scenes.Resolved) equaliser {
	p := v.Desk.Profile
	e := equaliserOf(tone.DeskOf(p), p.Bands, settingsOf(p, r.Position.Place(), v.State(r)))
	e.fitted = r.EQ
	toggle := profiles.Parameter{Place: r.Position.Place(), Name: "lowcut.on"}
	if _, has := p.Control(toggle); has && e.shape.LowCut.Frequency > 0 && !isWanted(r, toggle) {
		e.parts[0].label += ", if it is on"
	}
	return e
}

func isWanted(r *scenes.Resolved, q profiles.Parameter) bool {
	return slices.ContainsFunc(r.Wanted, func(w scenes.Wanted) bool { return w.Parameter == q })
}

// settingsOf gathers what a list states of one place on a desk, and what the desk itself
// has fixed of the low cut and the bands that are stated.
func settingsOf(p *profiles.Profile, at profiles.Place, entries []scenes.Stated) stripSettings {
	s := make(stripSettings)
	for _, e := range entries {
		if e.Parameter.Place == at {
			s[e.Parameter.Name] = e
		}
	}
	for _, name := range slices.Collect(maps.Keys(s)) {
		group, _, _ := cutLast(name)
		for _, field := range shapingFields(group) {
			q := profiles.Parameter{Place: at, Name: group + "." + field}
			control, ok := p.Control(q)
			if _, stated := s[q.Name]; ok && !stated && control.Reach() == profiles.Fixed {
				s[q.Name] = scenes.Stated{Parameter: q, Spec: control.Spec, Value: control.Curve.At(0)}
			}
		}
	}
	return s
}

// shapingFields lists the settings of a low cut or of a band, of "lowcut" or "eq.2".
func shapingFields(group string) []string {
	if group == "lowcut" {
		return []string{"on", "frequency", "slope"}
	}
	if number, ok := strings.CutPrefix(group, "eq."); ok {
		if _, err := strconv.Atoi(number); err == nil {
			return []string{"on", "kind", "frequency", "gain", "q"}
		}
	}
	return nil
}

func cutLast(name string) (before, after string, found bool) {
	i := strings.LastIndexByte(name, '.')
	if i < 0 {
		return name, "", false
	}
	return name[:i], name[i+1:], true
}
