package profiles

import "deskhand/profiles/source"

// usualSound is how a desk works out its sound where the profile doesn't say.
func usualSound() Sound { return Sound{Rate: 48000, PanLaw: 3} }

// What a bell does as its gain grows, as [sound] says it.
const (
	bellsKeep   = "keep"
	bellsNarrow = "narrow"
)

// sound reads [sound]. A profile that is based on another has what that says, key by
// key.
func (l *loader) sound() {
	t, ok := l.root.Table("sound")
	if !ok {
		return
	}
	s := &l.profile.Sound
	within(t, "rate", 8000, 400_000, "the sample rate of its EQ in Hz", &s.Rate)
	within(t, "pan-law", 0, 12, "how many dB the centre is below a side", &s.PanLaw)
	if t.Has("full-scale") {
		var level float64 // a new one: the base's is not this profile's to change
		if within(t, "full-scale", -40, 60, "the level in dBu that fills the converter at a gain of 0 dB", &level) {
			s.FullScale = &level
		}
	}
	if bells, ok := t.Text("bells"); ok {
		s.BellsNarrow = bells == bellsNarrow
		if words := []string{bellsKeep, bellsNarrow}; bells != bellsKeep && bells != bellsNarrow {
			t.Fault("bells", "bells = %q: there is none such%s", bells, source.DidYouMean(bells, words))
		}
	}
}

// within reads a number that has bounds, and leaves it as it is where there is none.
func within(t *source.Table, key string, low, high float64, what string, to *float64) bool {
	n, ok := t.Number(key)
	switch {
	case !ok:
		return false
	case !(n >= low && n <= high):
		t.Fault(key, "%s = %s: write %s, %s to %s", key, source.FormatNumber(n), what, source.FormatNumber(low), source.FormatNumber(high))
		return false
	}
	*to = n
	return true
}
