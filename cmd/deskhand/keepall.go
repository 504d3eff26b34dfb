package main

import (
	"bufio"
	"context"
	"fmt"
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

// checkWords sees that the words and flags of keep go together.
func (k *keeping) checkWords(c *cobra.Command, words []string) error {
	switch {
	case k.commit && strings.TrimSpace(k.message) == "":
		return fmt.Errorf("--commit needs a message: -m TEXT")
	case !k.commit && k.message != "":
		return fmt.Errorf("-m is the message of a commit: it needs --commit")
	case k.yes && !k.all:
		return fmt.Errorf("--yes is for keep --all")
	case !k.all:
		return arguments(1, -1)(c, words)
	case len(words) > 0:
		return fmt.Errorf("--all is for all positions: leave %q out", words[0])
	case k.performer != "" || k.scene != "" || k.from != "":
		return fmt.Errorf("--all goes by who was on: leave out --performer, --scene and --from")
	}
	return nil
}

// offer is what hands have moved at one position while one performer was on.
type offer struct {
	keeping
	names []string // of settings, nil for all that a keep takes
	by    *scenes.Scene
	kept
}

// keepAll offers each position's hand moves for its performer's file.
func (a *app) keepAll(ctx context.Context, k keeping) error {
	s, err := a.connectTo(ctx, "")
	if err != nil {
		return err
	}
	defer s.close()
	var offers []*offer
	turn, err := s.InPeace(ctx, func() (err error) {
		offers, err = s.offers(ctx)
		return err
	})
	s.progress.end()
	if err != nil {
		return err
	}
	taken, err := a.choose(ctx, s.Venue, k, offers)
	if err != nil {
		return err
	}
	if err := s.keepOffers(ctx, taken, turn); err != nil {
		return err
	}
	if err := a.sayKeptAll(s.Venue, k, offers, taken); err != nil {
		return err
	}
	return a.commitKept(ctx, s.Book, k)
}

// offers are what could be kept: of who is on now first, as that is the latest.
func (s *session) offers(ctx context.Context) ([]*offer, error) {
	var offers []*offer
	for _, p := range s.Venue.Positions {
		if s.Memory.On[p.Name] == "" {
			continue
		}
		o := &offer{keeping: keeping{position: p.Name}}
		done, err := s.compareKept(ctx, o.keeping, nil, nil)
		if err != nil {
			return nil, err
		}
		o.kept, o.performer = done, done.strip.PerformerName()
		switch {
		case len(o.values) == 0:
		case s.isNobodys(done):
			s.Warn(fmt.Errorf("%s is left out: a recall there has not come to its end, or the desk was switched off and on: put the scene on again, or deskhand keep %s", p.Name, p.Name))
		default:
			offers = append(offers, o)
		}
	}
	earlier, err := s.earlierMoves()
	if err != nil {
		return nil, err
	}
	for _, o := range earlier {
		if err := s.compareEarlier(ctx, o, offers); err != nil {
			s.Warn(fmt.Errorf("%s, %s: %w", o.position, o.performer, err))
		} else if len(o.values) > 0 {
			offers = append(offers, o)
		}
	}
	return offers, nil
}

// isNobodys reports whether what the desk holds at a position is no hand's doing: a recall was
// left half done there, or half of what is wanted is as the desk begins with it.
func (s *session) isNobodys(done kept) bool {
	if _, unfinished := s.Memory.Unfinished[done.strip.Position.Name]; unfinished {
		return true
	}
	tell, begun := 0, 0
	for _, w := range done.strip.Wanted {
		control, ok := s.Venue.Desk.Profile.Control(w.Parameter)
		if !ok || control.Same(w.Value, control.Start) || !s.Venue.Desk.Profile.Askable(w.Parameter) {
			continue
		}
		tell++
		if control.Same(done.holds[w.Parameter], control.Start) {
			begun++
		}
	}
	return begun > 1 && 2*begun >= tell
}

// compareEarlier holds what a reading has of a hand's moves against the file. What a later
// offer has of the same file is left out.
func (s *session) compareEarlier(ctx context.Context, o *offer, later []*offer) error {
	done, err := s.compareKept(ctx, o.keeping, o.by, o.names)
	if err != nil {
		return err
	}
	done.values = slices.DeleteFunc(done.values, func(v scenes.Kept) bool {
		return slices.ContainsFunc(later, func(l *offer) bool {
			return l.file == done.file && slices.ContainsFunc(l.values, func(w scenes.Kept) bool { return slices.Equal(v.Path, w.Path) })
		})
	})
	o.kept = done
	return nil
}

// earlierMoves are the hand moves of the evening that were recalled away, the latest first,
// and that were not kept since.
func (s *session) earlierMoves() ([]*offer, error) {
	evenings := s.Memory.Evenings()
	if len(evenings) == 0 {
		return nil, nil
	}
	lines, _, err := s.Memory.Record(evenings[len(evenings)-1])
	if err != nil {
		return nil, err
	}
	var offers []*offer
	for i, line := range lines {
		if line.What != scenes.DidMove || line.Position == "" || line.Performer == "" {
			continue
		}
		reading := readingAfter(lines[i:], line)
		names := slices.DeleteFunc(movedNames(line), func(name string) bool { return isKeptAfter(lines[i:], line, name) })
		if reading == "" || len(names) == 0 {
			continue
		}
		o := &offer{names: names, keeping: keeping{position: line.Position, performer: line.Performer, from: strings.TrimSuffix(strings.TrimPrefix(reading, string(scenes.Readings)+"/"), ".toml")}}
		if line.Scene != "" {
			o.by, _ = s.Book.SceneCalled(line.Scene) // one that is gone sets nothing
		}
		offers = append(offers, o)
	}
	slices.Reverse(offers)
	return offers, nil
}

// readingAfter is the reading in which the next recall of the position kept what a hand had
// moved, "" for none.
func readingAfter(lines []scenes.Record, moved scenes.Record) string {
	for _, line := range lines {
		if line.Position != moved.Position || line.What != scenes.DidRecall {
			continue
		}
		if line.Reading != "" || line.Was != line.Performer {
			return line.Reading
		}
	}
	return ""
}

// movedNames are the settings of a line that a performer's file may have.
func movedNames(line scenes.Record) []string {
	var names []string
	for _, c := range line.Changes {
		q, err := profiles.ParseParameter(c.Parameter)
		if _, never := notKept[q.Name]; err == nil && !never {
			names = append(names, q.Name)
		}
	}
	return names
}

// isKeptAfter reports whether a setting went into the performer's file later on.
func isKeptAfter(lines []scenes.Record, moved scenes.Record, name string) bool {
	return slices.ContainsFunc(lines, func(line scenes.Record) bool {
		return line.What == scenes.DidKeep && line.Position == moved.Position && line.Performer == moved.Performer && slices.Contains(movedNames(line), name)
	})
}

// choose gives the offers that are to be kept: all with --yes, or those that a person at a
// terminal says yes to.
func (a *app) choose(ctx context.Context, v *scenes.Venue, k keeping, offers []*offer) ([]*offer, error) {
	switch {
	case a.rehearse:
		return nil, nil
	case k.yes:
		return offers, nil
	case a.json || !isKeyboard(a.in):
		return nil, nil
	}
	return a.askOffers(ctx, v, offers)
}

// askOffers shows each offer and asks whether it is to be kept.
func (a *app) askOffers(ctx context.Context, v *scenes.Venue, offers []*offer) ([]*offer, error) {
	answers := make(chan string)
	ctx, end := context.WithCancel(ctx)
	defer end()
	go func() { // ends with the questions, with the input, or with the program
		for lines := bufio.NewScanner(a.in); lines.Scan(); {
			select {
			case answers <- lines.Text():
			case <-ctx.Done():
				return
			}
		}
		close(answers)
	}()
	var taken []*offer
	for _, o := range offers {
		a.sayOffer(v, o)
		fmt.Fprint(a.err, "keep it? y or n: ")
		select {
		case line := <-answers:
			if answer := strings.ToLower(strings.TrimSpace(line)); answer == "y" || answer == "yes" {
				taken = append(taken, o)
			}
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	return taken, nil
}

// keepOffers writes what was chosen, unless somebody has recalled since the desk was read.
func (s *session) keepOffers(ctx context.Context, taken []*offer, turn scenes.Turn) error {
	if len(taken) == 0 {
		return nil
	}
	return s.inTurn(ctx, turn, func() error {
		for i, o := range taken {
			if err := s.keepNow(o.keeping, &o.kept); err != nil {
				return fmt.Errorf("%s, %s: %w (%d of %d were kept before)", o.position, o.performer, err, i, len(taken))
			}
			noteWritten(o, taken[i+1:])
		}
		return nil
	})
}

// noteWritten has the offers after one know what that has put into their file.
func noteWritten(done *offer, after []*offer) {
	for _, o := range after {
		if o.file == done.file && done.text != nil {
			o.strip.Performer.Wrote(done.text)
		}
	}
}

// sayOffer shows one offer.
func (a *app) sayOffer(v *scenes.Venue, o *offer) {
	from := "on now"
	if o.from != "" {
		from = "earlier, from " + scenes.File(scenes.Readings, o.from)
	}
	fmt.Fprintln(a.out, a.paint.head(fmt.Sprintf("%s, %s (%s), into %s", o.position, o.performer, from, o.file)))
	var rows []row
	for _, k := range o.values {
		rows = append(rows, valueRow(k.Spec.SayLabel(k.Parameter.Name, v.MixName), k.Spec, k.From, k.To, "not set"))
	}
	fmt.Fprint(a.out, table(rows, a.paint))
}

// jsonKeptAll is the object of keep --all.
type jsonKeptAll struct {
	Venue   string     `json:"venue"`
	Offered []jsonKept `json:"offered"`
	Kept    int        `json:"kept"`
	DryRun  bool       `json:"dry_run"`
	Exit    int        `json:"exit"`
}

// sayKeptAll says what was kept in the end.
func (a *app) sayKeptAll(v *scenes.Venue, k keeping, offers, taken []*offer) error {
	if a.json {
		a.printJSON(jsonKeptAll{v.Name, listOf(offers, func(o *offer) jsonKept {
			return keptJSON(v, o.kept, !slices.Contains(taken, o))
		}), len(taken), a.rehearse, exitDone})
		return nil
	}
	if len(offers) == 0 {
		fmt.Fprintf(a.out, "nothing to keep at %s: no hand has moved what the files don't say\n", v.Name)
		return nil
	}
	if asked := !k.yes && !a.rehearse && isKeyboard(a.in); !asked {
		for _, o := range offers {
			a.sayOffer(v, o)
		}
	}
	switch {
	case a.rehearse:
		fmt.Fprintln(a.out, "nothing was written (--dry-run)")
	case len(taken) == 0:
		fmt.Fprintln(a.out, "nothing was written: deskhand keep --all --yes keeps all of it, and so does keep --all at a terminal, asking about each")
	default:
		fmt.Fprintf(a.out, "%d of %d kept; git diff shows the same\n", len(taken), len(offers))
	}
	return nil
}
