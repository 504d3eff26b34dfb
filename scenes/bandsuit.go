package scenes

import (
	"math"

	"deskhand/profiles"
)

// suits reports whether a band of the desk can be what a band asks for: of its kind, and
// at its frequency where the desk's is fixed.
func (b *builder) suits(o *band, slot int) bool {
	if control, ok := b.control(bandName(slot, "kind")); ok {
		if _, err := control.Nearest(profiles.Word(o.kind())); err != nil {
			return false
		}
	}
	control, ok := b.control(bandName(slot, "frequency"))
	if !ok || control.Reach() != profiles.Fixed {
		return true
	}
	is, _ := control.Start.Number()
	wanted, said := o.fields["frequency"].Value.Number()
	return !said || math.Abs(math.Log2(wanted/is)) <= fixedWithin
}

// fixedWithin is how many octaves a desk's fixed frequency may be from the one wanted.
// A shelf there still does much the same to a voice; more is told as a fault.
const fixedWithin = 1.5

// kind is what the band is, a bell unless it says otherwise.
func (o *band) kind() string {
	if kind, said := o.fields["kind"].Value.Word(); said {
		return kind
	}
	return "bell"
}

// describe names the band for a person: "the voice's EQ 2 (FILE:LINE), a bell at 2.5 kHz".
func (o *band) describe() string {
	what := o.say() + ", a " + o.kind()
	if v := o.fields["frequency"].Value; !v.IsZero() {
		what += " at " + profiles.Spec{Unit: profiles.Hertz}.Say(v)
	}
	return what
}
