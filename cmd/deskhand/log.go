package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

func (a *app) logCommand() *cobra.Command {
	var list bool
	c := &cobra.Command{
		Use:   "log [EVENING]",
		Short: "what was done in an evening, and by whom",
		Long: `log prints the record of an evening at the venue, the latest if none is named: one line
for each thing that was done, with the time, who did it (deskhand itself, a hand at the
desk, or a request over the network), where, what, and whether the desk confirmed it.
What is done up to six in the morning belongs to the evening before. No desk is needed.

--json prints all of it, one object a line.`,
		Example: "  deskhand log\n  deskhand log 2031-11-06\n  deskhand log --list",
		Args:    arguments(0, 1),
	}
	c.ValidArgsFunction = func(_ *cobra.Command, words []string, _ string) ([]string, cobra.ShellCompDirective) {
		if len(words) > 0 {
			return nil, noFiles
		}
		_, m, err := a.remembered()
		if err != nil {
			return nil, noFiles
		}
		return m.Evenings(), noFiles
	}
	c.Flags().BoolVar(&list, "list", false, "list the evenings of which there is a record")
	c.RunE = func(_ *cobra.Command, words []string) error {
		v, m, err := a.remembered()
		switch {
		case err != nil:
			return err
		case list && len(words) > 0:
			return fmt.Errorf("--list lists all evenings: leave %q out", words[0])
		case list:
			return a.listEvenings(v, m)
		}
		return a.log(v, m, strings.Join(words, ""))
	}
	return c
}

// remembered opens the venue that is meant and what is remembered of it.
func (a *app) remembered() (*scenes.Venue, *scenes.Memory, error) {
	b, v, err := a.bookAndVenue("")
	if err != nil {
		return nil, nil, err
	}
	m, err := b.Memory(v)
	return v, m, err
}

func (a *app) listEvenings(v *scenes.Venue, m *scenes.Memory) error {
	evenings := m.Evenings()
	if a.json {
		a.printJSON(struct {
			Venue    string   `json:"venue"`
			Evenings []string `json:"evenings"`
			Exit     int      `json:"exit"`
		}{v.Name, append([]string{}, evenings...), exitDone})
		return nil
	}
	if len(evenings) == 0 {
		fmt.Fprintf(a.out, "nothing was recorded at %s yet\n", v.Name)
	}
	for _, day := range evenings {
		fmt.Fprintln(a.out, day)
	}
	return nil
}

func (a *app) log(v *scenes.Venue, m *scenes.Memory, evening string) error {
	evening, err := chosenEvening(v, m.Evenings(), evening)
	if err != nil {
		return err
	}
	lines, unread, err := m.Record(evening)
	if err != nil {
		return err
	}
	if a.json {
		for _, line := range lines {
			a.printJSON(line)
		}
	} else {
		a.sayLog(v, evening, lines)
	}
	if unread > 0 {
		fmt.Fprintf(a.err, "note: %s of the record can't be read, as where the power failed\n", count(unread, "line"))
	}
	return nil
}

// chosenEvening is the evening that is named, or the latest.
func chosenEvening(v *scenes.Venue, evenings []string, named string) (string, error) {
	const shown = 5
	switch {
	case len(evenings) == 0:
		return "", fmt.Errorf("nothing was recorded at %s yet", v.Name)
	case named == "":
		return evenings[len(evenings)-1], nil
	case slices.Contains(evenings, named):
		return named, nil
	}
	latest := evenings[max(len(evenings)-shown, 0):]
	more := ""
	if len(latest) < len(evenings) {
		more = ", and earlier ones (deskhand log --list)"
	}
	return "", fmt.Errorf("there is no record of %q at %s: there is one of %s%s", named, v.Name, strings.Join(latest, ", "), more)
}

// whoSays are the words for who did it.
var whoSays = map[string]string{scenes.ByUs: "us", scenes.ByHand: "hand", scenes.ByRemote: "remote"}

