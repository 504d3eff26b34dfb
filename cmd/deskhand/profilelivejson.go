package main

import (
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/scenes/desk"
)

// jsonLive is what profile check prints of a profile and a desk.
type jsonLive struct {
	File      string       `json:"file"`
	Name      string       `json:"name"`
	Address   string       `json:"address"`
	Says      any          `json:"says"` // null where the desk does not tell
	Questions int          `json:"questions"`
	Misfits   []jsonAsked  `json:"misfits"`
	Trips     *jsonTrips   `json:"trips"`
	Bears     *jsonBears   `json:"bears"`
	Doubts    []string     `json:"doubts"`
	Refused   string       `json:"refused"`
	Trouble   string       `json:"trouble"`
	Moved     []jsonMoved  `json:"moved"`
	LeftOut   []jsonNotice `json:"left_out"`
	// WouldMove is what --dry-run lists in place of moving it.
	WouldMove []string      `json:"would_move"`
	Disturbed []string      `json:"disturbed"`
	NotBack   []jsonSetting `json:"not_back"`
	InDoubt   []jsonSetting `json:"in_doubt"`
	Unread    int           `json:"unread"`
	Exit      int           `json:"exit"`
}

type jsonAsked struct {
	Parameters []string `json:"parameters"`
	Missing    []string `json:"missing"`
	Between    []string `json:"between"`
	Outcome    string   `json:"outcome"`
	Asked      string   `json:"asked"`
	Came       []string `json:"came"`
	About      []string `json:"about"`
}

func askedJSON(a desk.Asked) jsonAsked {
	return jsonAsked{
		listOf(a.Parameters, path), listOf(a.Missing, path), listOf(a.Off, path),
		a.Outcome.String(), a.Question.String(), listOf(a.Heard, osc.Heard.String), listOf(a.About, path),
	}
}

// jsonTrips are in milliseconds.
type jsonTrips struct {
	Least  float64 `json:"least"`
	Median float64 `json:"median"`
	Most95 float64 `json:"most_95"`
	Of     int     `json:"of"`
}

type jsonBears struct {
	AtOnce     int     `json:"at_once"`
	AtOnceLost int     `json:"at_once_lost"`
	Pace       float64 `json:"pace"`
	PaceLost   float64 `json:"pace_lost"`
	Questions  int     `json:"questions"`
}

type jsonMoved struct {
	jsonSetting             // what it held before
	Verdict     string      `json:"verdict"`
	Steps       int         `json:"steps"`
	Profile     int         `json:"profile_steps"`
	Finer       bool        `json:"finer"`
	Points      []jsonPoint `json:"points"`
	Came        []string    `json:"came"`
}

// jsonPoint is a value that was sent and what came back, in trade units and as they
// stand on the wire.
type jsonPoint struct {
	Sent    any    `json:"sent"`
	Back    any    `json:"back"`
	OnWire  string `json:"sent_wire"`
	Offwire string `json:"back_wire"`
}

type jsonNotice struct {
	Parameter string `json:"parameter"`
	Why       string `json:"why"`
}

func liveJSON(l *live) jsonLive {
	f, p := &l.found, l.profile
	out := jsonLive{
		File: p.File, Name: p.Name, Address: l.address, Questions: len(f.reading.Asked),
		Misfits: listOf(f.misfits(), askedJSON), Doubts: append([]string{}, f.doubts(p)...),
		Moved: []jsonMoved{}, LeftOut: []jsonNotice{}, WouldMove: []string{}, Disturbed: []string{}, NotBack: []jsonSetting{}, InDoubt: []jsonSetting{},
		Exit: codeOf(l.outcome()),
	}
	if f.identity.Answered {
		out.Says = f.identity.Says
	}
	if t := f.reading.Trips; t.Of > 0 {
		out.Trips = &jsonTrips{millis(t.Least), millis(t.Median), millis(t.Most95), t.Of}
	}
	if b := f.bearing; b.Sent > 0 {
		out.Bears = &jsonBears{b.AtOnce, b.AtOnceLost, b.Pace, b.PaceLost, b.Sent}
	}
	if f.refused != nil {
		out.Refused = f.refused.Error()
	}
	if f.trouble != nil {
		out.Trouble = plainError(f.trouble)
	}
	out.addMove(p, f)
	return out
}

// addMove adds what was moved, or would be.
func (out *jsonLive) addMove(p *profiles.Profile, f *findings) {
	if f.plan == nil {
		return
	}
	for _, planned := range f.plan.Planned {
		switch {
		case planned.LeftOut != "":
			out.LeftOut = append(out.LeftOut, jsonNotice{path(planned.Parameter), planned.LeftOut})
		case f.moved == nil:
			out.WouldMove = append(out.WouldMove, path(planned.Parameter))
		}
	}
	if f.moved == nil {
		return
	}
	out.Moved = listOf(f.moved.Moved, func(m desk.Moved) jsonMoved { return movedJSON(p, m) })
	out.Disturbed = listOf(f.moved.Disturbed, path)
	was := func(s profiles.Setting) jsonSetting { return settingJSON(p, s.Parameter, s.Value) }
	out.NotBack, out.InDoubt, out.Unread = listOf(f.moved.NotBack, was), listOf(f.moved.InDoubt, was), f.moved.Unread
}

func movedJSON(p *profiles.Profile, m desk.Moved) jsonMoved {
	control, _ := p.Control(m.Parameter)
	return jsonMoved{
		settingJSON(p, m.Parameter, m.From), m.Verdict.String(), m.Steps, control.Curve.Steps(), m.Finer,
		listOf(m.Points, func(pt desk.MovePoint) jsonPoint {
			sent, back := m.Values(pt)
			return jsonPoint{jsonValue(sent), jsonValue(back), wireText(pt.Sent), wireText(pt.Back)}
		}),
		listOf(m.Heard, osc.Heard.String),
	}
}

func millis(d time.Duration) float64 { return round(float64(d)/float64(time.Millisecond), 3) }
