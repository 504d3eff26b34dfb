package agent

import (
	"time"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// View is how an event stands, for whoever shows it. What it holds is not changed once it
// was given.
type View struct {
	Venue *scenes.Venue
	Desk  DeskState
	// Hold says that nothing is sent until it is released.
	Hold bool
	// Order is the running order, nil without one; Number is the scene that is on, from 1,
	// and 0 before the first. Since is when it was put on.
	Order  *scenes.RunningOrder
	Number int
	Since  time.Time
	// Positions are those of the venue, in the order of its file.
	Positions []PositionView
	// Next is the scene after the one that is on; nil after the last, and without an order.
	Next *Foreseen
	// Doing is what is being done, as "swap lectern poet: setting", "" for nothing. Done of Of
	// are done, where that is known.
	Doing    string
	Done, Of int
	// ByHand is what a hand has to do now, while positions are muted: see [Agent.HandDid].
	ByHand []scenes.Change
}

// Item is the scene that is on, nil before the first and without an order.
func (v *View) Item() *scenes.Item { return v.item(v.Number) }

// NextItem is the scene after it, nil after the last.
func (v *View) NextItem() *scenes.Item { return v.item(v.Number + 1) }

func (v *View) item(number int) *scenes.Item {
	if v.Order == nil || number < 1 || number > len(v.Order.Items) {
		return nil
	}
	return &v.Order.Items[number-1]
}

// Proof is what is known of what the desk holds at a position.
type Proof string

// What can be known.
const (
	// Nobody: nobody was put on the position, so that there is nothing to prove.
	Nobody Proof = "nobody"
	// Unread: what the desk holds there is not known, or not any more.
	Unread Proof = "not read"
	// Unproved: a recall there has not come to its end, and the position is muted for it.
	Unproved Proof = "not confirmed"
	// Proved: the desk itself has told of all that is wanted there.
	Proved Proof = "confirmed"
)

// PositionView is how a position stands.
type PositionView struct {
	Position, Performer, Scene string
	Place                      profiles.Place
	// Open is nil where it is not known.
	Open  *bool
	Proof Proof
	// Moves are what a hand has moved since the recall, and nobody has kept: from what was
	// agreed to what the desk holds.
	Moves []scenes.Change
	// Saved are what the files say otherwise by now, from what the desk holds.
	Saved []scenes.Change
}

// Foreseen is the next scene, worked out ahead.
type Foreseen struct {
	Number int
	// Plan is what would be sent now; nil while Err or Unread says why there is none.
	Plan *recall.Plan
	// Refused is why the venue's limits or safes would forbid it, nil where they don't.
	Refused *recall.Refused
	// Err is what is wrong in the files.
	Err error
	// Unread says that not all of what the desk holds there is known yet.
	Unread bool
	// Warnings are what a person should know of the files.
	Warnings source.Faults
	Left     []scenes.Left
	// At is when it was worked out.
	At time.Time
}

// View gives how things stand. It may be called from any goroutine.
func (a *Agent) View() *View {
	v := *a.view.Load()
	v.Hold = a.holding.Load()
	return &v
}

// show makes the view anew.
func (a *Agent) show() {
	v := &View{Venue: a.venue, Desk: a.deskState(), Order: a.order.order, Number: a.order.number, Since: a.order.since, Next: a.order.next}
	for i := range a.venue.Positions {
		v.Positions = append(v.Positions, a.positionView(&a.venue.Positions[i]))
	}
	a.view.Store(v)
	a.changed()
}

// showDoing shows how far the one thing is that is being done.
func (a *Agent) showDoing(what string, done, of int) {
	v := *a.view.Load()
	v.Doing, v.Done, v.Of = what, done, of
	a.view.Store(&v)
	a.changed()
}

func (a *Agent) changed() {
	if a.o.Changed != nil {
		a.o.Changed()
	}
}

func (a *Agent) deskState() DeskState {
	switch {
	case a.line.desk != nil:
		return DeskThere
	case a.line.other != "":
		return DeskOther
	}
	return DeskSilent
}

func (a *Agent) positionView(p *scenes.Position) PositionView {
	place := p.Place()
	v := PositionView{Position: p.Name, Place: place, Proof: Nobody}
	if muted, known := a.held[muteOf(place)].On(); known && a.line.desk != nil {
		open := !muted
		v.Open = &open
	}
	if _, unfinished := a.memory.Unfinished[p.Name]; unfinished {
		v.Performer, v.Proof = a.memory.On[p.Name], Unproved
		return v
	}
	s := a.seats[place]
	if s == nil {
		return v
	}
	v.Performer, v.Scene, v.Proof = s.performer, s.scene, Proved
	if a.line.desk == nil || s.isNew || s.strip == nil || a.lost[place] {
		v.Proof = Unread
		return v
	}
	a.compareAt(place, &v)
	return v
}

// compareAt adds how the values at a place stand.
func (a *Agent) compareAt(place profiles.Place, v *PositionView) {
	for _, q := range a.venue.Desk.Profile.At(place) {
		control, _ := a.venue.Desk.Profile.Control(q)
		if q.Name == "mute" || control.Reach() == profiles.Fixed {
			continue
		}
		w, isWanted := a.wanted(q)
		held, agreed := a.held[q], a.agreed[q]
		switch judge(control, w.Value, held, agreed) {
		case unknown:
			if isWanted && a.venue.Desk.Profile.Askable(q) {
				v.Proof = Unread
			}
		case handMoved:
			v.Moves = append(v.Moves, a.change(q, agreed, held))
		case bothMoved:
			from := agreed
			if from.IsZero() {
				from = w.Value
			}
			v.Moves = append(v.Moves, a.change(q, from, held))
		case fileMoved:
			v.Saved = append(v.Saved, a.changeTo(w, held))
		}
	}
}