// sayLog prints a line for each thing that was done, in columns.
func (a *app) sayLog(v *scenes.Venue, evening string, lines []scenes.Record) {
	day := evening
	if t, err := time.Parse(time.DateOnly, evening); err == nil {
		day = t.Format("Monday, 2 January 2006")
	}
	fmt.Fprintln(a.out, a.paint.head(v.Name+", "+day))
	who, where := 0, 0
	for _, line := range lines {
		who, where = max(who, len([]rune(whoOf(line)))), max(where, len([]rune(whereOf(line))))
	}
	for _, line := range lines {
		text := fmt.Sprintf("%s  %s  %s  %s", line.Time.Local().Format(time.TimeOnly), pad(whoOf(line), who), pad(whereOf(line), where), whatOf(line))
		fmt.Fprintln(a.out, strings.ReplaceAll(strings.TrimRight(text, " "), "\n", "; "))
	}
}

func whoOf(line scenes.Record) string {
	if who, known := whoSays[line.By]; known {
		return who
	}
	return line.By
}

// whereOf is the position, or the place of what was changed where it has no name.
func whereOf(line scenes.Record) string {
	if line.Position != "" || len(line.Changes) == 0 || line.What == scenes.DidFind {
		return line.Position
	}
	q, err := profiles.ParseParameter(line.Changes[0].Parameter)
	if err != nil {
		return ""
	}
	return q.Place.Say()
}

// whatOf says what was done.
func whatOf(line scenes.Record) string {
	switch line.What {
	case scenes.DidRecall:
		return recallLine(line)
	case scenes.DidRefuse:
		return sayParts("not sent", commandOf(line), line.Text)
	case scenes.DidMove:
		return sayParts("moved by hand"+onto(" with ", line.Performer), sayWords(line.Changes, allWords))
	case scenes.DidKeep:
		return sayParts("kept in "+line.File, sayWords(line.Changes, allWords))
	case scenes.DidBegin:
		return sayParts("begun", commandOf(line), line.Text)
	case scenes.DidEnd:
		return sayParts("left", commandOf(line), line.Text)
	case scenes.DidHold:
		return sayParts("hold: nothing is sent from here on", line.Text)
	case scenes.DidRelease:
		return sayParts("hold released", line.Text)
	case scenes.DidAwake:
		return line.Text
	case scenes.DidLose:
		return sayParts("the desk is silent", line.Text)
	case scenes.DidFind:
		return sayParts("the desk is back", line.Text, sayWords(line.Changes, fewWords))
	}
	return sayParts(line.What, commandOf(line), line.Text)
}

// recallLine says who came on, what was set, and whether it is confirmed.
func recallLine(line scenes.Record) string {
	what := line.Performer
	switch {
	case line.Position == "" && len(line.Changes) == 0:
		what = commandOf(line)
	case line.Was != line.Performer && line.Was != "" && line.Performer != "":
		what = line.Was + " -> " + line.Performer
	case line.Performer == "" && line.Was != "":
		what = line.Was + " -> nobody"
	case line.Performer == "":
		what = "nobody"
	}
	if strings.HasPrefix(commandOf(line), "undo") {
		what = strings.TrimSuffix("undone: "+what, ": undo")
	}
	proof := "confirmed"
	if n := len(line.NotConfirmed); n > 0 {
		proof = fmt.Sprintf("NOT CONFIRMED: %s", fewOf(line.NotConfirmed, fewWords))
	} else if !line.Confirmed {
		proof = "NOT CONFIRMED"
	}
	return sayParts(what, sayWords(line.Changes, fewWords), line.Text, proof)
}

// How many settings a line lists: all of a hand's and of a file's, and a few of a recall's,
// which are in the book.
const (
	fewWords = 3
	allWords = 1000
)

func sayWords(changes []scenes.RecordedChange, most int) string {
	words := make([]string, len(changes))
	for i, c := range changes {
		words[i] = c.Words
	}
	return fewOf(words, most)
}

func fewOf(words []string, most int) string {
	if len(words) <= most {
		return strings.Join(words, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(words[:most], ", "), len(words)-most)
}

func onto(join, word string) string {
	if word == "" {
		return ""
	}
	return join + word
}

// commandOf is what was asked for, without the words about where the desk is.
func commandOf(line scenes.Record) string {
	for _, of := range []string{"run: ", "watch: "} {
		if rest, is := strings.CutPrefix(line.Command, of); is {
			return rest
		}
	}
	command, _, _ := strings.Cut(line.Command, " --desk")
	return command
}

func sayParts(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), "; ")
}
