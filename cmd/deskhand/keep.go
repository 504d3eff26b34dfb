package main

import (
	"fmt"
	"strings"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

func (a *app) keepCommand() *cobra.Command {
	var performer, from string
	c := &cobra.Command{
		Use:   "keep POSITION [SETTING...]",
		Short: "what the desk holds there, into the performer's file",
		Long: `keep reads the position's channel and writes into the file of the performer who is on
it what the desk holds otherwise than the book says, and what a hand has moved since
the last recall. Only those values change in the file; every comment and blank line
stays. What belongs to the room, the microphone or the scene is told and left alone.

SETTING limits it to some settings: fader, eq.2, send.wedge.`,
		Example:           "  deskhand keep lectern\n  deskhand keep lectern eq.2 fader --dry-run",
		Args:              arguments(1, -1),
		ValidArgsFunction: a.completePosition,
	}
	c.Flags().StringVar(&performer, "performer", "", "the performer's `NAME`, if another than was swapped on here")
	c.Flags().StringVar(&from, "from", "", "take the values from this reading's `FILE` instead of the desk")
	_ = c.RegisterFlagCompletionFunc("performer", a.completePerformer)
	_ = c.RegisterFlagCompletionFunc("from", a.completeFiles(scenes.Readings))
	a.dryRun(c)
	c.RunE = func(c *cobra.Command, words []string) error { return a.keep(c, words[0], words[1:], performer, from) }
	return c
}

func (a *app) keep(c *cobra.Command, position string, only []string, performer, from string) error {
	s, err := a.connectTo(c.Context(), "")
	if err != nil {
		return err
	}
	defer s.close()
	if performer == "" {
		if _, err := s.Venue.Position(position); err != nil {
			return err
		}
		if performer = s.Memory.On[position]; performer == "" {
			return fmt.Errorf("nobody was swapped onto %s yet, so say whose settings these are: --performer NAME", position)
		}
	}
	cast, err := s.Book.CastFor(s.Venue, position, performer, nil)
	if err != nil {
		return err
	}
	resolved, err := s.Venue.Resolve(cast)
	if err != nil {
		return err
	}
	if only, err = settingNames(s.Venue, cast.Position, only); err != nil {
		return err
	}
	holds, err := s.holdsFor(c, cast.Position, from)
	if err != nil {
		return err
	}
	moved := func(q profiles.Parameter) bool {
		was, known := s.Memory.Held.Values[q]
		return known && !s.Venue.Same(q, was, holds[q])
	}
	kept, apart := s.Venue.Keep(resolved, holds, moved, only)
	return s.writeKept(resolved, holds, kept, apart)
}

// holdsFor gives what a position's channel holds: on the desk, or in a reading.
func (s *session) holdsFor(c *cobra.Command, p *scenes.Position, from string) (scenes.Values, error) {
	if from == "" {
		values, missing, err := s.readDesk(c.Context(), s.Venue.Desk.Profile.At(p.Place()))
		if err == nil && len(missing) > 0 {
			err = fmt.Errorf("%w: the desk did not answer for %s", errDesk, missing[0])
		}
		return values, err
	}
	n, err := s.Book.Locate(s.app.dir, from)
	if err != nil {
		return nil, err
	}
	if n.Kind != scenes.Readings {
		return nil, fmt.Errorf("--from %s: this is no reading", from)
	}
	r, err := s.Book.Reading(n.Name)
	if err != nil {
		return nil, err
	}
	if r.Desk != s.Venue.Desk.Profile.Name {
		return nil, fmt.Errorf("%s is a reading of a %s, and %s has a %s", r.File, r.Desk, s.Venue.Name, s.Venue.Desk.Profile.Name)
	}
	return r.Values, nil
}

// settingNames turns the settings that a person named into names on the desk, and
// refuses what is none.
func settingNames(v *scenes.Venue, p *scenes.Position, words []string) ([]string, error) {
	names := make([]string, len(words))
	for i, word := range words {
		name, err := v.SettingName(p, word)
		if err != nil {
			return nil, err
		}
		names[i] = name
	}
	return names, nil
}

// writeKept puts the values into the performer's file, and says what it did.
func (s *session) writeKept(r *scenes.Resolved, holds scenes.Values, kept []scenes.Kept, apart []scenes.Apart) error {
	var old, text []byte
	if len(kept) > 0 {
		var err error
		if old, text, err = s.Book.KeepText(r.PerformerName(), kept); err != nil {
			return err
		}
	}
	file := scenes.File(scenes.Performers, r.PerformerName())
	if len(kept) > 0 && !s.Rehearse {
		if err := s.Book.Write(file, old, text); err != nil {
			return err
		}
		now := make(scenes.Values)
		for _, k := range kept {
			now[k.Parameter] = holds[k.Parameter]
		}
		s.Memory.Hold(now)
		if err := s.Memory.Save(time.Now()); err != nil {
			return err
		}
	}
	s.progress.end()
	s.app.sayKept(s.Venue, r, file, kept, apart, changedLines(old, text))
	return nil
}

type jsonKept struct {
	Position  string       `json:"position"`
	Performer string       `json:"performer"`
	File      string       `json:"file"`
	Kept      []jsonChange `json:"kept"`
	LeftAlone []jsonApart  `json:"left_alone"`
	DryRun    bool         `json:"dry_run"`
}

type jsonApart struct {
	Parameter string `json:"parameter"`
	Held      any    `json:"held"`
	Wanted    any    `json:"wanted"`
	Unit      string `json:"unit"`
	Why       string `json:"why"`
}

func (a *app) sayKept(v *scenes.Venue, r *scenes.Resolved, file string, kept []scenes.Kept, apart []scenes.Apart, lines []changedLine) {
	if a.json {
		out := jsonKept{Position: r.Position.Name, Performer: r.PerformerName(), File: file, Kept: []jsonChange{}, LeftAlone: []jsonApart{}, DryRun: a.rehearse}
		for _, k := range kept {
			out.Kept = append(out.Kept, jsonChange{Parameter: strings.Join(k.Path, "."), From: jsonValue(k.From), To: jsonValue(k.To), Unit: string(k.Spec.Unit), File: file, Line: k.Line})
		}
		for _, x := range apart {
			out.LeftAlone = append(out.LeftAlone, jsonApart{x.Parameter.String(), jsonValue(x.Held), jsonValue(x.Wanted), string(x.Spec.Unit), x.Why})
		}
		a.printJSON(out)
		return
	}
	for _, x := range apart {
		fmt.Fprintf(a.out, "left alone: %s holds %s, the book says %s: %s\n", x.Spec.SayLabel(x.Parameter.Name, v.MixName), x.Spec.Say(x.Held), x.Spec.Say(x.Wanted), x.Why)
	}
	if len(kept) == 0 {
		fmt.Fprintf(a.out, "nothing to keep: the desk holds at %s what %s says\n", r.Position.Name, file)
		return
	}
	fmt.Fprintln(a.out, a.paint.head(file))
	var rows []row
	for _, k := range kept {
		rows = append(rows, valueRow(k.Spec.SayLabel(k.Parameter.Name, v.MixName), k.Spec, k.From, k.To, "not set"))
	}
	fmt.Fprint(a.out, table(rows, a.paint))
	for _, line := range lines {
		paint := a.paint.good
		if line.gone {
			paint = a.paint.bad
		}
		fmt.Fprintln(a.out, "    "+paint(line.String()))
	}
	if a.rehearse {
		fmt.Fprintln(a.out, "nothing was written (--dry-run)")
		return
	}
	fmt.Fprintf(a.out, "%s kept; git diff shows the same\n", count(len(kept), "value"))
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// changedLine is a line that is in one of two texts only.
type changedLine struct {
	number int
	gone   bool
	text   string
}

func (l changedLine) String() string {
	mark := "+"
	if l.gone {
		mark = "-"
	}
	return fmt.Sprintf("%4d %s %s", l.number, mark, l.text)
}

// changedLines lists the lines that differ between two texts. Edits change or add
// single lines, so that the nearest line that both have ends a change.
func changedLines(old, text []byte) []changedLine {
	x, y := strings.Split(string(old), "\n"), strings.Split(string(text), "\n")
	var out []changedLine
	i, j := 0, 0
	for i < len(x) || j < len(y) {
		if i < len(x) && j < len(y) && x[i] == y[j] {
			i, j = i+1, j+1
			continue
		}
		gone, come := nextCommon(x[i:], y[j:])
		for n, line := range x[i : i+gone] {
			out = append(out, changedLine{i + n + 1, true, strings.TrimRight(line, "\r")})
		}
		for n, line := range y[j : j+come] {
			out = append(out, changedLine{j + n + 1, false, strings.TrimRight(line, "\r")})
		}
		i, j = i+gone, j+come
	}
	return out
}

// nextCommon says how many lines of each to skip until both go on alike.
func nextCommon(x, y []string) (int, int) {
	for total := 1; total <= len(x)+len(y); total++ {
		for gone := min(total, len(x)); gone >= 0; gone-- {
			come := total - gone
			if come <= len(y) && (gone == len(x) && come == len(y) || gone < len(x) && come < len(y) && x[gone] == y[come] && strings.TrimSpace(x[gone]) != "") {
				return gone, come
			}
		}
	}
	return len(x), len(y)
}
