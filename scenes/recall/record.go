package recall

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes"
)

// What is written in the record of the evening: each part that was carried out, what was
// refused, and what a hand had moved before. A record that can't be written is told, and
// stops nothing.

// addRecord writes a line of the record.
func (r *Recaller) addRecord(line scenes.Record) {
	line.By = cmp.Or(line.By, r.By, scenes.ByUs)
	r.warn(r.Memory.AddRecord(line))
}

func (r *Recaller) warn(err error) {
	if err != nil && r.Warn != nil {
		r.Warn(fmt.Errorf("the record of the evening lacks a line: %w", err))
	}
}

// recordRefusal writes that nothing was sent, and why. What can be tried again at once, or
// was stopped by the person who asked, is no refusal.
func (r *Recaller) recordRefusal(plan *Plan, targets []Target, err error) {
	var stale *Stale
	if r.Rehearse || errors.As(err, &stale) || errors.Is(err, ErrNoUndo) || errors.Is(err, context.Canceled) {
		return
	}
	line := scenes.Record{What: scenes.DidRefuse, Command: r.Command, Text: err.Error()}
	if plan != nil && len(targets) == 0 {
		for _, part := range plan.Parts {
			targets = append(targets, part.Target)
		}
	}
	if len(targets) == 1 {
		line.Position, line.Performer, line.Scene = targets[0].Position, targets[0].Performer, targets[0].Scene
	}
	r.addRecord(line)
}

// recordMoves begins to write what a hand had moved before the recall, while the desk is
// being sent to: the first packet does not wait for it. What it gives waits for the end.
func (r *Recaller) recordMoves(plan *Plan) (wait func()) {
	if len(plan.Moves) == 0 {
		return func() {}
	}
	memory := *r.Memory
	written := make(chan error, 1)
	go func() {
		recorded, err := memory.RecordedMoves()
		for _, line := range r.moveLines(plan, recorded) {
			err = errors.Join(err, memory.AddRecord(line))
		}
		written <- err
	}()
	return func() { r.warn(<-written) }
}

// moveLines are the hand moves of each part that are not in the record yet.
func (r *Recaller) moveLines(plan *Plan, recorded scenes.Values) []scenes.Record {
	var lines []scenes.Record
	for _, part := range plan.Parts {
		moves := slices.DeleteFunc(movesAt(plan, part.Place), func(c scenes.Change) bool { return r.same(c.Parameter, recorded[c.Parameter], c.To) })
		if len(moves) == 0 {
			continue
		}
		lines = append(lines, scenes.Record{
			Time: plan.read, What: scenes.DidMove, By: scenes.ByHand, Position: part.Position, Performer: part.Was, Scene: part.WasBy,
			Changes: r.Venue.RecordChanges(moves), Reading: plan.MovesFile,
		})
	}
	return lines
}

func movesAt(plan *Plan, place profiles.Place) []scenes.Change {
	return slices.DeleteFunc(slices.Clone(plan.Moves), func(c scenes.Change) bool { return c.Parameter.Place != place })
}

// recordResult writes a line for each part in which something was done.
func (r *run) recordResult(err error) {
	if r.result == nil || len(r.result.Sent) == 0 && err != nil {
		r.recordRefusal(r.plan, nil, err)
		return
	}
	none := true
	for _, part := range r.plan.Parts {
		if len(part.Changes) == 0 && part.Was == part.Performer && part.WasBy == part.Scene && len(movesAt(r.plan, part.Place)) == 0 {
			continue
		}
		none = false
		r.addRecord(r.partLine(part, err))
	}
	if none {
		r.addRecord(scenes.Record{Time: r.started, What: scenes.DidRecall, Command: r.Command, Confirmed: err == nil, Text: "nothing differed"})
	}
}

// partLine says what a recall did at one place.
func (r *run) partLine(part *Part, err error) scenes.Record {
	line := scenes.Record{
		Time: r.started, What: scenes.DidRecall, Command: r.Command,
		Position: part.Position, Performer: part.Performer, Was: part.Was, Scene: part.Scene,
		Changes: r.Venue.RecordChanges(part.Changes),
	}
	if len(movesAt(r.plan, part.Place)) > 0 {
		line.Reading = r.plan.MovesFile
	}
	for _, u := range r.result.Unproved {
		if u.Parameter.Place == part.Place {
			line.NotConfirmed = append(line.NotConfirmed, u.Parameter.String())
		}
	}
	line.Confirmed = err == nil && len(line.NotConfirmed) == 0 && r.provedAt(part)
	line.Text = strings.Join(r.partNotes(part, err), "; ")
	return line
}

// partNotes say what else there is to know of a part that was carried out.
func (r *run) partNotes(part *Part, err error) []string {
	var notes []string
	if slices.Contains(r.result.StillMuted, part) {
		notes = append(notes, "stays muted")
	}
	if r.result.Restarted {
		notes = append(notes, "the desk lost settings meanwhile and was set again")
	}
	if slices.Contains(r.result.Rivals, part) {
		notes = append(notes, "somebody else was setting it at the same time")
	}
	for _, c := range r.result.NotDone {
		if c.Parameter.Place == part.Place {
			notes = append(notes, "not done by hand: "+c.Spec.SayLabel(c.Parameter.Name, r.Venue.MixName))
		}
	}
	notes = append(notes, r.sayMet("a hand moved meanwhile and won", part, r.result.Moved)...)
	notes = append(notes, r.sayMet("a hand moved meanwhile and was overruled", part, r.result.Overruled)...)
	if err != nil {
		notes = append(notes, err.Error())
	}
	return notes
}

// sayMet lists settings at a part where the recall met a hand, with what the hand had set.
func (r *run) sayMet(what string, part *Part, met []Unproved) []string {
	var words []string
	for _, u := range met {
		if control, has := r.Venue.Desk.Profile.Control(u.Parameter); has && u.Parameter.Place == part.Place {
			words = append(words, control.Spec.SayLabel(u.Parameter.Name, r.Venue.MixName)+" "+control.Spec.Say(u.Found))
		}
	}
	if len(words) == 0 {
		return nil
	}
	return []string{what + ": " + strings.Join(words, ", ")}
}
