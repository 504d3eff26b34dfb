package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/scenes"
)

// Line is a level's way along a straight line in dB.
type Line struct {
	Parameter profiles.Parameter
	// From is what the desk holds, To what it is to hold.
	From, To profiles.Value
}

// Glided is what a glide has done.
type Glided struct {
	// Sent is every step that was sent, in order.
	Sent []profiles.Setting
	// Confirmed are the ends that the desk reported holding. Doubts are the others, but for
	// those that the desk can't be asked about and those that a hand has moved.
	Confirmed []Confirmed
	Doubts    []Doubt
	// Moved are levels that a hand took meanwhile, and that were left to it from then on.
	Moved []Doubt
	// Took is how long the levels were on their way, without the proof of the ends.
	Took time.Duration
	// Lost says that it was ended because the witnesses said that the desk has lost what it
	// held.
	Lost bool
}

// GlideOptions say what else is to be done meanwhile.
type GlideOptions struct {
	Progress Progress
	// Witnesses are asked for twice a second, and IsLost is told what the desk holds of
	// them. Once it gives true, the glide ends where it is. It must not call the desk.
	Witnesses []profiles.Parameter
	IsLost    func(scenes.Values) bool
}

const (
	// shortestGlide is the shortest time for a glide.
	shortestGlide = 50 * time.Millisecond
	// glideStall is by how much a step may be late; a program that was stopped for longer
	// does not catch up, but takes longer.
	glideStall = 10 * time.Millisecond
	// glideRounds is how often the end of a line is sent before it is given up, and
	// glideSilences after how many askings without an answer.
	glideRounds, glideSilences = 10, 2
)

// Glide moves levels along their lines, all at once, over a time of 50 ms or more, and
// then makes sure of their ends. Each is within 0.5 dB of its line at each moment, where
// the steps of the desk's grid are no larger than 0.9 dB. Where the desk's pace can't
// carry that, it takes longer. A glide from silence begins at -60 dB, and one to silence
// ends there before the last step, or at the control's lowest sound where that is higher.
//
// A hand on one of the controls wins: the rest of its line is not sent. A desk that can be
// followed is, meanwhile; another one is asked for the levels several times a second.
//
// Messages for several settings are filled in as those of [Desk.Write] are. With an error,
// what was done until then is returned too.
func (d *Desk) Glide(ctx context.Context, lines []Line, over time.Duration, o GlideOptions) (Glided, error) {
	g, err := d.newGlide(lines)
	if err != nil || len(g.rails) == 0 {
		return Glided{}, err
	}
	defer d.gliding.Store(nil)
	running, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	end, err := g.begin(running, func() { stop(errLost) }, o)
	if err != nil {
		return Glided{}, err
	}
	err = g.run(running, max(over, shortestGlide), o.Progress)
	end()
	switch {
	case context.Cause(running) == errLost && ctx.Err() == nil:
		g.lost, err = true, nil
	case err == nil:
		err = g.makeSure(ctx)
	}
	if err != nil {
		err = fmt.Errorf("fade: %w", err)
	}
	return g.result(), err
}

// glide is one under way.
type glide struct {
	*Desk
	rails []*rail
	// beside is what else is in the messages of a line, by its index.
	beside [][]profiles.Parameter
	ears   ears
	sent   []profiles.Setting
	last   time.Time // when anything was sent
	took   time.Duration
	proof  map[profiles.Parameter]Confirmed
	doubts []Doubt
	lost   bool
	// asksFirst says that what goes along is asked for before each step, on a desk that
	// doesn't tell its changes.
	asksFirst bool
}

// errLost ends a glide on a desk that has lost what it held.
var errLost = errors.New("the desk has lost what it held")

// newGlide leaves out lines that lead nowhere.
func (d *Desk) newGlide(lines []Line) (*glide, error) {
	g := &glide{Desk: d, proof: make(map[profiles.Parameter]Confirmed), asksFirst: !d.CanFollow()}
	for _, l := range lines {
		control, ok := d.profile.Control(l.Parameter)
		if !ok || control.Reach() > profiles.TellOnly {
			return nil, fmt.Errorf("fade: %s: %s has no such parameter, or none that OSC reaches", l.Parameter, d.profile.Name)
		}
		from, err := control.Nearest(l.From)
		if err == nil {
			l.To, err = control.Nearest(l.To)
		}
		if _, isLevel := from.Number(); err != nil || !isLevel {
			return nil, fmt.Errorf("fade: %s does not go from %s to %s: %w", l.Parameter, l.From, l.To, errors.Join(errNoLevel, err))
		}
		if from != l.To {
			l.From = from
			g.rails = append(g.rails, &rail{line: l, control: control, linger: d.profile.Link.Linger})
		}
	}
	for _, r := range g.rails {
		g.beside = append(g.beside, d.profile.Beside(r.line.Parameter))
	}
	g.ears.rails = g.rails
	return g, nil
}

var errNoLevel = errors.New("a glide is for levels")

// begin reads what goes along, and begins to listen for hands and to look at the
// witnesses. Its end ends that, but for the reports that still come in.
func (g *glide) begin(ctx context.Context, lost func(), o GlideOptions) (end func(), err error) {
	if err := g.readBeside(ctx); err != nil {
		return nil, err
	}
	unfollow, err := g.hearHands(ctx)
	if err != nil {
		return nil, err
	}
	listening, stop := context.WithCancel(ctx)
	var beside sync.WaitGroup
	beside.Go(func() { g.askForHands(listening) })
	beside.Go(func() {
		if g.seesLoss(listening, o) {
			lost()
		}
	})
	return func() {
		stop()
		beside.Wait()
		unfollow()
	}, nil
}

