package scenes

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes/tone"
)

// lookUp finds the desk and the microphone that a [dialled-in] names, and notes a fault
// where the book has none such.
func (b *Book) lookUp(t *source.Table, d *Dialled) {
	if d == nil {
		return
	}
	if d.Desk != "" {
		model, err := b.Profile(d.Desk)
		if err != nil {
			t.Fault("desk", "%s", firstOf(err))
		}
		d.model = model
	}
	if d.Microphone != nil {
		d.microphone = b.lookUpMicrophone(t, *d.Microphone)
	}
}

func (b *Book) lookUpMicrophone(t *source.Table, at MicrophoneAt) *Microphone {
	if !b.has(Named{Venues, at.Venue}) {
		t.Fault("microphone", "there is no venue %q in the book%s", at.Venue, source.DidYouMean(at.Venue, b.Names(Venues)))
		return nil
	}
	v, err := b.Venue(at.Venue)
	if err != nil {
		t.Fault("microphone", "%s", firstOf(err))
		return nil
	}
	m := v.microphone(at.Name)
	if m == nil {
		t.Fault("microphone", "%s has no microphone %q%s", v.File, at.Name, source.DidYouMean(at.Name, v.microphoneNames()))
	}
	return m
}

// dialledOn is the desk whose meaning of Q a layer's bells have: that on which it was
// dialled in, where it's named, and otherwise the venue's.
func (c Cast) dialledOn(l Layer, at *Venue) tone.Desk {
	if d := c.dialled(l, at.Name); d != nil && d.model != nil {
		return tone.DeskOf(d.model)
	}
	return tone.DeskOf(at.Desk.Profile)
}

// meantQ is a Q as a desk shows it.
type meantQ struct {
	on tone.Desk
	q  float64
}

// translate gives a bell the Q that this desk shows for the bell that the file means.
func (b *builder) translate(o *band) {
	gain, _ := o.value("gain").Number()
	e, ok := o.entry("q")
	q, isNumber := e.Value.Number()
	from, to := b.out.dialledOn(e.Origin.Layer, b.venue), tone.DeskOf(b.venue.Desk.Profile)
	if o.kind() != "bell" || !ok || !isNumber || from.BellsNarrow == to.BellsNarrow {
		return
	}
	o.meant = &meantQ{from, q}
	o.note = fmt.Sprintf("Q %s as %s shows it", figure(q), b.out.dialled(e.Origin.Layer, b.venue.Name).Desk)
	e.Value = profiles.Number(to.ShownQ(gain, from.BellQ(gain, q)))
	o.set("q", &e)
}

// mostResponse is by how many dB at most a difference of microphones joins the EQ. Larger
// ones are a nearness or a handling that no EQ makes up for.
const mostResponse = 6.0

// responses is what today's microphone lacks of the one under which the performer was
// dialled in, in dB over the frequencies, if the book wants that to join the EQ; nil where
// there is none, or either response isn't known.
func (b *builder) responses() []float64 {
	today := b.out.Position.Microphone
	d := b.dialledUnder()
	if !b.venue.EQ.Microphones || today == nil || d == nil || len(today.Response) == 0 || len(d.microphone.Response) == 0 {
		return nil
	}
	hz := fitHertz()
	lacks := make([]float64, len(hz))
	for i, f := range hz {
		lacks[i] = min(max(d.microphone.Response.At(f)-today.Response.At(f), -mostResponse), mostResponse)
	}
	if !slices.ContainsFunc(lacks, func(db float64) bool { return math.Abs(db) >= leastResponse }) {
		return nil
	}
	return lacks
}

// leastResponse is the least difference of microphones in dB that is worth an EQ.
const leastResponse = 0.1

// dialledUnder is how the performer was dialled in where that names the microphone, nil
// where it doesn't.
func (b *builder) dialledUnder() *Dialled {
	for _, layer := range []Layer{PerformerHereLayer, PerformerLayer} {
		if d := b.out.dialled(layer, b.venue.Name); d != nil && d.microphone != nil {
			return d
		}
	}
	return nil
}

// At is the level in dB at a frequency in Hz: on a line between two points over the
// logarithm of the frequency, and flat beyond the ends.
func (r Response) At(hz float64) float64 {
	i := sort.Search(len(r), func(i int) bool { return r[i].Frequency >= hz })
	switch i {
	case 0:
		return r[0].Level
	case len(r):
		return r[len(r)-1].Level
	}
	low, high := r[i-1], r[i]
	return low.Level + math.Log(hz/low.Frequency)/math.Log(high.Frequency/low.Frequency)*(high.Level-low.Level)
}
