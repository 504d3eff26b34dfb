package recall

import (
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes"
)

// What a recall did is written into the evening's record once it is over: nothing waits for
// that, and a record that can't be written is told and stops nothing.

// note writes lines of the record.
func (r *Recaller) note(lines ...scenes.Record) {
	for _, line := range lines {
		if err := r.Memory.AddRecord(line); err != nil {
			if r.Warn != nil {
				r.Warn(err)
			}
			return
		}
	}
}

func (r *Recaller) by() string {
	if r.By == "" {
		return scenes.ByUs
	}
	return r.By
}

// recordRefused notes a plan that a limit or a safe forbade.
func (r *Recaller) recordRefused(plan *Plan, refused error) {
	if r.Rehearse {
		return
	}
	line := scenes.Record{What: scenes.DidRefuse, By: r.by(), Command: r.Command, Text: refused.Error()}
	if len(plan.Parts) == 1 {
		line.Position, line.Performer = plan.Parts[0].Position, plan.Parts[0].Performer
	}
	r.note(line)
}

// recordDone notes what hands had moved before, and what was done of a plan, a line for each
// place that it changed.
func (r *run) recordDone(failure error) {
	lines := r.handLines()
	for _, part := range r.plan.Parts {
		if len(part.Changes) > 0 {
			lines = append(lines, r.partLine(part, failure))
		}
	}
	if r.plan.Nothing() {
		lines = append(lines, scenes.Record{What: scenes.DidRecall, By: r.by(), Command: r.Command, Confirmed: failure == nil, Text: "nothing differed"})
	}
	r.note(lines...)
}

func (r *run) partLine(part *Part, failure error) scenes.Record {
	line := scenes.Record{
		What: scenes.DidRecall, By: r.by(), Command: r.Command, Position: part.Say(), Performer: part.Performer, Scene: part.Scene,
		Changes: r.Venue.RecordChanges(part.Changes), Confirmed: failure == nil,
	}
	for _, u := range r.result.Unproved {
		if u.Parameter.Place == part.Place {
			line.NotConfirmed = append(line.NotConfirmed, u.Parameter.String())
		}
	}
	line.Confirmed = line.Confirmed && len(line.NotConfirmed) == 0
	var words []string
	if slices.Contains(r.result.StillMuted, part) {
		line.Confirmed = false
		words = append(words, "stays muted")
	}
	if r.result.Restarted {
		words = append(words, "the desk lost its settings meanwhile")
	}
	if failure != nil {
		words = append(words, failure.Error())
	}
	line.Text = strings.Join(words, "; ")
	return line
}

// handLines are what hands had moved before the recall, and moved meanwhile.
func (r *run) handLines() []scenes.Record {
	moves := slices.DeleteFunc(slices.Clone(r.plan.Moves), func(c scenes.Change) bool { return r.Recorded[c.Parameter] == c.To })
	lines := r.linesByPlace(moves, r.plan.MovesFile, "")
	lines = append(lines, r.linesByPlace(r.changesOf(r.result.Moved), "", "during the recall, and left so")...)
	return append(lines, r.linesByPlace(r.changesOf(r.result.Overruled), "", "during the recall, and set again")...)
}

// changesOf lead from what was wanted to what a hand had set.
func (r *run) changesOf(moved []Unproved) []scenes.Change {
	changes := make([]scenes.Change, len(moved))
	for i, m := range moved {
		control, _ := r.Venue.Desk.Profile.Control(m.Parameter)
		changes[i] = scenes.Change{Parameter: m.Parameter, Spec: control.Spec, From: m.Wanted, To: m.Found}
	}
	return changes
}

// linesByPlace makes a line of a hand's moves at each place.
func (r *run) linesByPlace(moves []scenes.Change, reading, text string) []scenes.Record {
	var places []profiles.Place
	at := make(map[profiles.Place][]scenes.Change)
	for _, c := range moves {
		if at[c.Parameter.Place] == nil {
			places = append(places, c.Parameter.Place)
		}
		at[c.Parameter.Place] = append(at[c.Parameter.Place], c)
	}
	var lines []scenes.Record
	for _, place := range places {
		line := scenes.Record{What: scenes.DidMove, By: scenes.ByHand, Position: place.Say(), Reading: reading, Text: text, Changes: r.Venue.RecordChanges(at[place])}
		for _, part := range r.plan.Parts {
			if part.Place == place {
				line.Position, line.Performer, line.Scene = part.Say(), part.Was, part.WasBy
			}
		}
		lines = append(lines, line)
	}
	return lines
}
