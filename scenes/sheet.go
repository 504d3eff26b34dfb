package scenes

import (
	"cmp"
	"fmt"
	"slices"

	"deskhand/profiles"
)

// Sheet is what people at the stage and the desk need on paper for an event. Scenes are
// numbered from 1, as in the running order.
type Sheet struct {
	Order *RunningOrder
	Venue *Venue
	// Inputs are the positions that the event uses, by channel.
	Inputs []Input
	// Hand is what a hand has to set, in the order of scenes and channels. What stays as an
	// earlier scene has left it is not in it.
	Hand []HandSetting
	// Strips are the labels under the faders: one strip to begin with, and one for each
	// scene where a label is another.
	Strips []LabelStrip
}

// Input is one position of an event.
type Input struct {
	Position *Position
	Phantom  Phantom
	// Sources are those that the scenes ask for, in order, each once, as the trade says
	// them; none where the source is left as it is.
	Sources []string
	Turns   []Turned
}

// Turned is who is on a position from one scene to another.
type Turned struct {
	First, Last int
	// Performer is the performer's name, "" for nobody.
	Performer string
	// Open says whether the position is to be open, nil that no scene so far says it.
	Open *bool
}

// Phantom is how phantom power stands at a position in an event.
type Phantom string

// How phantom power may stand.
const (
	PhantomUnsaid Phantom = "unsaid" // no microphone is named
	PhantomOff    Phantom = "off"
	PhantomOn     Phantom = "on"
	// PhantomShared is on for another microphone that shares the desk's switch; this one
	// needs none.
	PhantomShared Phantom = "shared"
	// PhantomHarms is to be off, as it harms the microphone.
	PhantomHarms Phantom = "harms"
	// PhantomConflict is needed by one microphone and harms another on the same switch, be it
	// of this event or not: a person has to put one of them on another channel.
	PhantomConflict Phantom = "conflict"
)

// HandSetting is what a hand has to set before a scene.
type HandSetting struct {
	Scene     int
	Position  string
	Performer string
	// Change has what the hand sets, and From where an earlier scene has set it.
	Change Change
}

// LabelStrip is the labels from one scene to another: one for each channel of the desk from
// the lowest that the event uses to the highest, so that the strip lies under the faders.
type LabelStrip struct {
	First, Last int
	Labels      []Label
}

// Label is what stands under one fader. Of a channel without a position only Channel is set.
type Label struct {
	Channel  int
	Position string
	// Text is the performer's label, "" where nobody is.
	Text string
}

// Sheet gathers what the sheet of a running order says. The error is [source.Faults] where
// a scene can't be had on the venue's desk.
func (b *Book) Sheet(o *RunningOrder) (*Sheet, error) {
	kept := b.onShelf()
	var v *Venue
	var played [][]*Resolved
	for i := range o.Items {
		at, resolved, err := kept.ResolveItem(o, i+1)
		if err != nil {
			return nil, err
		}
		v, played = at, append(played, resolved)
	}
	if v == nil {
		return nil, fmt.Errorf("%s has no scene, so that there is nothing to put on a sheet", o.File)
	}
	return SheetOf(o, v, played), nil
}

// SheetOf gathers the sheet from the strips of each item of a running order.
func SheetOf(o *RunningOrder, v *Venue, played [][]*Resolved) *Sheet {
	s := &Sheet{Order: o, Venue: v}
	for _, resolved := range played {
		for _, r := range resolved {
			if s.input(r.Position.Name) == nil {
				s.Inputs = append(s.Inputs, Input{Position: r.Position})
			}
		}
	}
	slices.SortFunc(s.Inputs, func(a, b Input) int { return cmp.Compare(a.Position.Channel, b.Position.Channel) })
	for i := range s.Inputs {
		s.Inputs[i].Phantom = s.phantomAt(s.Inputs[i].Position)
	}
	hand, labels := handWalk{sheet: s, holds: make(Values)}, make(map[string]string)
	for i, resolved := range played {
		resolved = slices.SortedFunc(slices.Values(resolved), func(a, b *Resolved) int { return cmp.Compare(a.Position.Channel, b.Position.Channel) })
		for _, r := range resolved {
			s.input(r.Position.Name).take(v, i+1, r)
			hand.take(i+1, r)
			labels[r.Position.Name] = labelOf(r)
		}
		s.label(i+1, labels)
	}
	for i := range s.Inputs {
		s.Inputs[i].lastUntil(len(played))
	}
	return s
}

// input finds a position of the event, or nil.
func (s *Sheet) input(position string) *Input {
	for i := range s.Inputs {
		if s.Inputs[i].Position.Name == position {
			return &s.Inputs[i]
		}
	}
	return nil
}

