package scenes

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Wanted is a setting that the layers ask for on the desk of the venue.
type Wanted struct {
	Parameter profiles.Parameter
	// Asked is the value as the layers have it, Value the one on the desk's grid
	// that is nearest, which the desk will hold.
	Asked, Value profiles.Value
	Origin       Origin
	// Note says how the value came about where that is not just how it's written.
	Note string
	// Written is its name in a strip, which differs from the parameter's for a mix
	// with a name and for a band that had to move; Room says that it belongs to a
	// band of the room.
	Written string
	Room    bool
	// Fitted says that it belongs to a band that is no layer's, but fitted to their sum.
	Fitted bool
	// meant is set for the Q of a bell that the file means as another desk shows it.
	meant *meantQ
	// owner is the layer that an implied value follows from.
	owner Layer
	// rest is the part of a trim in dB that makes up for coarse steps of gain.
	rest float64
}

// layer is the layer that sets the value, or that it follows from.
func (w Wanted) layer() Layer {
	if w.Origin.Layer == ImpliedLayer {
		return w.owner
	}
	return w.Origin.Layer
}

// Left is a value of the layers that this venue or its desk has no place for.
type Left struct {
	Entry Entry
	Why   string
}

// Cast is who is on a position: what the layers are built from.
type Cast struct {
	Position  *Position
	Performer *Performer     // nil: nobody
	Scene     *ScenePosition // nil: no scene
}

// Resolved is a position's strip, built up from its layers for the venue's desk.
type Resolved struct {
	Cast
	// Wanted is in the desk's order.
	Wanted []Wanted
	Left   []Left
	// Open says whether the position is to be open, nil to leave it as it was.
	Open *bool
	// Arrival is how loud the performer's voice arrives at the converter at a gain of 0 dB,
	// in dB re full scale; nil where that is not known.
	Arrival *float64
	// EQ is set where the desk's bands are fitted to those that the layers ask for.
	EQ *FittedEQ
	// Warnings are no faults: things that a person should know.
	Warnings source.Faults
}

// PerformerName is the performer's name, or "" for nobody.
func (c Cast) PerformerName() string {
	if c.Performer == nil {
		return ""
	}
	return c.Performer.Name
}

// Resolve builds the strip of a position from its layers. The error is
// [source.Faults], each at the line whose value the desk can't take.
func (v *Venue) Resolve(c Cast) (*Resolved, error) {
	b := builder{venue: v, out: &Resolved{Cast: c}}
	b.build()
	if err := b.faults.Err(); err != nil {
		return nil, err
	}
	return b.out, nil
}

// build builds the strip.
func (b *builder) build() {
	b.plain()
	b.bands()
	b.arrival()
	b.gain()
	b.splitGain()
	b.phantom()
	if b.out.Scene != nil {
		b.out.Open = b.out.Scene.Open
	}
	if b.onTrial {
		b.tryPlaces()
		return
	}
	b.place()
	b.structure()
}

// builder holds what the steps of one Resolve share.
type builder struct {
	venue *Venue
	out   *Resolved
	// values are the winners so far, by their name on the desk.
	values wants
	faults source.Faults
	// onTrial says that only the faults are wanted. Bands of EQ that the desk doesn't have as
	// they are are then left out.
	onTrial bool
}

// voice gives the layers above the position's own, in order.
func (c Cast) voice(venue string) []Strip {
	strips := make([]Strip, 0, 4) // with room for the position's
	if c.Performer != nil {
		strips = append(strips, c.Performer.Strip, c.Performer.Here[venue].Strip)
	}
	if c.Scene != nil {
		strips = append(strips, c.Scene.Strip)
	}
	return strips
}

func (b *builder) fault(o Origin, format string, args ...any) {
	b.faults = append(b.faults, o.fault(format, args...))
}

func (b *builder) warn(o Origin, format string, args ...any) {
	b.out.Warnings = append(b.out.Warnings, o.fault(format, args...))
}

// plain lays the layers over each other, value by value, but for the bands of the
// EQ, which add up.
func (b *builder) plain() {
	for _, strip := range slices.Insert(b.out.voice(b.venue.Name), 0, b.out.Position.Strip) {
		for _, e := range strip {
			if _, _, isBand := bandField(e.Name); isBand {
				continue
			}
			name, ok := b.deskName(e.Name)
			if !ok {
				b.out.Left = append(b.out.Left, Left{e, b.venue.Name + " has no such mix"})
				continue
			}
			b.values.set(name, Wanted{Asked: e.Value, Origin: e.Origin, Written: e.Name})
		}
	}
}

// deskName gives a strip's name with mixes by number.
func (b *builder) deskName(name string) (string, bool) {
	rest, isSend := strings.CutPrefix(name, "send.")
	mix, field, isNested := strings.Cut(rest, ".")
	if !isSend || !isNested {
		return name, true
	}
	number, ok := b.venue.mix(mix)
	return "send." + strconv.Itoa(number) + "." + field, ok
}

