package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
)

// keepEvery offers what hands have moved at every position for the performers' files: of who is
// on now, and of who was on earlier in the evening.
func (a *app) keepEvery(ctx context.Context, yes bool) error {
	s, err := a.connectTo(ctx, "")
	if err != nil {
		return err
	}
	defer s.close()
	offers, err := s.offers()
	if err != nil {
		return err
	}
	offered, written := 0, 0
	answers := bufio.NewReader(a.in)
	for _, o := range offers {
		done, turn, err := s.offer(ctx, o)
		if err != nil {
			return err
		}
		if len(done.values) == 0 {
			continue
		}
		offered++
		take := !a.rehearse && (yes || a.asksKeep(s.Venue, done, answers))
		if take {
			if err := s.writeInTurn(ctx, o.keeping, &done, turn); err != nil {
				return err
			}
			written++
		}
		a.sayOffered(s.Venue, done, take)
	}
	a.sayOffers(offered, written)
	return nil
}

// keepOffer is a position whose hand moves may be kept.
type keepOffer struct {
	keeping
	scene *scenes.Scene
}

// offers are those of who is on, in the venue's order, and of those before them.
func (s *session) offers() ([]keepOffer, error) {
	var all []keepOffer
	for _, p := range s.Venue.Positions {
		if s.Memory.On[p.Name] != "" {
			all = append(all, keepOffer{keeping: keeping{position: p.Name}})
		}
	}
	evenings := s.Memory.Evenings()
	if len(evenings) == 0 {
		return all, nil
	}
	record, _, err := s.Memory.Record(evenings[len(evenings)-1])
	if err != nil {
		return nil, err
	}
	for i, line := range record {
		names := s.movedThen(line, record[i+1:])
		if len(names) == 0 {
			continue
		}
		o := keepOffer{keeping: keeping{position: line.Position, performer: line.Performer, only: names, from: line.Reading}}
		if line.Scene != "" {
			if o.scene, err = s.Book.SceneCalled(line.Scene); err != nil {
				return nil, err
			}
		}
		all = append(all, o)
	}
	return all, nil
}

// movedThen gives what a hand had moved when a recall came after it, unless it was kept since,
// or moved again under the same performer.
func (s *session) movedThen(line scenes.Record, later []scenes.Record) []string {
	if line.What != scenes.DidMove || line.Reading == "" || line.Performer == "" || s.Memory.On[line.Position] == line.Performer {
		return nil
	}
	if _, err := s.Venue.Position(line.Position); err != nil {
		return nil
	}
	settled := func(parameter string) bool {
		return slices.ContainsFunc(later, func(r scenes.Record) bool {
			return r.Performer == line.Performer && (r.What == scenes.DidKeep || r.What == scenes.DidMove && r.Reading != "") &&
				slices.ContainsFunc(r.Changes, func(c scenes.RecordedChange) bool { return c.Parameter == parameter })
		})
	}
	var names []string
	for _, c := range line.Changes {
		q, err := profiles.ParseParameter(c.Parameter)
		if err != nil || settled(c.Parameter) {
			continue
		}
		if _, no := notKept[q.Name]; !no && !slices.Contains(names, q.Name) {
			names = append(names, q.Name)
		}
	}
	return names
}

// offer holds what the desk, or the reading, has against the book.
func (s *session) offer(ctx context.Context, o keepOffer) (done kept, turn scenes.Turn, err error) {
	only, err := s.settingNames(o.keeping)
	if err != nil {
		return kept{}, turn, err
	}
	turn, err = s.InPeace(ctx, func() (err error) {
		done, err = s.compareKept(ctx, o.keeping, o.scene, only)
		return err
	})
	s.progress.end()
	return done, turn, err
}

// asksKeep shows what would be kept and asks; without a terminal nobody can answer.
func (a *app) asksKeep(v *scenes.Venue, done kept, answers *bufio.Reader) bool {
	if a.json || !isKeyboard(a.given.in) {
		return false
	}
	a.sayKeptRows(v, done)
	fmt.Fprint(a.err, "keep this? type yes: ")
	line, _ := answers.ReadString('\n')
	answer := strings.ToLower(strings.TrimSpace(line))
	return answer == "yes" || answer == "y"
}

func (a *app) sayOffered(v *scenes.Venue, done kept, taken bool) {
	switch {
	case a.json:
		a.printJSON(keptJSON(v, done, !taken))
	case taken || !isKeyboard(a.given.in) || a.rehearse:
		a.sayKeptRows(v, done)
	}
}

func (a *app) sayOffers(offered, written int) {
	switch {
	case a.json:
	case offered == 0:
		fmt.Fprintln(a.out, "nothing to keep: the files say what hands have left")
	case written == 0:
		fmt.Fprintln(a.out, "nothing was written: --yes keeps all of it, deskhand keep POSITION one")
	default:
		fmt.Fprintf(a.out, "%s of %d kept; git diff shows the same\n", count(written, "position"), offered)
	}
}

// commitKept makes a git commit of what was kept.
func (a *app) commitKept(ctx context.Context, subject string) error {
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
	files, err := b.CommitPerformers(ctx, m, scenes.Evening(time.Now()), subject)
	if errors.Is(err, scenes.ErrNothingToCommit) {
		fmt.Fprintln(a.err, err)
		return nil
	}
	if err == nil && !a.json {
		fmt.Fprintln(a.out, "committed: "+strings.Join(files, ", "))
	}
	return err
}