// take goes on by one scene that speaks of the position.
func (in *Input) take(v *Venue, scene int, r *Resolved) {
	in.lastUntil(scene - 1)
	if source, ok := r.wanted("source"); ok {
		control, _ := v.Desk.Profile.Control(source.Parameter)
		if says := control.Spec.Say(source.Value); !slices.Contains(in.Sources, says) {
			in.Sources = append(in.Sources, says)
		}
	}
	now := Turned{First: scene, Last: scene, Performer: r.PerformerName(), Open: r.Open}
	if len(in.Turns) == 0 {
		in.Turns = append(in.Turns, now)
		return
	}
	last := &in.Turns[len(in.Turns)-1]
	if now.Open == nil {
		now.Open = last.Open
	}
	if last.Performer == now.Performer && sameOpen(last.Open, now.Open) {
		last.Last = scene
		return
	}
	in.Turns = append(in.Turns, now)
}

// lastUntil says that whoever is on the position is there until a scene.
func (in *Input) lastUntil(scene int) {
	if len(in.Turns) > 0 {
		in.Turns[len(in.Turns)-1].Last = scene
	}
}

func sameOpen(a, b *bool) bool {
	return a == nil && b == nil || a != nil && b != nil && *a == *b
}

// labelName is the setting that names a channel.
const labelName = "label"

// labelOf is the performer's label: as the book has it, of any length and whether the desk
// has labels or not; else the performer's title or name. A label of the position's own names
// the position, which stands beside it.
func labelOf(r *Resolved) string {
	if r.Performer == nil {
		return ""
	}
	label := ""
	if w, ok := r.wanted(labelName); ok && w.layer() != PositionLayer {
		label, _ = w.Asked.Word()
	}
	for _, l := range r.Left {
		if l.Entry.Name == labelName && l.Entry.Origin.Layer != PositionLayer {
			label, _ = l.Entry.Value.Word()
		}
	}
	return cmp.Or(label, r.Performer.Title, r.Performer.Name)
}

// label adds a strip for a scene where a label is another than before, and lets the last
// one go on otherwise.
func (s *Sheet) label(scene int, texts map[string]string) {
	if len(s.Inputs) == 0 {
		return
	}
	first := s.Inputs[0].Position.Channel
	labels := make([]Label, s.Inputs[len(s.Inputs)-1].Position.Channel-first+1)
	for i := range labels {
		labels[i].Channel = first + i
	}
	for _, in := range s.Inputs {
		at := &labels[in.Position.Channel-first]
		at.Position, at.Text = in.Position.Name, texts[in.Position.Name]
	}
	if n := len(s.Strips); n > 0 && slices.Equal(s.Strips[n-1].Labels, labels) {
		s.Strips[n-1].Last = scene
		return
	}
	s.Strips = append(s.Strips, LabelStrip{First: scene, Last: scene, Labels: labels})
}

// phantomAt says how phantom power stands at a position while all microphones of the event
// are plugged in. What is harmed counts wherever the venue has it, as it does for a recall:
// it may be plugged in though nobody uses it.
func (s *Sheet) phantomAt(p *Position) Phantom {
	m := p.Microphone
	if m == nil {
		return PhantomUnsaid
	}
	needed, harms := m.Phantom, m.Harmed != nil || len(s.Venue.Harmed(p.Place())) > 0
	for _, other := range s.sharing(p) {
		needed = needed || other.Phantom
	}
	switch {
	case needed && harms:
		return PhantomConflict
	case m.Phantom:
		return PhantomOn
	case needed:
		return PhantomShared
	case m.Harmed != nil:
		return PhantomHarms
	}
	return PhantomOff
}

// InConflict lists the positions whose microphones can't share a switch of phantom power, by
// channel: those of the event, and those of the venue that are harmed by it.
func (s *Sheet) InConflict() []*Position {
	var at []*Position
	for _, in := range s.Inputs {
		if in.Phantom == PhantomConflict {
			at = append(append(at, in.Position), s.Venue.Harmed(in.Position.Place())...)
		}
	}
	slices.SortFunc(at, func(a, b *Position) int { return cmp.Compare(a.Channel, b.Channel) })
	return slices.CompactFunc(at, func(a, b *Position) bool { return a.Channel == b.Channel })
}

// sharing lists the microphones of the event whose phantom power has the switch of a
// position's channel.
func (s *Sheet) sharing(p *Position) []*Microphone {
	control, ok := s.Venue.Desk.Profile.Control(profiles.Parameter{Place: p.Place(), Name: phantomName})
	if !ok {
		return nil
	}
	first, last := profiles.Bank(control.Bank, p.Channel)
	var there []*Microphone
	for _, in := range s.Inputs {
		if at := in.Position; at.Microphone != nil && at.Channel >= first && at.Channel <= last {
			there = append(there, at.Microphone)
		}
	}
	return there
}
