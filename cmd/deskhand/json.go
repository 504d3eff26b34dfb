package main

import (
	"encoding/json"
	"math"
	"slices"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// What --json prints. The README documents each field. A value is a number in the
// unit given beside it, true or false, or a text; silence is the text "-inf", since
// JSON has no such number; null is a value that is not known or not set.

// printJSON prints one object on one line.
func (a *app) printJSON(v any) {
	encoder := json.NewEncoder(a.out)
	encoder.SetEscapeHTML(false)
	_ = encoder.Encode(v) // the objects are ours, and a closed output is nobody's loss
}

func jsonValue(v profiles.Value) any {
	if n, ok := v.Number(); ok && math.IsInf(n, -1) {
		return "-inf"
	}
	return v.Any()
}

type jsonChange struct {
	Parameter string `json:"parameter"`
	From      any    `json:"from"`
	To        any    `json:"to"`
	Unit      string `json:"unit"`
	Asked     any    `json:"asked,omitempty"`
	File      string `json:"file,omitempty"`
	Line      int    `json:"line,omitempty"`
	Note      string `json:"note,omitempty"`
}

func jsonChanges(changes []scenes.Change) []jsonChange {
	list := make([]jsonChange, len(changes))
	for i, c := range changes {
		list[i] = jsonChange{
			Parameter: path(c.Parameter), From: jsonValue(c.From), To: jsonValue(c.To), Unit: string(c.Spec.Unit),
			File: c.Origin.File, Line: c.Origin.Line, Note: c.Note,
		}
		if c.Rounded() && !c.Asked.IsZero() {
			list[i].Asked = jsonValue(c.Asked)
		}
	}
	return list
}

// path is a parameter's path; a setting of a strip has no place.
func path(q profiles.Parameter) string {
	if q.Place == (profiles.Place{}) {
		return q.Name
	}
	return q.String()
}

type jsonPart struct {
	Position  string `json:"position,omitempty"`
	Place     string `json:"place"`
	Was       string `json:"was,omitempty"`
	Performer string `json:"performer,omitempty"`
	Open      bool   `json:"open"`
}

type jsonRise struct {
	Place       string  `json:"place"`
	Where       string  `json:"where"`
	By          float64 `json:"by"`
	FromSilence bool    `json:"from_silence"`
}

type jsonUnproved struct {
	Parameter string `json:"parameter"`
	Wanted    any    `json:"wanted"`
	Found     any    `json:"found"`
}

type jsonRecalled struct {
	Venue        string         `json:"venue"`
	Desk         string         `json:"desk"`
	Parts        []jsonPart     `json:"parts"`
	Changes      []jsonChange   `json:"changes"`
	Safe         []jsonChange   `json:"safe"`
	HandMoves    []jsonChange   `json:"hand_moves"`
	Reading      string         `json:"reading,omitempty"`
	Rises        []jsonRise     `json:"rises"`
	Sent         []string       `json:"sent"`
	Confirmed    []string       `json:"confirmed"`
	NotConfirmed []jsonUnproved `json:"not_confirmed"`
	ByHand       []string       `json:"by_hand"`
	Moved        []jsonUnproved `json:"moved_meanwhile"`
	StillMuted   []string       `json:"still_muted"`
	Restarted    bool           `json:"restarted"`
	Notes        []string       `json:"notes"`
	DryRun       bool           `json:"dry_run"`
	Seconds      float64        `json:"seconds"`
	Error        string         `json:"error,omitempty"`
	Exit         int            `json:"exit"`
}

// recalledJSON is the one object of swap, send and undo.
func recalledJSON(done recalled) jsonRecalled {
	plan := done.plan
	out := jsonRecalled{
		Venue: plan.Venue.Name, Desk: plan.Venue.Desk.Profile.Name,
		Changes: jsonChanges(plan.Changes()), Safe: jsonChanges(plan.Safe()),
		HandMoves: jsonChanges(plan.Moves), Reading: plan.MovesFile,
		Parts: []jsonPart{}, Rises: []jsonRise{}, Sent: []string{}, Confirmed: []string{}, NotConfirmed: []jsonUnproved{},
		ByHand: []string{}, Moved: []jsonUnproved{}, StillMuted: []string{}, Notes: notesFor(done.warnings, done.notes),
		DryRun: done.dryRun,
	}
	for _, part := range plan.Parts {
		out.Parts = append(out.Parts, jsonPart{part.Position, part.Place.String(), part.Was, part.Performer, part.WillBeOpen()})
		for _, rise := range part.Rises {
			out.Rises = append(out.Rises, jsonRise{part.Place.String(), whereOf(plan.Venue, rise), round(rise.By), rise.FromSilence})
		}
	}
	if done.result != nil {
		out.addResult(plan.Venue.Desk.Profile, done.result)
	}
	switch {
	case done.err != nil && done.result != nil:
		out.Error, out.Exit = plainError(done.err), exitNotConfirmed
	case done.err != nil:
		out.Error, out.Exit = plainError(done.err), codeOf(done.err)
	case done.result != nil && !done.result.Complete():
		out.Exit = exitNotConfirmed
	}
	return out
}

// addResult lists what was sent and what the desk reported, in the desk's order. The
// mute that protects a change is among what was sent only where it is a change.
func (out *jsonRecalled) addResult(p *profiles.Profile, r *recall.Result) {
	changed := make(map[profiles.Parameter]bool)
	for _, c := range r.Plan.Changes() {
		changed[c.Parameter] = true
	}
	sent := make(map[profiles.Parameter]bool)
	for _, s := range r.Sent {
		sent[s.Parameter] = true
	}
	for _, q := range p.Parameters() {
		if !changed[q] {
			continue
		}
		if sent[q] {
			out.Sent = append(out.Sent, q.String())
		}
		if _, ok := r.Confirmed[q]; ok {
			out.Confirmed = append(out.Confirmed, q.String())
		}
	}
	out.NotConfirmed = append(out.NotConfirmed, jsonUnproveds(r.Unproved)...)
	out.Moved = append(out.Moved, jsonUnproveds(r.Moved)...)
	for _, part := range r.StillMuted {
		out.StillMuted = append(out.StillMuted, part.Say())
	}
	out.Restarted = r.Restarted
	out.Seconds = round(r.Took.Seconds())
}

func jsonUnproveds(list []recall.Unproved) []jsonUnproved {
	out := make([]jsonUnproved, len(list))
	for i, u := range list {
		out[i] = jsonUnproved{u.Parameter.String(), jsonValue(u.Wanted), jsonValue(u.Found)}
	}
	return out
}

func round(v float64) float64 { return math.Round(v*1000) / 1000 }

func notesFor(warnings source.Faults, notes []string) []string {
	list := slices.Clone(notes)
	for _, w := range warnings {
		list = append(list, w.Error())
	}
	if list == nil {
		return []string{}
	}
	return list
}

type jsonSetting struct {
	Parameter string `json:"parameter"`
	Value     any    `json:"value"`
	Unit      string `json:"unit"`
	File      string `json:"file,omitempty"`
	Line      int    `json:"line,omitempty"`
	Layer     string `json:"layer,omitempty"`
	Note      string `json:"note,omitempty"`
}

type jsonReading struct {
	Desk        string            `json:"desk"`
	Taken       time.Time         `json:"taken"`
	File        string            `json:"file,omitempty"`
	On          map[string]string `json:"on"`
	Settings    []jsonSetting     `json:"settings"`
	NotAnswered []string          `json:"not_answered"`
}

func readingJSON(p *profiles.Profile, r *scenes.Reading, missing []profiles.Parameter, file string) jsonReading {
	out := jsonReading{Desk: r.Desk, Taken: r.Taken, File: file, On: r.On, Settings: []jsonSetting{}, NotAnswered: []string{}}
	for _, q := range p.Parameters() {
		if v, ok := r.Values[q]; ok {
			control, _ := p.Control(q)
			out.Settings = append(out.Settings, jsonSetting{Parameter: q.String(), Value: jsonValue(control.Tidy(v)), Unit: string(control.Spec.Unit)})
		}
	}
	for _, q := range missing {
		out.NotAnswered = append(out.NotAnswered, q.String())
	}
	return out
}

type jsonFault struct {
	File  string `json:"file"`
	Line  int    `json:"line"`
	Fault string `json:"what"`
}

func jsonFaults(faults source.Faults) []jsonFault {
	list := make([]jsonFault, len(faults))
	for i, f := range faults {
		list[i] = jsonFault{f.File, f.Line, f.What}
	}
	return list
}
