package main

import (
	"deskhand/scenes"
)

type jsonSheet struct {
	Order  string           `json:"running_order"`
	Venue  string           `json:"venue"`
	Desk   string           `json:"desk"`
	File   string           `json:"file"`
	Scenes []jsonSheetScene `json:"scenes"`
	Inputs []jsonInput      `json:"inputs"`
	Hand   []jsonHandBefore `json:"by_hand"`
	Strips []jsonLabelStrip `json:"label_strips"`
	// LabelWidth is in mm.
	LabelWidth float64 `json:"label_width"`
	Paper      string  `json:"paper"`
	Exit       int     `json:"exit"`
}

// jsonSheetScene is what the sheet says of a scene; deskhand show says more.
type jsonSheetScene struct {
	Number int     `json:"number"`
	Title  string  `json:"title"`
	Start  *string `json:"start"` // null: not planned
	Length float64 `json:"length_seconds"`
	Notes  string  `json:"notes"`
}

type jsonInput struct {
	Channel    int        `json:"channel"`
	Position   string     `json:"position"`
	Microphone string     `json:"microphone"`
	Phantom    string     `json:"phantom"`
	Sources    []string   `json:"sources"`
	On         []jsonTurn `json:"on"`
}

type jsonTurn struct {
	First     int    `json:"first"`
	Last      int    `json:"last"`
	Performer string `json:"performer"`
	Open      *bool  `json:"open"` // null: no scene says it
}

type jsonHandBefore struct {
	Scene       int    `json:"scene"`
	Position    string `json:"position"`
	Performer   string `json:"performer"`
	Instruction string `json:"instruction"`
	jsonChange
}

type jsonLabelStrip struct {
	First  int         `json:"first"`
	Last   int         `json:"last"`
	Labels []jsonLabel `json:"labels"`
}

type jsonLabel struct {
	Channel  int    `json:"channel"`
	Position string `json:"position"`
	Text     string `json:"text"`
}

func sheetJSON(s *scenes.Sheet, o sheetOptions) jsonSheet {
	return jsonSheet{
		Scenes: sheetScenesJSON(s.Order),
		Order:  s.Order.Name, Venue: s.Venue.Name, Desk: s.Venue.Desk.Profile.Name, File: o.file,
		Inputs: listOf(s.Inputs, inputJSON),
		Hand: listOf(s.Hand, func(h scenes.HandSetting) jsonHandBefore {
			return jsonHandBefore{h.Scene, h.Position, h.Performer, instruction(h.Change), changeJSON(h.Change)}
		}),
		Strips: listOf(s.Strips, func(strip scenes.LabelStrip) jsonLabelStrip {
			return jsonLabelStrip{strip.First, strip.Last, listOf(strip.Labels, func(l scenes.Label) jsonLabel { return jsonLabel(l) })}
		}),
		LabelWidth: float64(o.label), Paper: string(o.paper),
	}
}

func sheetScenesJSON(o *scenes.RunningOrder) []jsonSheetScene {
	list := make([]jsonSheetScene, len(o.Items))
	for i, it := range o.Items {
		list[i] = jsonSheetScene{Number: i + 1, Title: it.Title, Start: startJSON(it), Length: it.Length.Seconds(), Notes: it.Notes}
	}
	return list
}

// startJSON is when a scene is planned, as 19:30, nil where it is not.
func startJSON(it scenes.Item) *string {
	if it.Start == nil {
		return nil
	}
	start := scenes.Clock(*it.Start)
	return &start
}

func inputJSON(in scenes.Input) jsonInput {
	out := jsonInput{
		Channel: in.Position.Channel, Position: in.Position.Name, Phantom: string(in.Phantom),
		Sources: append([]string{}, in.Sources...),
		On:      listOf(in.Turns, func(t scenes.Turned) jsonTurn { return jsonTurn(t) }),
	}
	if m := in.Position.Microphone; m != nil {
		out.Microphone = m.Name
	}
	return out
}
