package scenes

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes/tone"
)

// FittedEQ is how near a desk's own bands come to the bands that the room and the voice
// ask for, where the desk does not have these as they are.
type FittedEQ struct {
	// Why says what the desk does not have.
	Why string
	// Of names the bands that were added up, for a person.
	Of []string
	// Hz are the frequencies of the two curves in dB.
	Hz            []float64
	Target, Curve []float64
	// Mean and Largest are the difference in dB, see [tone.Apart], and At is in Hz.
	Mean, Largest, At float64

	warnings source.Faults
}

// Say tells the difference for a person.
func (f *FittedEQ) Say() string {
	hertz := profiles.Spec{Unit: profiles.Hertz}
	return fmt.Sprintf("%+.1f dB at %s at most, %.1f dB in the mean", f.Largest, hertz.Say(profiles.Number(math.Round(f.At))), f.Mean)
}

// Far reports whether the difference is larger than the book's tolerance. Then the
// strip's warnings tell it.
func (f *FittedEQ) Far() bool { return len(f.warnings) > 0 }

// misfit says why the desk can't have the bands as they are, or "".
func (b *builder) misfit(inUse []*band, unsuited *band) string {
	desk := b.venue.Desk.Profile
	switch {
	case len(inUse) > desk.Bands:
		return fmt.Sprintf("%s has %d bands of EQ and %d are wanted", desk.Name, desk.Bands, len(inUse))
	case unsuited != nil:
		return fmt.Sprintf("%s has no band left that can be %s", desk.Name, unsuited.describe())
	}
	return ""
}

// eqWish is an EQ that the desk doesn't have as it is.
type eqWish struct {
	// bands are those in use, of the room and of the voice.
	bands []*band
	// lacks is what the microphone lacks, see responses; nil for nothing.
	lacks []float64
	// why says what the desk does not have.
	why string
}

func fitHertz() []float64 { return tone.FitGrid(usualRate).Hz }

// usualRate stands for any sample rate, where only frequencies are wanted.
const usualRate = 48000

// wishOrigin is the line that a fit is told at: that of its last band, or of the
// position.
func (b *builder) wishOrigin(wish eqWish) Origin {
	if n := len(wish.bands); n > 0 {
		return wish.bands[n-1].origin()
	}
	return Origin{PerformerLayer, b.out.Performer.File, b.dialledUnder().Microphone.Line}
}

// firstOrigin is the line of the first band, or of what else makes the EQ be used.
func (b *builder) firstOrigin(wish eqWish) Origin {
	return b.wishOrigin(eqWish{bands: wish.bands[:min(1, len(wish.bands))], lacks: wish.lacks})
}

// fitBands sets the desk's own bands so that together they come nearest to all that is
// wanted, and says how near that is. Bands of which something is safe are left alone: what
// they should be is not part of it.
func (b *builder) fitBands(wish eqWish) {
	wish.bands = b.leaveHeld(wish.bands)
	desk := tone.DeskOf(b.venue.Desk.Profile)
	grid := tone.FitGrid(desk.Rate)
	fitted := &FittedEQ{Why: wish.why, Hz: grid.Hz, Target: make([]float64, len(grid.Hz)), Curve: make([]float64, len(grid.Hz))}
	var hints []tone.Band
	for _, one := range wish.bands {
		hints = append(hints, one.tone(desk))
		fitted.Of = append(fitted.Of, one.say())
	}
	grid.Curve(fitted.Target, tone.Desk{Rate: desk.Rate}, tone.Shape{Bands: hints})
	for i, lacks := range wish.lacks {
		fitted.Target[i] += lacks
	}
	if wish.lacks != nil {
		fitted.Of = append(fitted.Of, "the microphone's response")
	}
	numbers, slots := b.toneSlots(hints)
	fit := tone.FitEQ(desk, fitted.Target, slots, hints)
	from := b.wishOrigin(wish)
	var used tone.Shape
	for i, slot := range numbers {
		if fit.Used[i] {
			used.Bands = append(used.Bands, fit.Bands[i])
			b.useFitted(slot, fit.Bands[i], from)
			continue
		}
		b.freeBand(slot)
	}
	grid.Curve(fitted.Curve, desk, used)
	fitted.Mean, fitted.Largest, fitted.At = fit.Error, fit.Largest, fit.At
	b.out.EQ = fitted
	b.tellFit(fitted, from)
}

