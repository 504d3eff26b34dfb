package scenes

import (
	"math"

	"deskhand/profiles"
	"deskhand/scenes/tone"
)

// suits reports whether a band of the desk can be what a band asks for: of its kind, and
// with its frequency, gain and Q.
func (b *builder) suits(o *band, slot int) bool {
	if !b.canBe(slot, o.kind()) {
		return false
	}
	for _, field := range []string{"frequency", "gain", "q"} {
		control, ok := b.control(bandName(slot, field))
		if wanted := o.value(field); ok && !wanted.IsZero() && !hasValue(control, o.within(control, field)) {
			return false
		}
	}
	return true
}

// canBe reports whether a band of the desk can be of a kind. One of which the profile has
// no kind is a bell.
func (b *builder) canBe(slot int, kind string) bool {
	control, ok := b.control(bandName(slot, "kind"))
	if !ok {
		return kind == tone.Bell.String()
	}
	return control.Takes(profiles.Word(kind)) == nil
}

// hasValue reports whether a control can be set to a number, to the nearest step.
func hasValue(control *profiles.Control, v profiles.Value) bool {
	if control.Reach() == profiles.Fixed {
		return control.Spec.Say(v) == control.Spec.Say(control.Start)
	}
	return control.Takes(v) == nil
}

// within is the value of a field, and for a Q that was translated, the end of the control's
// range where it is hardly beyond it: what was translated is not exact.
func (o *band) within(control *profiles.Control, field string) profiles.Value {
	const hardly = 0.02 // of the Q
	v := o.value(field)
	if field != "q" || o.meant == nil {
		return v
	}
	fits, by := control.Within(v)
	if q, _ := v.Number(); math.Abs(by) > hardly*q {
		return v
	}
	return fits
}

// nearestQ is what a band of the desk has for the Q of a plain filter.
func (b *builder) nearestQ(slot int) profiles.Value {
	control, _ := b.control(bandName(slot, "q"))
	q, _ := control.Within(profiles.Number(tone.PlainQ))
	return q
}

// kind is what the band is, a bell unless it says otherwise.
func (o *band) kind() string {
	if kind, said := o.value("kind").Word(); said {
		return kind
	}
	return "bell"
}

// describe names the band for a person: "the voice's EQ 2 (FILE:LINE), a bell at 2.5 kHz".
func (o *band) describe() string {
	what := o.say() + ", a " + o.kind()
	if v := o.value("frequency"); !v.IsZero() {
		what += " at " + profiles.Spec{Unit: profiles.Hertz}.Say(v)
	}
	return what
}
