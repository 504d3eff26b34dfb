package main

import "deskhand/scenes/agent"

// jsonAnswer is what was done of what was asked for.
type jsonAnswer struct {
	Asked  string        `json:"asked"`
	Done   bool          `json:"done"`
	Recall *jsonRecalled `json:"recall"`
	Kept   []jsonChange  `json:"kept"`
	File   string        `json:"file"`
	// Rise is the rise with which it would be let through, where a limit refused it.
	Rise   float64     `json:"rise"`
	Error  string      `json:"error"`
	Faults []jsonFault `json:"faults"`
	State  jsonView    `json:"state"`
}

func answerJSON(e agent.Event, v *agent.View) jsonAnswer {
	out := jsonAnswer{Asked: e.Asked.String(), Done: e.Err == nil, Kept: jsonChanges(keptChanges(e)), File: e.File, Rise: riseOf(e), Faults: []jsonFault{}, State: viewJSON(v)}
	if e.Plan != nil {
		r := recalledJSON(recalled{plan: e.Plan, result: e.Result, err: e.Err, refused: e.Kind == agent.Refused})
		out.Recall = &r
		out.Done = out.Done && e.Result != nil && e.Result.Complete()
	}
	if e.Err != nil {
		out.Error, out.Faults = plainError(e.Err), jsonFaults(faultsIn(e.Err))
	}
	return out
}

// jsonView is how an event stands.
type jsonView struct {
	Order     string         `json:"running_order"`
	Number    int            `json:"number"`
	Of        int            `json:"of"`
	On        string         `json:"on"`
	Next      string         `json:"next"`
	Ahead     *jsonRecalled  `json:"ahead"`
	AheadErr  string         `json:"ahead_error"`
	AheadRead bool           `json:"ahead_read"`
	Hold      bool           `json:"hold"`
	Desk      string         `json:"desk"`
	Positions []jsonPosition `json:"positions"`
}

type jsonPosition struct {
	Position  string       `json:"position"`
	Performer string       `json:"performer"`
	Scene     string       `json:"scene"`
	Open      *bool        `json:"open"`
	Proof     string       `json:"proof"`
	Moved     []jsonChange `json:"moved_by_hand"`
	Saved     []jsonChange `json:"saved_since"`
}

func viewJSON(v *agent.View) jsonView {
	out := jsonView{Order: v.Order.Name, Number: v.Number, Of: len(v.Order.Items), Hold: v.Hold, Desk: string(v.Desk), Positions: []jsonPosition{}}
	if it := v.Item(); it != nil {
		out.On = it.Title
	}
	if it := v.NextItem(); it != nil {
		out.Next = it.Title
	}
	if f := v.Next; f != nil {
		out.AheadRead = !f.Unread
		if f.Plan != nil {
			ahead := recalled{aim: aim{warnings: f.Warnings, left: f.Left}, plan: f.Plan, dryRun: true}
			if f.Refused != nil {
				ahead.err = f.Refused
			}
			r := recalledJSON(ahead)
			out.Ahead = &r
		}
		if f.Err != nil || f.Refused != nil {
			out.AheadErr = sayForeseen(v)
		}
	}
	for _, at := range v.Positions {
		out.Positions = append(out.Positions, jsonPosition{
			at.Position, at.Performer, at.Scene, at.Open, string(at.Proof), jsonChanges(at.Moves), jsonChanges(at.Saved),
		})
	}
	return out
}
