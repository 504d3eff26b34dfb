package agent

import (
	"errors"
	"fmt"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
)

// What the agent sees and does goes into the record of the evening, but for recalls, which
// write their own lines. A record that can't be written is told, and stops nothing.

func (a *Agent) record(line scenes.Record) {
	if line.By == "" {
		line.By = a.askedBy()
	}
	if err := a.memory.AddRecord(line); err != nil {
		a.unrecorded(err)
	}
}

// unrecorded tells of a line that the record lacks.
func (a *Agent) unrecorded(err error) {
	a.fault("record", fmt.Errorf("the record of the evening lacks a line: %w", err))
}

// askedBy is who has asked for what is being done.
func (a *Agent) askedBy() string {
	if a.asking == nil {
		return scenes.ByUs
	}
	return a.asking.by
}

// recordEvent writes what an event tells, if it is for the record.
func (a *Agent) recordEvent(e Event) {
	switch e.Kind {
	case Moved:
		a.recordMoves(e, e.Changes)
	case Held:
		a.recordMoves(e, a.handsPart(e.Changes))
	case Wrote:
		a.recordKept(e)
	case Silent, Other:
		a.record(scenes.Record{What: scenes.DidLose, Text: e.Text})
	case Awoke:
		a.record(scenes.Record{What: scenes.DidAwake, By: scenes.ByUs, Text: e.Text})
	case Back:
		a.record(scenes.Record{What: scenes.DidFind, Text: e.Text, Changes: a.venue.RecordChanges(e.Changes)})
	}
}

// handsPart leaves of what was changed beside a file what was a hand's for certain, led
// from what was agreed to what the desk holds. Of what came about while nobody looked, the
// next recall knows whether it was a hand's.
func (a *Agent) handsPart(changes []scenes.Change) []scenes.Change {
	var hand []scenes.Change
	for _, c := range changes {
		q := c.Parameter
		if _, away := a.away[q]; !away && !a.agreed[q].IsZero() && !a.lost[q.Place] {
			hand = append(hand, a.change(q, a.agreed[q], a.held[q]))
		}
	}
	return hand
}

// recordMoves writes what a hand has moved at a position, each move once.
func (a *Agent) recordMoves(e Event, changes []scenes.Change) {
	var fresh []scenes.Change
	for _, c := range changes {
		if !a.venue.Same(c.Parameter, a.recorded[c.Parameter], c.To) {
			fresh = append(fresh, c)
			a.recorded[c.Parameter] = c.To
		}
	}
	if len(fresh) > 0 {
		a.record(scenes.Record{What: scenes.DidMove, By: scenes.ByHand, Position: e.Position, Performer: e.Performer, Scene: a.memory.Scenes[e.Position], Changes: a.venue.RecordChanges(fresh)})
	}
}

// recordKept writes what a hand has moved and that it went into a file.
func (a *Agent) recordKept(e Event) {
	var written, moved []scenes.Change
	for _, k := range e.Kept {
		written = append(written, scenes.Change{Parameter: k.Parameter, Spec: k.Spec, From: k.From, To: k.To})
		if agreed := a.keptFrom[k.Parameter]; !agreed.IsZero() && !a.venue.Same(k.Parameter, agreed, a.held[k.Parameter]) {
			moved = append(moved, a.change(k.Parameter, agreed, a.held[k.Parameter]))
		}
	}
	a.recordMoves(e, moved)
	a.record(scenes.Record{What: scenes.DidKeep, By: e.By, Command: a.askedFor(), Position: e.Position, Performer: e.Performer, File: e.File, Changes: a.venue.RecordChanges(written), Confirmed: true})
}

// askedFor is the command that is being done, "" for none.
func (a *Agent) askedFor() string {
	if a.asking == nil {
		return ""
	}
	return a.commandOf(a.asking.ask)
}

// recordUndone writes that something could not even be begun.
func (a *Agent) recordUndone(e Event) Event {
	a.record(scenes.Record{What: scenes.DidRefuse, Command: a.askedFor(), Text: e.Err.Error()})
	return e
}

// recordOrder writes that a running order is begun, goes on, or is left.
func (a *Agent) recordOrder(what string) {
	o := a.order.order
	if o == nil {
		return
	}
	line := scenes.Record{What: what, Command: "run " + o.Name, Text: fmt.Sprintf("%d scenes", len(o.Items))}
	if n := a.order.number; n > 0 {
		line.Text = fmt.Sprintf("scene %d of %d is on, %s", n, len(o.Items), o.Items[n-1].Title)
	}
	a.record(line)
}

// recordedBefore notes after a recall which of a hand's moves it has recorded.
func (a *Agent) recordedBefore(moves []scenes.Change) {
	for _, c := range moves {
		if a.venue.Same(c.Parameter, a.held[c.Parameter], c.To) {
			a.recorded[c.Parameter] = c.To
		}
	}
}

// forgetRecorded has a hand's move recorded again once the desk has held something else.
func (a *Agent) forgetRecorded(q profiles.Parameter, held profiles.Value) {
	if v, known := a.recorded[q]; known && !a.venue.Same(q, v, held) {
		delete(a.recorded, q)
	}
}

// holdPressed is a hold or its release, for the record.
type holdPressed struct {
	on bool
	by string
	at time.Time
}

// noteHold passes on a hold to the agent's own goroutine, which writes the record.
func (a *Agent) noteHold(h holdPressed) {
	select {
	case a.holds <- h:
	default:
		a.troubled(errors.New("the record of the evening lacks a hold: too many came at once"))
	}
}

func (a *Agent) recordHold(h holdPressed) {
	what := scenes.DidRelease
	if h.on {
		what = scenes.DidHold
	}
	a.record(scenes.Record{Time: h.at, What: what, By: h.by})
}

// recordEnd writes what is left to be recorded when the agent ends.
func (a *Agent) recordEnd() {
	for {
		select {
		case h := <-a.holds:
			a.recordHold(h)
		default:
			a.recordOrder(scenes.DidEnd)
			return
		}
	}
}
