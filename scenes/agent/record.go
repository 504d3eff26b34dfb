package agent

import (
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// record notes an event in the evening's record, as far as a recall has not done so itself.
func (a *Agent) record(e Event) {
	line := scenes.Record{Time: e.Time, By: scenes.ByHand, Position: e.Position, Performer: e.Performer}
	if s := a.seatOf(e.Position); s != nil {
		line.Scene = s.scene
	}
	switch e.Kind {
	case Moved:
		line.What, line.Changes = scenes.DidMove, a.venue.RecordChanges(e.Changes)
		a.noteRecorded(e.Changes)
	case Held:
		moved := make([]scenes.Change, len(e.Changes))
		for i, c := range e.Changes {
			moved[i] = c
			moved[i].From, moved[i].To = c.To, c.From
		}
		line.What, line.Changes, line.Text = scenes.DidMove, a.venue.RecordChanges(moved), "changed beside the file"
		a.noteRecorded(moved)
	case Wrote:
		line.What, line.By, line.File, line.Changes = scenes.DidKeep, scenes.ByUs, e.File, a.venue.RecordChanges(scenes.KeptChanges(e.Kept))
		if e.By != "" {
			line.By = e.By
		}
	case Silent:
		line.What, line.By, line.Text = scenes.DidLose, scenes.ByUs, "the desk does not answer"
	case Back:
		line.What, line.By, line.Text = scenes.DidFind, scenes.ByUs, "the desk is back"
	default:
		return
	}
	a.addRecord(line)
}

// addRecord writes a line of the record. That it can't is told once.
func (a *Agent) addRecord(line scenes.Record) {
	const owner = "record"
	if err := a.memory.AddRecord(line); err != nil {
		a.fault(owner, err)
		return
	}
	a.faults.clear(owner)
}

// noteRecorded notes hands' moves that are in the record, so that the next recall, which finds
// them too, doesn't write them once more.
func (a *Agent) noteRecorded(moves []scenes.Change) {
	for _, c := range moves {
		a.recorded[c.Parameter] = c.To
	}
}

// forgetRecorded has moves noted anew at the places of a recall: a hand may move there to the
// same value again.
func (a *Agent) forgetRecorded(plan *recall.Plan) {
	for q := range plan.Before() {
		delete(a.recorded, q)
	}
}

// recordHolds notes all that is still to be noted of holding.
func (a *Agent) recordHolds() {
	for {
		select {
		case on := <-a.holds:
			a.recordHold(on)
		default:
			return
		}
	}
}

// recordHold notes that nothing is to be sent, or again.
func (a *Agent) recordHold(on bool) {
	what := scenes.DidRelease
	if on {
		what = scenes.DidHold
	}
	a.addRecord(scenes.Record{What: what, By: scenes.ByUs})
}

func (a *Agent) seatOf(position string) *seat {
	for _, s := range a.seats {
		if s.position == position {
			return s
		}
	}
	return nil
}
