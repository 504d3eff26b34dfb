package main

import (
	"encoding/json"
	"math"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"
)

// What --json prints: one object on one line; from mock, one for each thing that
// happens, and from demo, one for each command. The README documents each field.
//
// A value is a number in the unit given beside it, true or false, or a text. Silence is
// the text "-inf", since JSON has no such number; null is a value that is not known or
// not set. A number is what the desk holds, on its own step. A list is [] where there
// is nothing, never null. A parameter on a desk begins with its place, as
// channel.3.input.gain; one of a file that is on no desk has its name there. A file is
// a path in the book, with line 0 where no one line says it.

// printJSON prints one object on one line.
func (a *app) printJSON(v any) {
	encoder := json.NewEncoder(a.out)
	encoder.SetEscapeHTML(false)
	_ = encoder.Encode(v) // the objects are ours, and the output remembers its own trouble
}

func jsonValue(v profiles.Value) any {
	n, ok := v.Number()
	switch {
	case ok && math.IsInf(n, -1):
		return "-inf"
	case ok:
		return round(n, 6)
	}
	return v.Any()
}

// round leaves out the figures that only arithmetic made.
func round(v float64, decimals int) float64 {
	scale := math.Pow10(decimals)
	return math.Round(v*scale) / scale
}

// listOf makes a list for JSON, empty rather than null.
func listOf[From, To any](from []From, to func(From) To) []To {
	list := make([]To, len(from))
	for i, x := range from {
		list[i] = to(x)
	}
	return list
}

// jsonError is what is printed in place of a command's own object.
type jsonError struct {
	Error  string      `json:"error"`
	Faults []jsonFault `json:"faults"`
	Exit   int         `json:"exit"`
}

func errorJSON(err error) jsonError {
	return jsonError{plainError(err), jsonFaults(faultsIn(err)), codeOf(err)}
}

type jsonFault struct {
	File string `json:"file"`
	Line int    `json:"line"`
	What string `json:"what"`
}

func jsonFaults(faults source.Faults) []jsonFault {
	return listOf(faults, func(f *source.Fault) jsonFault { return jsonFault{f.File, f.Line, f.What} })
}

type jsonLeft struct {
	Parameter string `json:"parameter"`
	File      string `json:"file"`
	Line      int    `json:"line"`
	Why       string `json:"why"`
}

func jsonLefts(left []scenes.Left) []jsonLeft {
	return listOf(left, func(l scenes.Left) jsonLeft {
		return jsonLeft{l.Entry.Name, l.Entry.Origin.File, l.Entry.Origin.Line, l.Why}
	})
}

type jsonChange struct {
	Parameter string `json:"parameter"`
	From      any    `json:"from"`
	To        any    `json:"to"`
	Unit      string `json:"unit"`
	File      string `json:"file"`
	Line      int    `json:"line"`
	// Asked is what the file says, where the desk's nearest step is another value.
	Asked any    `json:"asked,omitempty"`
	Note  string `json:"note,omitempty"`
}

func jsonChanges(changes []scenes.Change) []jsonChange { return listOf(changes, changeJSON) }

func changeJSON(c scenes.Change) jsonChange {
	out := jsonChange{
		Parameter: path(c.Parameter), From: jsonValue(c.From), To: jsonValue(c.To), Unit: string(c.Spec.Unit),
		File: c.Origin.File, Line: c.Origin.Line, Note: c.Note,
	}
	if c.Rounded() && !c.Asked.IsZero() {
		out.Asked = jsonValue(c.Asked)
	}
	return out
}

// path is a parameter's path; a setting of a strip has no place.
func path(q profiles.Parameter) string {
	if q.Place == (profiles.Place{}) {
		return q.Name
	}
	return q.String()
}

type jsonSetting struct {
	Parameter string `json:"parameter"`
	Value     any    `json:"value"`
	Unit      string `json:"unit"`
}
