package main

import (
	"fmt"
	"strings"
	"time"

	"deskhand/scenes"
	"deskhand/scenes/agent"
)

// sayEvent prints one thing that the agent saw or did, on one line.
func (a *app) sayEvent(v *scenes.Venue, e agent.Event) {
	if a.json {
		a.printJSON(eventJSON(v, e))
		return
	}
	words := []string{e.Time.Local().Format("15:04:05")}
	if e.Position != "" {
		who := e.Position
		if e.Performer != "" {
			who += " · " + e.Performer
		}
		words = append(words, a.paint.head(who))
	}
	fmt.Fprintln(a.out, strings.Join(append(words, a.sayWhat(v, e)), "  "))
}

// sayWhat says what happened.
func (a *app) sayWhat(v *scenes.Venue, e agent.Event) string {
	changes := sayCompact(v, e.Changes)
	switch e.Kind {
	case agent.Began:
		return "watching the desk at " + e.Text
	case agent.Fault:
		return a.paint.warn("fault: ") + e.Faults.Error() + "; what it said before stays in force"
	case agent.Saved:
		return "saved, and not sent: " + changes
	case agent.Moved:
		return "moved by hand: " + changes + sayApart(e.Apart)
	case agent.Held:
		return a.paint.warn("changed on both sides, and left alone: ") + changes + ": deskhand watch settle " + e.Position + " file, or desk"
	case agent.Wrote:
		return "by hand into " + e.File + ": " + sayKeptCompact(v, e.Kept)
	case agent.Recalled, agent.Refused:
		return a.sayRecall(v, e)
	case agent.Silent:
		return a.paint.warn("the desk is silent: ") + e.Text
	case agent.Back:
		if len(e.Changes) > 0 {
			return "the desk is back at " + e.Text + "; changed meanwhile: " + changes
		}
		return "the desk is back at " + e.Text + "; nothing changed meanwhile"
	}
	return a.paint.warn(string(e.Kind)+": ") + e.Text
}

// sayRecall says what a recall of the agent's came to.
func (a *app) sayRecall(v *scenes.Venue, e agent.Event) string {
	what := sayCompact(v, e.Plan.Differing())
	switch {
	case e.Kind == agent.Refused:
		return a.paint.warn("not sent: ") + what + ": " + plainError(e.Err)
	case e.Result == nil:
		return a.paint.warn("not sent: ") + plainError(e.Err)
	case e.Result.Complete() && e.Err == nil:
		return fmt.Sprintf("to the desk: %s; all confirmed in %.1f s", what, e.Result.Took.Seconds())
	}
	text := a.paint.warn("not confirmed: ")
	for i, u := range e.Result.Unproved {
		if i > 0 {
			text += ", "
		}
		text += u.Parameter.String()
	}
	for _, part := range e.Result.StillMuted {
		text += "; " + part.Say() + " stays muted"
	}
	if e.Err != nil {
		text += "; " + plainError(e.Err)
	}
	return text
}

// sayCompact tells changes in a row: "fader -6.0 dB -> -4.0 dB, pan centre -> L10".
func sayCompact(v *scenes.Venue, changes []scenes.Change) string {
	const most = 12
	var words []string
	for i, c := range changes {
		if i == most {
			words = append(words, fmt.Sprintf("and %d more", len(changes)-most))
			break
		}
		from := "nothing"
		if !c.From.IsZero() {
			from = c.Spec.Say(c.From)
		}
		words = append(words, fmt.Sprintf("%s %s -> %s", c.Spec.SayLabel(c.Parameter.Name, v.MixName), from, c.Spec.Say(c.To)))
	}
	return strings.Join(words, ", ")
}

func sayKeptCompact(v *scenes.Venue, kept []scenes.Kept) string {
	var changes []scenes.Change
	for _, k := range kept {
		changes = append(changes, scenes.Change{Parameter: k.Parameter, Spec: k.Spec, From: k.From, To: k.To})
	}
	return sayCompact(v, changes)
}

func sayApart(apart []scenes.Apart) string {
	if len(apart) == 0 {
		return ""
	}
	return " (not for the file: " + apart[0].Why + ")"
}

// jsonEvent is one line of watch --json.
type jsonEvent struct {
	Time      string       `json:"time"`
	Event     string       `json:"event"`
	Position  string       `json:"position"`
	Performer string       `json:"performer"`
	Changes   []jsonChange `json:"changes"`
	Text      string       `json:"text"`
	Faults    []jsonFault  `json:"faults"`
	File      string       `json:"file"`
	// Recall is null unless the event is one.
	Recall *jsonRecalled `json:"recall"`
}

func eventJSON(v *scenes.Venue, e agent.Event) jsonEvent {
	out := jsonEvent{
		Time: e.Time.UTC().Format(time.RFC3339Nano), Event: string(e.Kind), Position: e.Position, Performer: e.Performer,
		Changes: jsonChanges(e.Changes), Text: e.Text, Faults: jsonFaults(e.Faults), File: e.File,
	}
	if e.Plan != nil {
		r := recalledJSON(recalled{plan: e.Plan, result: e.Result, err: e.Err})
		out.Recall = &r
	}
	for _, k := range e.Kept {
		out.Changes = append(out.Changes, jsonChanges([]scenes.Change{{Parameter: k.Parameter, Spec: k.Spec, From: k.From, To: k.To, Asked: k.To, Origin: scenes.Origin{File: e.File, Line: k.Line}}})...)
	}
	return out
}
