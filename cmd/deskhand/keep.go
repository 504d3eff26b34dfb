package main

import (
	"context"
	"fmt"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

// keeping is what keep was asked for.
type keeping struct {
	position               string
	only                   []string
	performer, scene, from string
	// all is for every position, and yes takes all that is offered.
	all, yes bool
	// commit is for a git commit with a message.
	commit  bool
	message string
	// settles takes all that the desk holds there as settled, kept or not.
	settles bool
}

func (a *app) keepCommand() *cobra.Command {
	var k keeping
	c := &cobra.Command{
		Use:   "keep POSITION [SETTING...]",
		Short: "what the desk holds there, into the performer's file",
		Long: `keep reads the position's channel and writes into the file of the performer who is on
it what the desk holds otherwise than the book says, and what a hand has moved since
the last recall. Only those values change in the file; every comment and blank line
stays. What belongs to the room or the microphone is told and left alone, and with
--scene what the scene sets.

SETTING limits it to some settings: fader, eq.2, send.wedge.

--all is for after the event: it offers what hands have moved at each position, for who
is on now, and for those earlier in the evening whose sound was recalled away since, out
of the readings in which it was kept. It asks about each, or takes all with --yes.

--commit -m TEXT makes a git commit of the performers' files that differ from the last
commit, and of nothing else; its message lists the settings.`,
		Example:           "  deskhand keep lectern\n  deskhand keep lectern eq.2 fader --dry-run\n  deskhand keep table-left --scene opening\n  deskhand keep --all --commit -m 'After the first evening'",
		Args:              func(c *cobra.Command, words []string) error { return k.checkWords(c, words) },
		ValidArgsFunction: a.completePosition,
	}
	f := c.Flags()
	f.StringVar(&k.performer, "performer", "", "the performer's `NAME`, if another than was swapped on here")
	f.StringVar(&k.scene, "scene", "", "leave alone what this scene `NAME` sets at the position")
	f.StringVar(&k.from, "from", "", "take the values from this reading's `FILE` instead of the desk")
	f.BoolVar(&k.all, "all", false, "offer the hand moves of all positions")
	f.BoolVar(&k.yes, "yes", false, "with --all, keep all that is offered")
	f.BoolVar(&k.commit, "commit", false, "make a git commit of the performers' files; needs -m")
	f.StringVarP(&k.message, "message", "m", "", "the `TEXT` of that commit")
	_ = c.RegisterFlagCompletionFunc("performer", a.completePerformer)
	_ = c.RegisterFlagCompletionFunc("scene", a.completeScene)
	_ = c.RegisterFlagCompletionFunc("from", a.completeFiles(scenes.Readings))
	a.dryRun(c)
	c.RunE = func(c *cobra.Command, words []string) error {
		if k.all {
			return a.keepAll(c.Context(), k)
		}
		k.position, k.only = words[0], words[1:]
		return a.keep(c.Context(), k)
	}
	return c
}

func (a *app) keep(ctx context.Context, k keeping) error {
	b, err := a.book()
	if err != nil {
		return err
	}
	scene, v, err := a.sceneAndVenue(b, k.scene)
	if err != nil {
		return err
	}
	s, err := a.connect(ctx, b, v)
	if err != nil {
		return err
	}
	defer s.close()
	only, err := s.settingNames(k)
	if err != nil {
		return err
	}
	var done kept
	turn, err := s.InPeace(ctx, func() (err error) {
		done, err = s.compareKept(ctx, k, scene, only)
		return err
	})
	if err != nil {
		return err
	}
	if err := s.writeInTurn(ctx, k, &done, turn); err != nil {
		return err
	}
	s.progress.end()
	a.sayKept(v, done)
	return a.commitKept(ctx, b, k)
}

// compareKept holds what the desk, or a reading, has against the book.
func (s *session) compareKept(ctx context.Context, k keeping, scene *scenes.Scene, only []string) (kept, error) {
	resolved, err := s.resolveFor(k, scene)
	if err != nil {
		return kept{}, err
	}
	holds, err := s.holdsFor(ctx, resolved.Position, k.from)
	if err != nil {
		return kept{}, err
	}
	moved := func(q profiles.Parameter) bool {
		was, known := s.Memory.Held.Values[q]
		return known && !s.Venue.Same(q, was, holds[q])
	}
	done := kept{strip: resolved, file: scenes.File(scenes.Performers, resolved.PerformerName()), holds: holds}
	done.values, done.apart = s.Venue.Keep(resolved, holds, moved, only)
	return done, nil
}

// writeInTurn writes the file and the memory, unless somebody has recalled since the
// desk was read: then it may be another performer's sound.
func (s *session) writeInTurn(ctx context.Context, k keeping, done *kept, turn scenes.Turn) error {
	if s.Rehearse || len(done.values) == 0 && !k.settles {
		return s.writeKept(done)
	}
	return s.inTurn(ctx, turn, func() error { return s.keepNow(k, done) })
}

// inTurn does something while the desk's lock is held, unless somebody has had it since.
func (s *session) inTurn(ctx context.Context, turn scenes.Turn, do func() error) error {
	lock, err := s.Lock(ctx)
	if err != nil {
		return fmt.Errorf("nothing was written: %w", err)
	}
	defer lock.Release()
	if !lock.Found().Since(turn) {
		return fmt.Errorf("another deskhand has changed the desk since it was read, so nothing was written: look at what would be kept now")
	}
	return do()
}

// keepNow writes the performer's file, the record and the memory.
func (s *session) keepNow(k keeping, done *kept) error {
	if err := s.writeKept(done); err != nil {
		return err
	}
	s.recordKept(k, *done)
	if k.from != "" {
		return nil
	}
	return s.rememberKept(*done, k.settles)
}

// recordKept writes in the record what was kept.
func (s *session) recordKept(k keeping, done kept) {
	if len(done.values) == 0 {
		return
	}
	changes := make([]scenes.Change, len(done.values))
	for i, v := range done.values {
		changes[i] = scenes.Change{Parameter: v.Parameter, Spec: v.Spec, From: v.From, To: v.To}
	}
	err := s.Memory.AddRecord(scenes.Record{
		What: scenes.DidKeep, By: scenes.ByUs, Command: s.Command, Position: done.strip.Position.Name, Performer: done.strip.PerformerName(),
		Changes: s.Venue.RecordChanges(changes), Confirmed: true, File: done.file, Reading: k.from,
	})
	if err != nil {
		s.Warn(err)
	}
}

// resolveFor builds the strip that the book has for the position: of the performer who
// is named, or who was swapped on.
func (s *session) resolveFor(k keeping, scene *scenes.Scene) (*scenes.Resolved, error) {
	if _, err := s.Venue.Position(k.position); err != nil {
		return nil, err
	}
	if k.performer == "" {
		k.performer = s.Memory.On[k.position]
	}
	if scene == nil && k.performer == s.Memory.On[k.position] {
		var err error
		if scene, err = s.Memory.SceneOn(k.position); err != nil {
			return nil, err
		}
	}
	if k.performer == "" {
		return nil, fmt.Errorf("nobody was swapped onto %s yet, so say whose settings these are: --performer NAME", k.position)
	}
	cast, err := s.Book.CastFor(s.Venue, k.position, k.performer, scene)
	if err != nil {
		return nil, err
	}
	return s.Venue.Resolve(cast)
}

// holdsFor gives what a position's channel holds: on the desk, or in a reading.
func (s *session) holdsFor(ctx context.Context, p *scenes.Position, from string) (scenes.Values, error) {
	if from == "" {
		values, missing, err := s.readDesk(ctx, s.Venue.Desk.Profile.At(p.Place()))
		if err == nil && len(missing) > 0 {
			err = unanswered(missing)
		}
		return values, err
	}
	n, r, err := s.app.locate(s.Book, from)
	switch {
	case err != nil:
		return nil, err
	case r == nil:
		return nil, fmt.Errorf("--from %s: %s is no reading", from, n.File())
	}
	return r.Values, sameModel(s.Venue, r)
}

// notKept are the settings that no performer's file may have, and whose they are.
var notKept = map[string]string{
	"mute":          "whether a position is open is for the scene (open = true or false)",
	"input.phantom": "phantom power follows the microphone (phantom = true or false at the venue's microphone)",
}

// settingNames turns the settings that a person named into names on the desk, and
// refuses what is none.
func (s *session) settingNames(k keeping) ([]string, error) {
	p, err := s.Venue.Position(k.position)
	if err != nil {
		return nil, err
	}
	names := make([]string, len(k.only))
	for i, word := range k.only {
		name, err := s.Venue.SettingName(p, word)
		if err != nil {
			return nil, err
		}
		if why, no := notKept[name]; no {
			return nil, fmt.Errorf("%s is not kept with a performer: %s", word, why)
		}
		names[i] = name
	}
	return names, nil
}

// kept is what keep did, or with --dry-run would do.
type kept struct {
	strip  *scenes.Resolved
	file   string
	holds  scenes.Values
	values []scenes.Kept
	apart  []scenes.Apart
	lines  []changedLine
	// text is what was written, nil for nothing.
	text []byte
}

// writeKept puts the values into the performer's file.
func (s *session) writeKept(done *kept) error {
	if len(done.values) == 0 {
		return nil
	}
	old, text, err := s.Book.KeepText(done.strip.Performer, done.values)
	if err != nil {
		return err
	}
	done.lines = changedLines(old, text)
	if s.Rehearse {
		return nil
	}
	done.text = text
	return s.Book.Write(done.file, old, text)
}

// rememberKept notes what was kept off the desk, so that it is no hand move any more; or
// all of it.
func (s *session) rememberKept(done kept, all bool) error {
	now := make(scenes.Values)
	for _, k := range done.values {
		now[k.Parameter] = done.holds[k.Parameter]
	}
	if all {
		now = done.holds
	}
	s.Memory.Hold(now)
	return s.Memory.Save(time.Now())
}
