package main

import (
	"strings"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
)

// What --json prints of files and readings.

type jsonShown struct {
	Venue     string         `json:"venue"`
	Desk      string         `json:"desk"`
	Positions []jsonResolved `json:"positions"`
	// Fade is that of a scene, 0 where there is none.
	Fade      float64 `json:"fade_seconds"`
	FadeOrder string  `json:"fade_order"`
	Exit      int     `json:"exit"`
}

type jsonResolved struct {
	Position  string       `json:"position"`
	Place     string       `json:"place"`
	Performer string       `json:"performer"`
	Open      *bool        `json:"open"` // null: as it was
	Settings  []jsonOrigin `json:"settings"`
	LeftOut   []jsonLeft   `json:"left_out"`
	Notes     []jsonFault  `json:"notes"`
	// Converter and Feedback are null where they can't be worked out or don't apply.
	Converter *jsonConverter `json:"converter"`
	// Fitted is null where the desk has the EQ as it is written.
	Fitted   *jsonFitted   `json:"fitted"`
	Feedback *jsonFeedback `json:"feedback"`
}

// jsonOrigin is a setting with where it comes from.
type jsonOrigin struct {
	jsonSetting
	File  string `json:"file"`
	Line  int    `json:"line"`
	Layer string `json:"layer"`
	Asked any    `json:"asked,omitempty"`
	Note  string `json:"note,omitempty"`
}

func shownJSON(s exhibit) jsonShown {
	v := s.venue
	return jsonShown{
		Venue: v.Name, Desk: v.Desk.Profile.Name, Fade: s.fade.Time.Seconds(), FadeOrder: s.fade.Order(),
		Positions: listOf(s.strips, func(r *scenes.Resolved) jsonResolved {
			return jsonResolved{
				Position: r.Position.Name, Place: r.Position.Place().String(), Performer: r.PerformerName(), Open: r.Open,
				Settings: listOf(r.Wanted, func(w scenes.Wanted) jsonOrigin { return originJSON(v, w) }),
				LeftOut:  jsonLefts(r.Left), Notes: jsonFaults(r.Warnings),
				Converter: converterJSON(v, r), Fitted: fittedJSON(r.Position.Name, r.EQ), Feedback: feedbackJSON(feedbackOf(r, s.open)),
			}
		}),
	}
}

func originJSON(v *scenes.Venue, w scenes.Wanted) jsonOrigin {
	out := jsonOrigin{
		jsonSetting: settingJSON(v.Desk.Profile, w.Parameter, w.Value),
		File:        w.Origin.File, Line: w.Origin.Line, Layer: w.Origin.Layer.String(), Note: w.Note,
	}
	control, _ := v.Desk.Profile.Control(w.Parameter)
	if control.Spec.Say(w.Asked) != control.Spec.Say(w.Value) {
		out.Asked = jsonValue(w.Asked)
	}
	return out
}

func settingJSON(p *profiles.Profile, q profiles.Parameter, v profiles.Value) jsonSetting {
	control, _ := p.Control(q)
	return jsonSetting{q.String(), jsonValue(v), string(control.Spec.Unit)}
}

type jsonReading struct {
	Venue       string            `json:"venue"`
	Desk        string            `json:"desk"`
	Taken       time.Time         `json:"taken"`
	File        string            `json:"file"`
	On          map[string]string `json:"on"`
	Settings    []jsonSetting     `json:"settings"`
	NotAnswered []string          `json:"not_answered"`
	Exit        int               `json:"exit"`
}

func readingJSON(v *scenes.Venue, r *scenes.Reading, missing []profiles.Parameter, file string) jsonReading {
	out := jsonReading{
		Venue: v.Name, Desk: r.Desk, Taken: r.Taken.UTC().Truncate(time.Second), File: file, On: r.On, Settings: []jsonSetting{},
		NotAnswered: listOf(missing, profiles.Parameter.String),
	}
	for _, q := range v.Desk.Profile.Parameters() {
		if value, ok := r.Values[q]; ok {
			out.Settings = append(out.Settings, settingJSON(v.Desk.Profile, q, value))
		}
	}
	if len(missing) > 0 {
		out.Exit = exitNoDesk
	}
	return out
}

type jsonDiff struct {
	A           string       `json:"a"`
	B           string       `json:"b"`
	Differences []jsonChange `json:"differences"`
	// Levels are what the differences do to speech, on a desk.
	Levels []jsonStep `json:"levels"`
	Exit   int        `json:"exit"`
}

type jsonCheck struct {
	Files  int         `json:"files"`
	Faults []jsonFault `json:"faults"`
	Notes  []jsonFault `json:"notes"`
	Exit   int         `json:"exit"`
}

type jsonKept struct {
	Venue     string       `json:"venue"`
	Desk      string       `json:"desk"`
	Position  string       `json:"position"`
	Performer string       `json:"performer"`
	File      string       `json:"file"`
	Kept      []jsonChange `json:"kept"`
	LeftAlone []jsonApart  `json:"left_alone"`
	DryRun    bool         `json:"dry_run"`
	Exit      int          `json:"exit"`
}

type jsonApart struct {
	Parameter string `json:"parameter"`
	Held      any    `json:"held"`
	Wanted    any    `json:"wanted"`
	Unit      string `json:"unit"`
	Why       string `json:"why"`
}

func jsonAparts(apart []scenes.Apart) []jsonApart {
	return listOf(apart, func(x scenes.Apart) jsonApart {
		return jsonApart{x.Parameter.String(), jsonValue(x.Held), jsonValue(x.Wanted), string(x.Spec.Unit), x.Why}
	})
}

func keptJSON(v *scenes.Venue, done kept, dryRun bool) jsonKept {
	return jsonKept{
		Venue: v.Name, Desk: v.Desk.Profile.Name,
		Position: done.strip.Position.Name, Performer: done.strip.PerformerName(), File: done.file,
		Kept: listOf(done.values, func(k scenes.Kept) jsonChange {
			return jsonChange{
				Parameter: strings.Join(k.Path, "."), From: jsonValue(k.From), To: jsonValue(k.To),
				Unit: string(k.Spec.Unit), File: done.file, Line: k.Line,
			}
		}),
		LeftAlone: jsonAparts(done.apart),
		DryRun:    dryRun,
	}
}
