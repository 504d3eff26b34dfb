package desk

import (
	"context"
	"sync"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
)

const (
	// askHands is how often a desk that doesn't tell its changes is asked for gliding
	// levels, askWitnesses how often any desk is asked for witnesses.
	askHands     = 250 * time.Millisecond
	askWitnesses = 500 * time.Millisecond
	// askPart is the part of the desk's pace that either takes at most.
	askPart = 0.1
)

// rail is a line under way.
type rail struct {
	line    Line
	control *profiles.Control
	linger  time.Duration
	// steps are what the desk may have been told, the first being what it held; base is
	// the latest that it was reported to hold, when that was heard, or that it held at first.
	steps []stepped
	base  int
	heard time.Time
	// hand is what a hand has set, no value where none has.
	hand profiles.Value
}

// stepped is a step that was sent, and when.
type stepped struct {
	value profiles.Value
	at    time.Time
}

// ears hears of hands on the gliding levels. Reports come in beside the goroutine that
// sends.
type ears struct {
	mu    sync.Mutex
	rails []*rail
	// told says that reports are changes that the desk tells as they happen.
	told bool
}

func (e *ears) rail(q profiles.Parameter) *rail {
	for _, r := range e.rails {
		if r.line.Parameter == q {
			return r
		}
	}
	return nil
}

// listen begins with what the desk holds now.
func (e *ears) listen(told bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.told = told
	for _, r := range e.rails {
		r.steps, r.heard = []stepped{{r.line.From, time.Now()}}, time.Now()
	}
}

// beLenient takes any of our steps since the last report for ours: some may have got lost.
func (e *ears) beLenient() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.told = false
}

// send notes a step before it is sent, unless a hand has the level.
func (e *ears) send(r *rail, v profiles.Value) bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	if !r.hand.IsZero() {
		return false
	}
	r.steps = append(r.steps, stepped{v, time.Now()})
	return true
}

func (e *ears) newest(r *rail) profiles.Value {
	e.mu.Lock()
	defer e.mu.Unlock()
	return r.steps[len(r.steps)-1].value
}

func (e *ears) taken(r *rail) (profiles.Value, bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	return r.hand, !r.hand.IsZero()
}

func (e *ears) isMoved(r *rail) bool { _, moved := e.taken(r); return moved }

func (e *ears) allMoved() bool {
	for _, r := range e.rails {
		if !e.isMoved(r) {
			return false
		}
	}
	return true
}

// hear judges a report. It gives whether it is of a level that a hand has.
func (e *ears) hear(s profiles.Setting) bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	r := e.rail(s.Parameter)
	if r == nil || r.steps == nil {
		return false
	}
	if r.hand.IsZero() && r.isOurs(s.Value, e.told) {
		return false
	}
	r.hand = s.Value
	return true
}

// isOurs reports whether a value is of a step of ours. A change that is told as it happens
// is of one that was still under way, or the newest; an answer may be of any since the one
// that was reported last, as those after it may be lost, and of one before it that may have
// arrived after it. Late reports are of steps that were the newest a moment ago.
func (r *rail) isOurs(v profiles.Value, told bool) bool {
	now, last := time.Now(), len(r.steps)-1
	for i := last; i >= 0; i-- {
		switch {
		case r.steps[i].value != v:
		case i == last || now.Sub(r.steps[i].at) <= r.linger:
			r.isAt(i, now)
			return true
		case told:
			return false
		case i >= r.base || now.Sub(r.steps[i+1].at) <= r.linger || r.mayFollowBase(i):
			r.isAt(i, now)
			return true
		}
	}
	return false
}

// isAt notes that a step was reported.
func (r *rail) isAt(i int, now time.Time) {
	if i >= r.base {
		r.base, r.heard = i, now
	}
}

// mayFollowBase reports whether an earlier step may have arrived after the base was reported:
// both the step and that report may have been under way for as long as packets are.
func (r *rail) mayFollowBase(i int) bool { return r.heard.Sub(r.steps[i].at) <= 2*r.linger }

// hearHands has the desk tell its changes, where it can.
func (g *glide) hearHands(ctx context.Context) (end func(), err error) {
	unfollow := func() {}
	if g.CanFollow() {
		if g.followers.Load() == 0 {
			unfollow, err = g.followMeanwhile(ctx)
		} else {
			err = g.askToFollow(ctx) // once more, should the first request have got lost
		}
		if err != nil {
			return nil, err
		}
	}
	g.ears.listen(g.CanFollow())
	g.gliding.Store(g)
	return func() { unfollow() }, nil
}

// hear takes a report while levels glide. A level that a hand has taken goes along in the
// messages for others, from now on, as the hand has it.
func (g *glide) hear(s profiles.Setting) {
	if !g.ears.hear(s) {
		return
	}
	g.company.watch([]profiles.Parameter{s.Parameter})
	g.company.hear(s)
}

// askForHands asks a desk that doesn't tell its changes what the levels are, until the
// context ends. The answers are judged as they are heard.
func (g *glide) askForHands(ctx context.Context) {
	if g.CanFollow() {
		return
	}
	for {
		levels := g.untaken()
		if len(levels) == 0 {
			return
		}
		if _, err := g.askEvery(ctx, askHands, levels); err != nil {
			return // the link is dead, which others will tell
		}
	}
}

// askEvery asks after a time, or after a longer one where the pace wants that.
func (g *glide) askEvery(ctx context.Context, every time.Duration, parameters []profiles.Parameter) (scenes.Values, error) {
	questions := g.profile.AskOrdinals(parameters)
	if pace := g.profile.Link.Pace; pace > 0 {
		every = max(every, time.Duration(float64(len(questions))/(askPart*pace)*float64(time.Second)))
	}
	if err := sleep(ctx, every); err != nil {
		return nil, err
	}
	answers, err := g.conversation.AskAfresh(ctx, questions, nil)
	return g.inParameters(answers), err
}

// seesLoss looks at the witnesses until they say that the desk has lost what it held.
func (g *glide) seesLoss(ctx context.Context, o GlideOptions) bool {
	if len(o.Witnesses) == 0 || o.IsLost == nil {
		return false
	}
	for {
		holds, err := g.askEvery(ctx, askWitnesses, o.Witnesses)
		if err != nil {
			return false
		}
		if o.IsLost(holds) {
			return true
		}
	}
}

// untaken are the levels that can be asked for and that no hand has.
func (g *glide) untaken() []profiles.Parameter {
	var all []profiles.Parameter
	for _, r := range g.rails {
		if !g.ears.isMoved(r) && g.profile.Askable(r.line.Parameter) {
			all = append(all, r.line.Parameter)
		}
	}
	return all
}