// leaveHeld asks for the room's bands whose own band of the desk is safe, and takes them out:
// the desk holds them by itself, and in the sum they would be heard twice.
func (b *builder) leaveHeld(bands []*band) []*band {
	return slices.DeleteFunc(slices.Clone(bands), func(one *band) bool {
		held := one.room && one.slot == one.number && b.isSafeBand(one.slot)
		if held {
			b.useBand(one)
		}
		return held
	})
}

// tellFit warns of a fit that is farther off than the book allows.
func (b *builder) tellFit(f *FittedEQ, from Origin) {
	if math.Abs(f.Largest) <= b.venue.EQ.Tolerance {
		return
	}
	far := from.fault("%s; the nearest that its own bands come to %s is off by %s (more than %.1f dB)",
		f.Why, strings.Join(f.Of, ", "), f.Say(), b.venue.EQ.Tolerance)
	f.warnings = source.Faults{far}
	b.out.Warnings = append(b.out.Warnings, far)
}

// tone gives the band with the Q that it really has on its desk.
func (o *band) tone(on tone.Desk) tone.Band {
	kind, _ := tone.KindOf(o.kind())
	number := func(field string) float64 {
		n, _ := o.value(field).Number()
		return n
	}
	t := tone.Band{Kind: kind, Frequency: number("frequency"), Gain: number("gain"), Q: cmp.Or(number("q"), tone.PlainQ)}
	if kind == tone.Bell {
		t.Q = on.BellQ(t.Gain, t.Q)
	}
	return t
}

// toneSlots gives the numbers of the desk's bands that may be set, and what they can be
// set to. Pass filters and notches are used only where one is wanted.
func (b *builder) toneSlots(wanted []tone.Band) (numbers []int, slots []tone.Slot) {
	for number := 1; number <= b.venue.Desk.Profile.Bands; number++ {
		slot := tone.Slot{
			Kinds:       b.fitKinds(number, wanted),
			Frequencies: b.gridOf(bandName(number, "frequency")),
			Gains:       b.gridOf(bandName(number, "gain")),
			Qs:          b.gridOf(bandName(number, "q")),
		}
		if b.isSafeBand(number) || len(slot.Kinds) == 0 || len(slot.Frequencies) == 0 {
			continue
		}
		numbers, slots = append(numbers, number), append(slots, slot)
	}
	return numbers, slots
}

// fitKinds lists the kinds that a fit may make of a band.
func (b *builder) fitKinds(number int, wanted []tone.Band) []tone.Kind {
	kinds := b.kindsOf(number)
	if len(kinds) == 1 {
		return kinds
	}
	return slices.DeleteFunc(kinds, func(kind tone.Kind) bool {
		return !kind.HasGain() && !slices.ContainsFunc(wanted, func(w tone.Band) bool { return w.Kind == kind })
	})
}

// kindsOf lists the kinds that a band of the desk can be.
func (b *builder) kindsOf(number int) []tone.Kind {
	control, ok := b.control(bandName(number, "kind"))
	if !ok {
		return []tone.Kind{tone.Bell}
	}
	var kinds []tone.Kind
	for step := range control.Curve.Steps() {
		word, _ := control.Curve.At(step).Word()
		if kind, known := tone.KindOf(word); known {
			kinds = append(kinds, kind)
		}
	}
	return kinds
}

// gridOf lists the numbers that a control can have, nil where the desk has none.
func (b *builder) gridOf(name string) []float64 {
	control, ok := b.control(name)
	if !ok {
		return nil
	}
	grid := make([]float64, control.Curve.Steps())
	for step := range grid {
		grid[step], _ = control.Curve.At(step).Number()
	}
	return grid
}

// useFitted asks for a band as the fit found it.
func (b *builder) useFitted(slot int, fitted tone.Band, from Origin) {
	values := map[string]profiles.Value{
		"on":        profiles.Switch(true),
		"kind":      profiles.Word(fitted.Kind.String()),
		"frequency": profiles.Number(fitted.Frequency),
		"q":         profiles.Number(fitted.Q),
	}
	if fitted.Kind.HasGain() {
		values["gain"] = profiles.Number(fitted.Gain)
	}
	for field, value := range values {
		name := bandName(slot, field)
		if _, ok := b.control(name); ok {
			b.imply(name, value, from, "fitted to this desk")
			w, _ := b.values.get(name)
			w.Fitted = true
			b.values.set(name, w)
		}
	}
}
