package scenes

import (
	"fmt"
	"math"

	"deskhand/profiles"
)

// The parameters between which a gain is split.
const (
	gainName = "input.gain"
	trimName = "input.trim"
)

// gain carries the performer's gain over to today's microphone and distance. A gain
// of the venue, of the performer's file for this venue, or of the scene was found
// right here and needs no carrying, unless it says how it was dialled in.
func (b *builder) gain() {
	w, ok := b.values.get(gainName)
	if !ok {
		return
	}
	from := b.out.dialled(w.Origin.Layer, b.venue.Name)
	to := b.out.Position.dialled()
	switch {
	case from == nil && w.Origin.Layer == PerformerLayer:
		b.warn(w.Origin, "the gain is taken as it is: nothing says how it was dialled in ([dialled-in] with sensitivity and distance)")
		return
	case from == nil:
		return
	case to == nil:
		b.warn(w.Origin, "the gain is taken as it is: position %q does not say its microphone and distance (%s:%d)",
			b.out.Position.Name, b.venue.File, b.out.Position.Line)
		return
	}
	if carry(*from, *to) != 0 {
		gain, _ := w.Asked.Number()
		w.Asked = profiles.Number(CarryGain(gain, *from, *to))
		w.Note = sayCarry(gain, *from, *to)
		if rough(*from, *to) {
			b.warn(w.Origin, "the gain carried over is a rough guide only: the distances, %s m and %s m, are more than a factor of %d apart",
				figure(from.Distance), figure(to.Distance), roughFactor)
		}
	}
	b.values.set(gainName, b.within(w))
}

// dialled is how the gain of a layer was dialled in, nil where that isn't said.
func (c Cast) dialled(l Layer, venue string) *Dialled {
	switch {
	case c.Performer == nil:
		return nil
	case l == PerformerLayer:
		return c.Performer.Dialled
	case l == PerformerHereLayer:
		return c.Performer.Here[venue].Dialled
	}
	return nil
}

// dialled is today's microphone and distance, nil where the position doesn't say both.
func (p *Position) dialled() *Dialled {
	if p.Microphone == nil || p.Distance == 0 {
		return nil
	}
	return &Dialled{Sensitivity: p.Microphone.Sensitivity, Distance: p.Distance}
}

// within moves a carried-over gain into the desk's range, and says so.
func (b *builder) within(w Wanted) Wanted {
	control, ok := b.control(gainName)
	if !ok {
		return w
	}
	fits, by := control.Within(w.Asked)
	if by == 0 {
		return w
	}
	b.warn(w.Origin, "the gain carried over, %s, is out of the desk's range: it is set to %s, %+.1f dB off; move the microphone or use another",
		control.Spec.Say(w.Asked), control.Spec.Say(fits), by)
	w.Asked = fits
	return w
}

// coarse is the largest step of gain in dB that needs no trim beside it: about what
// an ear can tell.
const coarse = 1.0

// preamp is how one desk takes a gain: in fine steps, or in coarse ones with a trim
// beside it.
type preamp struct {
	gain, trim *profiles.Control // trim is nil where the desk has none
}

func (v *Venue) preampAt(at profiles.Place) (preamp, bool) {
	gain, ok := v.Desk.Profile.Control(profiles.Parameter{Place: at, Name: gainName})
	trim, _ := v.Desk.Profile.Control(profiles.Parameter{Place: at, Name: trimName})
	return preamp{gain, trim}, ok
}

// split gives the gain to set for one that is asked for, and what is left for the
// trim. On a desk with coarse steps that is the nearest step at or below; on others
// all is left to the gain, and rest is 0.
func (p preamp) split(asked float64) (gain, rest float64) {
	const slack = 1e-9
	nearest, err := p.gain.Curve.Step(profiles.Number(asked))
	if err != nil {
		return asked, 0
	}
	below, above := math.Inf(-1), math.Inf(1)
	for step := max(nearest-1, 0); step <= min(nearest+1, p.gain.Curve.Steps()-1); step++ {
		at, _ := p.gain.Curve.At(step).Number()
		if at <= asked+slack {
			below = max(below, at)
		} else {
			above = min(above, at)
		}
	}
	if math.IsInf(below, 0) || math.IsInf(above, 0) || above-below <= coarse {
		return asked, 0
	}
	return below, max(asked-below, 0)
}

// splitGain makes up with the trim for what a desk's coarse steps of gain leave.
func (b *builder) splitGain() {
	w, ok := b.values.get(gainName)
	p, has := b.venue.preampAt(b.out.Position.Place())
	if !ok || !has {
		return
	}
	asked, _ := w.Asked.Number()
	gain, rest := p.split(asked)
	if rest == 0 {
		return
	}
	w.Note = joinNotes(w.Note, fmt.Sprintf("%s asked for: the step below on this desk", p.gain.Spec.Say(w.Asked)))
	w.Asked = profiles.Number(gain)
	b.values.set(gainName, w)
	if p.trim == nil {
		return
	}
	trim, set := b.values.get(trimName)
	base, _ := trim.Asked.Number()
	if !set {
		trim = Wanted{Origin: Origin{ImpliedLayer, w.Origin.File, w.Origin.Line}, Written: trimName, owner: w.Origin.Layer}
	}
	trim.Asked, trim.rest = profiles.Number(base+rest), rest
	trim.Note = fmt.Sprintf("makes up %.1f dB for the coarse steps of the gain", rest)
	b.values.set(trimName, trim)
}

func joinNotes(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}
