package scenes

import (
	"slices"

	"deskhand/profiles"
)

// Statement is all that one side of a comparison says.
type Statement struct {
	// Title is what to call the side.
	Title string
	// Partial says that what it does not mention is not known, as in a reading,
	// rather than not set.
	Partial bool
	Entries []Stated
}

// Stated is one value that a side states. A setting of a strip, which is at no place
// of a desk yet, has the zero Place.
type Stated struct {
	Parameter profiles.Parameter
	Spec      profiles.Spec
	Value     profiles.Value
	Origin    Origin
}

// Differences lists what two statements say otherwise, in the order of the first; what
// only the second says comes where it stands there. What one of them does not mention
// differs only where neither is partial.
func Differences(a, b Statement, same func(q profiles.Parameter, x, y profiles.Value) bool) []Change {
	theirs := make(map[profiles.Parameter]Stated, len(b.Entries))
	for _, e := range b.Entries {
		theirs[e.Parameter] = e
	}
	partial := a.Partial || b.Partial
	alone := onlyThere(a, b)
	if partial {
		alone = nil
	}
	var changes []Change
	for _, e := range a.Entries {
		changes = append(changes, alone[e.Parameter]...)
		other, both := theirs[e.Parameter]
		switch {
		case both && !same(e.Parameter, e.Value, other.Value):
			changes = append(changes, changeOf(e, other))
		case !both && !partial:
			changes = append(changes, Change{Parameter: e.Parameter, Spec: e.Spec, From: e.Value, Origin: e.Origin})
		}
	}
	return append(changes, alone[profiles.Parameter{}]...)
}

// onlyThere gives what b says and a does not, by the parameter of both that it comes
// before in b; by none where it comes after them all.
func onlyThere(a, b Statement) map[profiles.Parameter][]Change {
	ours := make(map[profiles.Parameter]bool, len(a.Entries))
	for _, e := range a.Entries {
		ours[e.Parameter] = true
	}
	alone := make(map[profiles.Parameter][]Change)
	var waiting []Change
	for _, e := range b.Entries {
		if ours[e.Parameter] {
			alone[e.Parameter], waiting = waiting, nil
			continue
		}
		waiting = append(waiting, changeOf(Stated{}, e))
	}
	alone[profiles.Parameter{}] = waiting
	return alone
}

// InDeskOrder sorts changes as the venue's desk has them: place by place, and each place
// once.
func (v *Venue) InDeskOrder(changes []Change) {
	order := make(map[profiles.Parameter]int)
	for i, q := range v.Desk.Profile.Parameters() {
		order[q] = i
	}
	slices.SortStableFunc(changes, func(x, y Change) int { return order[x.Parameter] - order[y.Parameter] })
}

// changeOf says that a value of one side is another on the other. The origin is that
// of the second side, or of the first where the second has none, as a desk.
func changeOf(from, to Stated) Change {
	c := Change{Parameter: to.Parameter, Spec: to.Spec, From: from.Value, To: to.Value, Asked: to.Value, Origin: to.Origin}
	if c.Origin.File == "" {
		c.Origin = from.Origin
	}
	return c
}

// State says what a resolved position asks for on the venue's desk, the mute with it
// where the scene says whether the position is open.
func (v *Venue) State(r *Resolved) []Stated {
	var entries []Stated
	for _, w := range r.Wanted {
		entries = append(entries, v.stated(w.Parameter, w.Value, w.Origin))
	}
	mute := profiles.Parameter{Place: r.Position.Place(), Name: "mute"}
	if _, has := v.Desk.Profile.Control(mute); has && r.Open != nil {
		entries = append(entries, v.stated(mute, profiles.Switch(!*r.Open), Origin{SceneLayer, r.Scene.File, r.Scene.OpenLine}))
	}
	return entries
}

// StateReading says what a reading holds.
func (v *Venue) StateReading(r *Reading) []Stated {
	var entries []Stated
	for _, w := range r.Wanted(v.Desk.Profile) {
		entries = append(entries, v.stated(w.Parameter, w.Value, w.Origin))
	}
	return entries
}

// StateValues says what a desk holds.
func (v *Venue) StateValues(values Values) []Stated {
	var entries []Stated
	for _, q := range v.Desk.Profile.Parameters() {
		if value, ok := values[q]; ok {
			entries = append(entries, v.stated(q, value, Origin{Layer: ReadingLayer}))
		}
	}
	return entries
}

func (v *Venue) stated(q profiles.Parameter, value profiles.Value, o Origin) Stated {
	control, _ := v.Desk.Profile.Control(q)
	return Stated{q, control.Spec, value, o}
}

// Same holds two values against each other on the grid of the venue's desk.
func (v *Venue) Same(q profiles.Parameter, x, y profiles.Value) bool {
	control, ok := v.Desk.Profile.Control(q)
	return ok && control.Same(x, y)
}

// State says what a performer's file sets, as it is written. What is set for one
// venue only begins with "at." and the venue's name.
func (b *Book) State(p *Performer) []Stated {
	words := b.words()
	entries := states("", p.Strip, words)
	var venues []string
	for venue := range p.Here {
		venues = append(venues, venue)
	}
	slices.Sort(venues)
	entries = append(entries, dialled("", p.Dialled, p.File)...)
	for _, venue := range venues {
		entries = append(entries, states("at."+venue+".", p.Here[venue].Strip, words)...)
		entries = append(entries, dialled("at."+venue+".", p.Here[venue].Dialled, p.File)...)
	}
	return entries
}

// StateVenue says what a venue's positions set, as it is written.
func (b *Book) StateVenue(v *Venue) []Stated {
	words := b.words()
	var entries []Stated
	for _, p := range v.Positions {
		entries = append(entries, states(p.Name+".", p.Strip, words)...)
	}
	return entries
}

func states(prefix string, strip Strip, words *vocabulary) []Stated {
	entries := make([]Stated, 0, len(strip))
	for _, e := range strip {
		spec, _ := words.spec(family(e.Name))
		entries = append(entries, Stated{profiles.Parameter{Name: prefix + e.Name}, spec, e.Value, e.Origin})
	}
	return entries
}

// dialled states how a gain was dialled in.
func dialled(prefix string, d *Dialled, file string) []Stated {
	if d == nil {
		return nil
	}
	from := Origin{PerformerLayer, file, d.Line}
	return []Stated{
		{profiles.Parameter{Name: prefix + "dialled-in.sensitivity"}, profiles.Spec{Label: "sensitivity", Kind: profiles.Level, Unit: profiles.Decibel}, profiles.Number(d.Sensitivity), from},
		{profiles.Parameter{Name: prefix + "dialled-in.distance"}, profiles.Spec{Label: "distance", Unit: "m"}, profiles.Number(d.Distance), from},
	}
}
