package main

import (
	"deskhand/profiles"
	"deskhand/scenes/recall"
)

type jsonPart struct {
	Position  string `json:"position"`
	Place     string `json:"place"`
	Was       string `json:"was"`
	Performer string `json:"performer"`
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
	SentAgain    []jsonChange   `json:"sent_again"`
	Safe         []jsonChange   `json:"safe"`
	HandMoves    []jsonChange   `json:"hand_moves"`
	Reading      string         `json:"reading"`
	Levels       []jsonStep     `json:"levels"`
	Rises        []jsonRise     `json:"rises"`
	Sent         []string       `json:"sent"`
	Confirmed    []string       `json:"confirmed"`
	NotConfirmed []jsonUnproved `json:"not_confirmed"`
	ByHand       []jsonHand     `json:"by_hand"`
	Overruled    []jsonUnproved `json:"overruled"`
	Moved        []jsonUnproved `json:"moved_meanwhile"`
	PutBack      []jsonSetting  `json:"put_back"`
	StillMuted   []string       `json:"still_muted"`
	Restarted    bool           `json:"restarted"`
	Rivals       []string       `json:"rivals"`
	Anew         bool           `json:"compared_anew"`
	LeftOut      []jsonLeft     `json:"left_out"`
	Fitted       []jsonFitted   `json:"fitted"`
	Notes        []jsonFault    `json:"notes"`
	DryRun       bool           `json:"dry_run"`
	FadeSeconds  float64        `json:"fade_seconds"`
	FadeOrder    string         `json:"fade_order"`
	FadedSeconds float64        `json:"faded_seconds"`
	Seconds      float64        `json:"seconds"`
	Error        string         `json:"error,omitempty"`
	Exit         int            `json:"exit"`
}

type jsonHand struct {
	Parameter   string `json:"parameter"`
	Instruction string `json:"instruction"`
	Done        bool   `json:"done"`
}

// recalledJSON is the one object of swap, send and undo.
func recalledJSON(done recalled) jsonRecalled {
	plan := done.plan
	out := jsonRecalled{
		Venue: plan.Venue.Name, Desk: plan.Venue.Desk.Profile.Name,
		Changes: jsonChanges(plan.Differing()), SentAgain: jsonChanges(plan.Again()), Safe: jsonChanges(plan.Safe()),
		HandMoves: jsonChanges(plan.Moves), Reading: plan.MovesFile,
		Parts: []jsonPart{}, Levels: []jsonStep{}, Rises: []jsonRise{}, Sent: []string{}, Confirmed: []string{}, ByHand: []jsonHand{},
		NotConfirmed: []jsonUnproved{}, Overruled: []jsonUnproved{}, Moved: []jsonUnproved{}, PutBack: []jsonSetting{}, StillMuted: []string{}, Rivals: []string{},
		LeftOut: jsonLefts(done.left), Fitted: listOf(done.fitted, func(f fitted) jsonFitted { return *fittedJSON(f.position, f.FittedEQ) }), Notes: jsonFaults(done.warnings), DryRun: done.dryRun,
		Anew: done.recalled != "", FadeSeconds: round(plan.Fade().Time.Seconds(), 3), FadeOrder: plan.Fade().Order(),
		Exit: codeOf(done.outcome()),
	}
	for _, part := range plan.Parts {
		out.Parts = append(out.Parts, jsonPart{part.Position, part.Place.String(), part.Was, part.Performer, part.WillBeOpen()})
		out.Levels = append(out.Levels, stepsJSON(plan.Venue, part.Place, part.Steps)...)
		for _, rise := range part.Rises {
			out.Rises = append(out.Rises, jsonRise{part.Place.String(), placeOf(plan.Venue, rise.Mix), round(rise.By, 3), rise.FromSilence})
		}
	}
	for _, c := range handwork(plan.Changes()) {
		out.ByHand = append(out.ByHand, jsonHand{c.Parameter.String(), instruction(c), done.result != nil && done.result.HandDid(c.Parameter)})
	}
	if done.result != nil {
		out.addResult(plan.Venue.Desk.Profile, done.result)
	}
	if done.err != nil {
		out.Error = plainError(done.err)
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
	out.NotConfirmed = listOf(r.Unproved, unprovedJSON)
	out.Overruled = listOf(r.Overruled, unprovedJSON)
	out.Moved = listOf(r.Moved, unprovedJSON)
	out.PutBack = listOf(r.PutBack, func(s profiles.Setting) jsonSetting {
		control, _ := p.Control(s.Parameter)
		return jsonSetting{s.Parameter.String(), jsonValue(s.Value), string(control.Spec.Unit)}
	})
	out.StillMuted = listOf(r.StillMuted, func(part *recall.Part) string { return part.Say() })
	out.Restarted = r.Restarted
	out.Rivals = listOf(r.Rivals, func(part *recall.Part) string { return part.Say() })
	out.FadedSeconds = round(r.Faded.Seconds(), 3)
	out.Seconds = round(r.Took.Seconds(), 3)
}

func unprovedJSON(u recall.Unproved) jsonUnproved {
	return jsonUnproved{u.Parameter.String(), jsonValue(u.Wanted), jsonValue(u.Found)}
}
