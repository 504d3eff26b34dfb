package agent

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// news is what the desk told since it was last looked at, the last value of each
// parameter. It may be added to from any goroutine.
type news struct {
	mu     sync.Mutex
	values scenes.Values
	come   chan struct{} // has one in it while there is any
}

func newNews() *news { return &news{values: make(scenes.Values), come: make(chan struct{}, 1)} }

func (n *news) add(s profiles.Setting) {
	n.mu.Lock()
	n.values[s.Parameter] = s.Value
	n.mu.Unlock()
	select {
	case n.come <- struct{}{}:
	default:
	}
}

func (n *news) all() scenes.Values {
	n.mu.Lock()
	defer n.mu.Unlock()
	values := n.values
	n.values = make(scenes.Values)
	return values
}

// longestAgain is the longest pause before a silent desk is asked again.
const longestAgain = 30 * time.Second

// line is the link to the desk.
type line struct {
	desk *desk.Desk // nil while it is silent
	// following ends when the desk is followed no more.
	following sync.WaitGroup
	stop      context.CancelFunc
	// due is when the desk is to be looked at, or asked again; pause is for how long it
	// is left alone next time it is silent.
	due   time.Time
	pause time.Duration
	// next is the parameter at which the next look begins.
	next int
	// other is the model that answered instead, and silent says that silence was told.
	other  string
	silent bool
	// met says that the desk was there before.
	met bool
}

func (l *line) close() {
	if l.desk == nil {
		return
	}
	l.stop()
	_ = l.desk.Close() // nothing can be lost with it
	l.following.Wait()
	l.desk = nil
}

// connect opens the link and asks who is there, and begins to follow. It reports whether
// the venue's desk is.
func (a *Agent) connect(ctx context.Context) bool {
	d, err := desk.Open(ctx, a.venue.Desk.Profile, a.venue.Desk.Address, desk.Options{Listen: a.venue.Desk.Listen, News: a.news.add})
	if err == nil {
		if err = d.Identify(ctx); err != nil {
			_ = d.Close()
		}
	}
	if err != nil {
		a.missed(ctx, err)
		return false
	}
	following, stop := context.WithCancel(ctx)
	a.line.desk, a.line.stop = d, stop
	a.line.due, a.line.pause = time.Now().Add(a.o.Times.Look), 0
	if d.CanFollow() {
		a.line.following.Go(func() { _ = d.Follow(following) }) // a link that ends is found by the next look
	}
	return true
}

// missed notes that the desk is not there, and when to ask again.
func (a *Agent) missed(ctx context.Context, err error) {
	a.line.pause = min(max(2*a.line.pause, a.o.Times.Again), longestAgain)
	a.line.due = time.Now().Add(a.line.pause)
	var other *desk.OtherDesk
	switch {
	case ctx.Err() != nil:
	case errors.As(err, &other):
		if a.line.other != other.Says {
			a.line.other, a.line.silent = other.Says, false
			a.tell(Event{Kind: Other, Text: err.Error(), Err: err})
		}
	case !a.line.silent:
		a.line.silent, a.line.other = true, ""
		a.tell(Event{Kind: Silent, Text: err.Error(), Err: err})
	}
}

// miss closes the link to a desk that has fallen silent.
func (a *Agent) miss(err error) {
	a.line.close()
	a.line.pause = 0
	a.missed(context.Background(), err)
	a.forebode() // what was ahead is not known any more
}

// look reads a part of what is on, or asks a silent desk again.
func (a *Agent) look(ctx context.Context) {
	if a.line.desk == nil {
		a.again(ctx)
		return
	}
	a.line.due = time.Now().Add(a.o.Times.Look)
	a.read(ctx, a.portion())
}

// portions are how many looks it takes to have read all that is on.
const portions = 20

// longestLook is how much of a desk's time a look may take while somebody is at the keys.
const longestLook = 40 * time.Millisecond

// portion is what the next look reads, in turn.
func (a *Agent) portion() []profiles.Parameter {
	all := a.seated()
	if len(all) == 0 {
		return nil
	}
	size := len(all)/portions + 1
	if a.o.Live { // who presses a key is not to wait for a look
		size = max(1, min(size, int(a.venue.Desk.Profile.Link.Pace*longestLook.Seconds())))
	}
	from := a.line.next % len(all)
	a.line.next = from + size
	return all[from:min(from+size, len(all))]
}