// phantom follows the microphone, and nothing else turns it on or off.
func (b *builder) phantom() {
	if m := b.out.Position.Microphone; m != nil {
		b.values.set(phantomName, Wanted{
			Asked: profiles.Switch(m.Phantom), Origin: m.Origin, Written: phantomName, Note: m.sayPhantom(),
		})
	}
}

func (b *builder) control(name string) (*profiles.Control, bool) {
	return b.venue.Desk.Profile.Control(profiles.Parameter{Place: b.out.Position.Place(), Name: name})
}

// tryPlaces finds the values that the desk doesn't take, as place does.
func (b *builder) tryPlaces() {
	place := b.out.Position.Place()
	for i, name := range b.values.names {
		if control, ok := b.venue.Desk.Profile.Control(profiles.Parameter{Place: place, Name: name}); ok {
			b.isTaken(control, b.values.list[i])
		}
	}
}

// isTaken tells of a value that the control doesn't take.
func (b *builder) isTaken(control *profiles.Control, w Wanted) bool {
	err := control.Takes(w.Asked)
	if err != nil {
		b.fault(w.Origin, "%s: %s", w.Written, err)
	}
	return err == nil
}

// place puts the values on the desk's grid, in the desk's order.
func (b *builder) place() {
	b.out.Wanted = make([]Wanted, 0, len(b.values.names))
	for _, q := range b.venue.Desk.Profile.At(b.out.Position.Place()) {
		w, ok := b.values.take(q.Name)
		if !ok {
			continue
		}
		control, _ := b.venue.Desk.Profile.Control(q)
		if !b.isTaken(control, w) {
			continue
		}
		held, _ := control.Nearest(w.Asked)
		w.Parameter, w.Value = q, held
		b.tellFixed(control, w)
		b.out.Wanted = append(b.out.Wanted, w)
	}
	for _, name := range slices.Sorted(slices.Values(b.values.names)) {
		if w, _ := b.values.get(name); w.Origin.Layer != ImpliedLayer {
			b.out.Left = append(b.out.Left, Left{Entry{w.Written, w.Asked, w.Origin}, b.venue.Desk.Profile.Name + " has no such setting"})
		}
	}
}

// tellFixed tells of a value that the desk has otherwise and can't change.
func (b *builder) tellFixed(control *profiles.Control, w Wanted) {
	if control.Reach() != profiles.Fixed || w.Origin.Layer == ImpliedLayer || control.Spec.Say(w.Asked) == control.Spec.Say(w.Value) {
		return
	}
	why := fmt.Sprintf("%s has it fixed at %s", b.venue.Desk.Profile.Name, control.Spec.Say(w.Value))
	b.out.Left = append(b.out.Left, Left{Entry{w.Written, w.Asked, w.Origin}, why})
}

// CastFor puts a performer on a position, by name; "" is nobody.
func (b *Book) CastFor(v *Venue, position, performer string, scene *Scene) (Cast, error) {
	p, err := v.Position(position)
	if err != nil {
		return Cast{}, err
	}
	c := Cast{Position: p}
	if scene != nil {
		c.Scene = scene.On(position)
	}
	if performer != "" {
		if c.Performer, err = b.Performer(performer); err != nil {
			return Cast{}, err
		}
	}
	return c, nil
}

// ResolveScene builds the strips of every position of a scene. Faults of all of
// them are told together.
func (b *Book) ResolveScene(s *Scene) (*Venue, []*Resolved, error) {
	if !b.has(Named{Venues, s.Venue}) {
		return nil, nil, source.Faults{{File: s.File, Line: s.Line, What: b.noVenue(s.Venue)}}
	}
	v, err := b.Venue(s.Venue)
	if err != nil {
		return nil, nil, err
	}
	var all []*Resolved
	var faults source.Faults
	for _, at := range s.Positions {
		r, err := b.resolveAt(v, s, at)
		if err == nil {
			all = append(all, r)
			continue
		}
		var found source.Faults
		if !errors.As(err, &found) {
			found = source.Faults{{File: s.File, Line: at.Line, What: err.Error()}}
		}
		faults = append(faults, found...)
	}
	warnOfFeedback(all)
	return v, all, faults.Err()
}

func (b *Book) resolveAt(v *Venue, s *Scene, at ScenePosition) (*Resolved, error) {
	if at.Performer != "" && !b.has(Named{Performers, at.Performer}) {
		return nil, source.Faults{{File: s.File, Line: at.PerformerLine, What: fmt.Sprintf("there is no performer %q in the book%s",
			at.Performer, source.DidYouMean(at.Performer, b.Names(Performers)))}}
	}
	cast, err := b.CastFor(v, at.Position, at.Performer, s)
	if err != nil {
		return nil, err
	}
	return v.Resolve(cast)
}
