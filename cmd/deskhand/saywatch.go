package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"deskhand/scenes"
	"deskhand/scenes/agent"
	"deskhand/scenes/recall"
)

// sayEvent prints one thing that the agent saw or did, on one line.
func (a *app) sayEvent(v *scenes.Venue, e agent.Event) {
	if a.json {
		a.printJSON(eventJSON(e))
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
		return "watching the desk at " + e.Text + sayMeanwhile("; changed since files and desk last agreed: ", changes, "")
	case agent.Back:
		return "the desk is back at " + e.Text + sayMeanwhile("; changed meanwhile: ", changes, "; nothing changed meanwhile")
	case agent.Fault:
		return a.paint.warn("fault: ") + e.Faults.Error() + "; what it said before stays in force"
	case agent.Saved:
		return "saved, and not sent: " + changes
	case agent.Moved:
		return "moved by hand: " + changes + sayApart(e.Apart)
	case agent.Held:
		return a.paint.warn("left alone: ") + changes + ": the desk was changed beside the file: deskhand watch settle " + e.Position + " file, or desk"
	case agent.Wrote:
		return "by hand into " + e.File + ": " + sayCompact(v, keptChanges(e))
	case agent.Recalled, agent.Refused:
		if e.Text != "" {
			return "asked for " + e.Text + ": " + a.sayTaken(v, e)
		}
		return a.sayTaken(v, e)
	case agent.Remoted:
		return "requests over OSC are taken at " + e.Text
	case agent.Awoke:
		return a.paint.warn(e.Text)
	case agent.Silent:
		return a.paint.warn("the desk is silent: ") + e.Text
	}
	return a.paint.warn(string(e.Kind)+": ") + e.Text
}

func sayMeanwhile(before, changes, nothing string) string {
	if changes == "" {
		return nothing
	}
	return before + changes
}

// sayTaken says what a recall of the agent's came to.
func (a *app) sayTaken(v *scenes.Venue, e agent.Event) string {
	what := sayCompact(v, e.Plan.Differing())
	switch {
	case e.Kind == agent.Refused:
		return a.paint.warn("not sent: ") + what + ": " + sayRefused(e)
	case e.Result.Complete() && e.Err == nil:
		return fmt.Sprintf("to the desk: %s; all confirmed in %.1f s", what, e.Result.Took.Seconds()) + saySafe(e.Plan.Safe())
	}
	text := a.paint.warn("to the desk: ") + what
	var unproved []string
	for _, u := range e.Result.Unproved {
		unproved = append(unproved, u.Parameter.String())
	}
	if len(unproved) > 0 {
		text += "; not confirmed: " + strings.Join(unproved, ", ")
	}
	for _, part := range e.Result.StillMuted {
		text += "; " + part.Say() + " stays muted: swap it once more, or deskhand undo"
	}
	for _, part := range e.Result.Rivals {
		text += "; " + sayRival(e.Result, part)
	}
	if e.Err != nil {
		text += "; " + plainError(e.Err)
	}
	return text
}

// sayRefused says why a save was not sent, and what would let it through.
func sayRefused(e agent.Event) string {
	var refused *recall.Refused
	if !errors.As(e.Err, &refused) || refused.Rise == 0 {
		return e.Err.Error()
	}
	return fmt.Sprintf("%s; deskhand watch settle %s file --allow-rise %.1f would let it through this once", e.Err, e.Position, enoughRise(refused.Rise))
}

func saySafe(safe []scenes.Change) string {
	if len(safe) == 0 {
		return ""
	}
	var names []string
	for _, c := range safe {
		names = append(names, c.Parameter.String())
	}
	return "; safe, and left alone: " + strings.Join(names, ", ")
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
		words = append(words, fmt.Sprintf("%s %s -> %s", c.Spec.SayLabel(c.Parameter.Name, v.MixName), from, c.Spec.Say(c.To))+sayNever(c))
	}
	return strings.Join(words, ", ")
}

// sayNever says why watch does not send a change.
func sayNever(c scenes.Change) string {
	switch {
	case c.Safe != nil:
		return " (safe here)"
	case c.Hand != "":
		return " (for a hand: " + c.Hand + ")"
	}
	return ""
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
	LeftAlone []jsonApart  `json:"left_alone"`
	Text      string       `json:"text"`
	Faults    []jsonFault  `json:"faults"`
	File      string       `json:"file"`
	// Recall is null unless the event is one.
	Recall *jsonRecalled `json:"recall"`
}

func eventJSON(e agent.Event) jsonEvent {
	out := jsonEvent{
		Time: e.Time.UTC().Format(time.RFC3339Nano), Event: string(e.Kind), Position: e.Position, Performer: e.Performer,
		Changes: jsonChanges(slices.Concat(e.Changes, keptChanges(e))), LeftAlone: jsonAparts(e.Apart),
		Text: e.Text, Faults: jsonFaults(e.Faults), File: e.File,
	}
	if e.Plan != nil {
		r := recalledJSON(recalled{plan: e.Plan, result: e.Result, err: e.Err, refused: e.Kind == agent.Refused})
		out.Recall = &r
	}
	return out
}

// keptChanges are what went into the file, as changes of it.
func keptChanges(e agent.Event) []scenes.Change {
	var changes []scenes.Change
	for _, k := range e.Kept {
		changes = append(changes, scenes.Change{
			Parameter: k.Parameter, Spec: k.Spec, From: k.From, To: k.To, Asked: k.To, Origin: scenes.Origin{File: e.File, Line: k.Line},
		})
	}
	return changes
}
