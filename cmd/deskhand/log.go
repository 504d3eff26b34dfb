package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"deskhand/profiles/source"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

func (a *app) logCommand() *cobra.Command {
	var list bool
	c := &cobra.Command{
		Use:   "log [EVENING]",
		Short: "what was done in an evening, by whom, and whether it was confirmed",
		Long: `log prints an evening from the record: each recall and whether the desk confirmed it,
what hands have moved, what was kept, when the desk was lost and found. EVENING is a day,
as 2026-11-26; without one it is the latest. What is done after midnight and before six
belongs to the evening before.

The record is in the book, under .deskhand, and git ignores it.`,
		Example:           "  deskhand log\n  deskhand log 2026-11-26\n  deskhand log --list",
		Args:              arguments(0, 1),
		ValidArgsFunction: a.completeEvening,
	}
	c.Flags().BoolVar(&list, "list", false, "list the evenings that there is a record of")
	c.RunE = func(_ *cobra.Command, words []string) error {
		if list && len(words) > 0 {
			return fmt.Errorf("log --list takes no evening: write deskhand log %s", words[0])
		}
		return a.log(words, list)
	}
	return c
}

// log prints an evening from the record, or which there are.
func (a *app) log(words []string, list bool) error {
	b, err := a.book()
	if err != nil {
		return err
	}
	v, err := a.openVenue(b, "")
	if err != nil {
		return err
	}
	m, err := b.Memory(v)
	if err != nil {
		return err
	}
	evenings := m.Evenings()
	switch {
	case list:
		a.sayEvenings(v, evenings)
		return nil
	case len(evenings) == 0 && len(words) == 0:
		return fmt.Errorf("there is no record of %s yet: it begins with the first recall", v.Name)
	case len(words) > 0 && !slices.Contains(evenings, words[0]):
		return fmt.Errorf("there is no record of %s of %q%s", v.Name, words[0], source.DidYouMean(words[0], evenings))
	}
	evening := ""
	if len(words) > 0 {
		evening = words[0]
	} else {
		evening = evenings[len(evenings)-1]
	}
	lines, unread, err := m.Record(evening)
	if err != nil {
		return err
	}
	a.sayRecord(v, evening, lines, unread)
	return nil
}

func (a *app) sayEvenings(v *scenes.Venue, evenings []string) {
	if a.json {
		a.printJSON(struct {
			Venue    string   `json:"venue"`
			Evenings []string `json:"evenings"`
			Exit     int      `json:"exit"`
		}{v.Name, listOf(evenings, func(day string) string { return day }), exitDone})
		return
	}
	for _, day := range evenings {
		fmt.Fprintln(a.out, day)
	}
	if len(evenings) == 0 {
		fmt.Fprintf(a.out, "no record of %s yet\n", v.Name)
	}
}

// sayRecord prints an evening, a line for each thing that was done.
func (a *app) sayRecord(v *scenes.Venue, evening string, lines []scenes.Record, unread int) {
	if a.json {
		for _, line := range lines {
			a.printJSON(line)
		}
	} else {
		name := v.Title
		if name == "" {
			name = v.Name
		}
		day, _ := time.Parse(time.DateOnly, evening)
		fmt.Fprintln(a.out, a.paint.head(name+" · "+day.Format("Monday 2 January 2006")))
		for _, line := range lines {
			fmt.Fprintln(a.out, a.sayRecorded(line))
		}
	}
	if unread > 0 {
		fmt.Fprintf(a.err, "%s of the record can't be read and %s left out\n", count(unread, "line"), isAre(unread))
	}
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// whoWords are who did it, as people read it.
var whoWords = map[string]string{scenes.ByUs: "deskhand", scenes.ByHand: "by hand", scenes.ByRemote: "remote"}

// sayRecorded is one line of an evening.
func (a *app) sayRecorded(r scenes.Record) string {
	who := whoWords[r.By]
	if who == "" {
		who = r.By
	}
	head := fmt.Sprintf("%s  %-8s  ", r.Time.Local().Format("15:04:05"), who)
	var words []string
	if r.Position != "" {
		place := r.Position
		if r.Performer != "" {
			place += " · " + r.Performer
		}
		words = append(words, place)
	}
	return head + strings.Join(append(words, a.sayDeed(r)), ": ")
}

// sayDeed says what was done.
func (a *app) sayDeed(r scenes.Record) string {
	text := sayFew(r.Changes)
	switch r.What {
	case scenes.DidRecall:
		text = strings.TrimPrefix(text+", "+a.sayProved(r), ", ")
	case scenes.DidRefuse:
		text = a.paint.warn("not sent: ") + strings.TrimPrefix(r.Text, "refused: ")
	case scenes.DidMove:
		text = "moved: " + text
	case scenes.DidKeep:
		text = "kept in " + r.File + ": " + text
	case scenes.DidBegin:
		return "the running order " + r.Text + " begins"
	case scenes.DidHold:
		return "held: nothing is sent from here"
	case scenes.DidRelease:
		return "released"
	}
	if r.Text != "" && r.What != scenes.DidRefuse {
		text = strings.TrimPrefix(text+"; "+r.Text, "; ")
	}
	if r.Reading != "" {
		text += "; all that the desk held is in " + r.Reading
	}
	if r.Command != "" {
		text += " (" + r.Command + ")"
	}
	return text
}

func (a *app) sayProved(r scenes.Record) string {
	switch {
	case r.Confirmed:
		return a.paint.good("confirmed")
	case len(r.NotConfirmed) > 0:
		return a.paint.bad("not confirmed: ") + strings.Join(r.NotConfirmed, ", ")
	}
	return a.paint.bad("not confirmed")
}

// sayFew tells the first of some changes, and how many more there are.
func sayFew(changes []scenes.RecordedChange) string {
	const most = 6
	var words []string
	for i, c := range changes {
		if i == most && len(changes) > most+1 {
			words = append(words, fmt.Sprintf("and %d more", len(changes)-most))
			break
		}
		words = append(words, c.Words)
	}
	return strings.Join(words, ", ")
}

func (a *app) completeEvening(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	b, err := a.book()
	if err != nil {
		return nil, noFiles
	}
	v, err := a.openVenue(b, "")
	if err != nil {
		return nil, noFiles
	}
	m, err := b.Memory(v)
	if err != nil {
		return nil, noFiles
	}
	return m.Evenings(), noFiles
}