// seated lists the parameters of all places that somebody is on, and with somebody at the
// keys, those of the venue's other positions after them.
func (a *Agent) seated() []profiles.Parameter {
	var all []profiles.Parameter
	for _, place := range a.places() {
		all = append(all, a.venue.Desk.Profile.At(place)...)
	}
	if !a.o.Live {
		return all
	}
	for i := range a.venue.Positions {
		if place := a.venue.Positions[i].Place(); a.seats[place] == nil {
			all = append(all, a.venue.Desk.Profile.At(place)...)
		}
	}
	return all
}

// read asks the desk for parameters, who it is if there are none, and takes in what it
// holds. It reports whether the desk answered.
func (a *Agent) read(ctx context.Context, parameters []profiles.Parameter) bool {
	d := a.line.desk
	if d == nil {
		return false
	}
	a.hear() // what was told up to now is told, and what comes now may be an answer
	pace := time.Duration(float64(len(parameters)) / a.venue.Desk.Profile.Link.Pace * float64(time.Second))
	within, cancel := context.WithTimeout(ctx, a.o.Times.Answer+2*pace)
	defer cancel()
	if len(parameters) == 0 {
		if err := d.Identify(within); err != nil && ctx.Err() == nil {
			a.miss(err)
			return false
		}
		return ctx.Err() == nil
	}
	values, missing, err := d.Read(within, parameters, nil)
	a.takeRead(values)
	if ctx.Err() != nil {
		return false
	}
	if err == nil && len(values) == 0 && len(missing) > 0 {
		err = fmt.Errorf("%w at %s", desk.ErrSilent, d.Address())
	}
	if errors.Is(err, context.DeadlineExceeded) {
		err = nil // slow, and not silent
		if len(values) == 0 {
			err = fmt.Errorf("%w at %s in time", desk.ErrSilent, d.Address())
		}
	}
	if err != nil {
		a.miss(err)
		return false
	}
	return true
}

// fullReads is how often what a desk has not answered is asked for once more.
const fullReads = 4

// readAll is read that counts only if the desk has answered for all. One that does not in
// the end counts as silent: what it holds there is not known.
func (a *Agent) readAll(ctx context.Context, parameters []profiles.Parameter) bool {
	a.unread = make(map[profiles.Parameter]bool)
	defer func() { a.unread = nil }()
	for _, q := range parameters {
		if a.venue.Desk.Profile.Askable(q) {
			a.unread[q] = true
		}
	}
	for range fullReads {
		rest := slices.DeleteFunc(slices.Clone(parameters), func(q profiles.Parameter) bool { return !a.unread[q] })
		if !a.read(ctx, rest) {
			return false
		}
		if len(a.unread) == 0 {
			return true
		}
	}
	for q := range a.unread {
		a.miss(fmt.Errorf("%w for %s", desk.ErrSilent, q))
		break
	}
	return false
}

// takeRead takes in an answer, and what the desk told by itself meanwhile.
func (a *Agent) takeRead(values scenes.Values) {
	for q := range values {
		delete(a.unread, q)
	}
	told := a.news.all()
	maps.DeleteFunc(told, func(q profiles.Parameter, _ profiles.Value) bool { _, asked := values[q]; return asked })
	a.take(values, false)
	a.take(told, true)
}

// hear takes in what the desk told by itself.
func (a *Agent) hear() { a.take(a.news.all(), true) }

// take notes what the desk holds, told by itself or asked for. What moved is judged once
// it has rested.
func (a *Agent) take(values scenes.Values, told bool) {
	for q, v := range values {
		was := a.held[q]
		if v.IsZero() || !was.IsZero() && a.venue.Same(q, was, v) {
			continue
		}
		a.held[q], a.heard[q] = v, told
		a.forgetRecorded(q, v)
		a.forebode()
		if a.seats[q.Place] != nil && !was.IsZero() {
			a.rest(q.Place)
		}
	}
}

// again asks a desk that is not there, and deals with all that differs once it is.
func (a *Agent) again(ctx context.Context) {
	if !a.connect(ctx) {
		return
	}
	a.reread()
	before := maps.Clone(a.held)
	a.news.all() // from before
	if a.readAll(ctx, a.seated()) {
		a.arrived(ctx, before)
	}
}