// readBeside reads what goes along with the levels, and begins to watch it.
func (g *glide) readBeside(ctx context.Context) error {
	var others []profiles.Parameter
	for i := range g.rails {
		others = append(others, g.othersOf(i)...)
	}
	if len(others) == 0 {
		return nil
	}
	g.company.watch(others)
	_, silent, err := g.Read(ctx, others, nil)
	if err == nil && len(silent) > 0 {
		err = fmt.Errorf("%w for %s, which goes along in a message for levels", ErrSilent, silent[0])
	}
	if err != nil {
		return fmt.Errorf("fade: %w", err)
	}
	return nil
}

// othersOf lists what is in the message of a line and glides by no line, or not any more.
func (g *glide) othersOf(i int) []profiles.Parameter {
	return slices.DeleteFunc(slices.Clone(g.beside[i]), func(q profiles.Parameter) bool {
		r := g.ears.rail(q)
		return r != nil && !g.ears.isMoved(r)
	})
}

// run sends the steps, each when it is due.
func (g *glide) run(ctx context.Context, over time.Duration, progress Progress) error {
	course := plot(g.ways(), over, g.profile.Link.Pace*glidePart)
	began := time.Now()
	start := began
	defer func() { g.took = time.Since(began) }()
	for i, r := range course.rungs {
		if g.ears.isMoved(g.rails[r.line]) {
			continue
		}
		due := start.Add(course.at[i])
		if err := sleep(ctx, time.Until(due)); err != nil {
			return err
		}
		if err := g.step(ctx, r.line, r.value); err != nil {
			return err
		}
		if late := time.Since(due); late > glideStall {
			start = start.Add(late)
		}
		if progress != nil {
			progress(i+1, len(course.rungs))
		}
	}
	if g.ears.allMoved() {
		return nil
	}
	return sleep(ctx, time.Until(start.Add(course.lead+course.over)))
}

func (g *glide) ways() []way {
	ways := make([]way, len(g.rails))
	for i, r := range g.rails {
		ways[i] = way{control: r.control, from: r.line.From, to: r.line.To, messages: 1}
		if g.asksFirst && len(g.othersOf(i)) > 0 {
			ways[i].messages = 2
		}
	}
	return ways
}

// errTaken ends the sending of one message because a hand has taken the level meanwhile.
var errTaken = errors.New("a hand has it")

// step sends one step of a line, and with it what the other lines in its message have
// come to.
func (g *glide) step(ctx context.Context, i int, v profiles.Value) error {
	q := g.rails[i].line.Parameter
	if others := g.othersOf(i); g.asksFirst && len(others) > 0 {
		if _, err := g.conversation.Ask(ctx, g.profile.AskOrdinals(others), nil); err != nil {
			return err
		}
	}
	var settings []profiles.Setting
	err := g.conversation.TellWhenDue(ctx, func() (osc.Message, error) {
		if err := g.isAwake(); err != nil {
			return osc.Message{}, err
		}
		if settings = g.settings(i, v); settings == nil {
			return osc.Message{}, errTaken
		}
		return g.message(i, settings)
	})
	if errors.Is(err, errTaken) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("set %s: %w", q, err)
	}
	g.note(i, settings)
	return nil
}

// settings is what the message for a step of a line sets; nil where a hand has the level.
// From now on the desk may hold it.
func (g *glide) settings(i int, v profiles.Value) []profiles.Setting {
	mine := g.rails[i]
	if !g.ears.send(mine, v) {
		return nil
	}
	settings := []profiles.Setting{{Parameter: mine.line.Parameter, Value: v}}
	for _, q := range g.beside[i] {
		if r := g.ears.rail(q); r != nil && !g.ears.isMoved(r) {
			settings = append(settings, profiles.Setting{Parameter: q, Value: g.ears.newest(r)})
		}
	}
	return settings
}

func (g *glide) message(i int, settings []profiles.Setting) (osc.Message, error) {
	if len(g.othersOf(i)) > 0 {
		return g.company.fill(g.profile, settings)
	}
	return g.profile.Message(settings, nil)
}

// note notes a message that was sent.
func (g *glide) note(i int, settings []profiles.Setting) {
	g.last = time.Now()
	for _, s := range settings {
		g.Desk.sent[s.Parameter] = sending{s.Value, g.last}
	}
	for _, along := range g.company.wentAlong(g.othersOf(i)) {
		g.Desk.sent[along.Parameter] = sending{along.Value, g.last}
	}
	g.sent = append(g.sent, settings[0])
}

// result gathers what was done.
func (g *glide) result() Glided {
	done := Glided{Sent: g.sent, Doubts: g.doubts, Took: g.took, Lost: g.lost}
	for _, r := range g.rails {
		if found, moved := g.ears.taken(r); moved {
			done.Moved = append(done.Moved, Doubt{profiles.Setting{Parameter: r.line.Parameter, Value: r.line.To}, found})
		} else if c, ok := g.proof[r.line.Parameter]; ok {
			done.Confirmed = append(done.Confirmed, c)
		}
	}
	return done
}
