package agent

import (
	"context"
	"errors"
	"maps"
	"slices"
	"sync"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
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

// begin meets the desk for the first time.
func (a *Agent) begin(ctx context.Context) {
	a.seat(ctx)
	if a.connect(ctx) {
		a.arrive(ctx)
	}
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
	if ctx.Err() != nil {
		return
	}
	var other *desk.OtherDesk
	switch {
	case errors.As(err, &other):
		if a.line.other != other.Says {
			a.line.other = other.Says
			a.tell(Event{Kind: Other, Text: err.Error(), Err: err})
		}
	case !a.line.silent:
		a.line.silent = true
		a.tell(Event{Kind: Silent, Text: err.Error(), Err: err})
	}
}

// lost closes the link to a desk that has fallen silent.
func (a *Agent) lost(err error) {
	a.line.close()
	a.line.pause = 0
	a.missed(context.Background(), err)
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

// portion is what the next look reads, in turn.
func (a *Agent) portion() []profiles.Parameter {
	all := a.seated()
	if len(all) == 0 {
		return nil
	}
	size := len(all)/portions + 1
	from := a.line.next % len(all)
	a.line.next = from + size
	return all[from:min(from+size, len(all))]
}

// seated lists the parameters of all places that somebody is on.
func (a *Agent) seated() []profiles.Parameter {
	var all []profiles.Parameter
	places := slices.SortedFunc(maps.Keys(a.seats), func(x, y profiles.Place) int { return x.Number - y.Number })
	for _, place := range places {
		all = append(all, a.venue.Desk.Profile.At(place)...)
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
	pace := time.Duration(float64(len(parameters)) / a.venue.Desk.Profile.Link.Pace * float64(time.Second))
	within, cancel := context.WithTimeout(ctx, a.o.Times.Answer+2*pace)
	defer cancel()
	if len(parameters) == 0 {
		if err := d.Identify(within); err != nil && ctx.Err() == nil {
			a.lost(err)
			return false
		}
		return true
	}
	values, missing, err := d.Read(within, parameters, nil)
	a.take(values)
	if ctx.Err() != nil {
		return false
	}
	if err == nil && len(missing) == len(parameters) {
		err = desk.ErrSilent
	}
	if err != nil {
		a.lost(err)
		return false
	}
	return true
}

// hear takes in what the desk told by itself.
func (a *Agent) hear() { a.take(a.news.all()) }

// take notes what the desk holds. What is otherwise than file and desk agreed is judged
// once it has rested.
func (a *Agent) take(values scenes.Values) {
	for q, v := range values {
		was := a.held[q]
		if v.IsZero() || !was.IsZero() && a.venue.Same(q, was, v) {
			continue
		}
		a.held[q] = v
		if agreed := a.agreed[q]; a.seats[q.Place] != nil && !was.IsZero() && q.Name != "mute" && !a.venue.Same(q, agreed, v) {
			a.resting[q.Place] = time.Now()
		}
	}
}

// again asks a silent desk once more.
func (a *Agent) again(ctx context.Context) {
	if a.connect(ctx) {
		a.arrive(ctx)
	}
}

// arrive reads all that is on of a desk that is there, says what has changed since it was
// last seen, and deals with it. What changed while nobody looked is not taken for a
// hand's: the desk may have been restarted.
func (a *Agent) arrive(ctx context.Context) {
	before := maps.Clone(a.held)
	a.news.all() // from before
	if !a.read(ctx, a.seated()) {
		return
	}
	e := Event{Kind: Began, Text: a.line.desk.Address()}
	if a.line.met {
		e.Kind = Back
	}
	a.line.met, a.line.silent, a.line.other = true, false, ""
	clear(a.resting)
	for _, q := range a.seated() {
		now := a.held[q]
		if was := before[q]; !was.IsZero() && !now.IsZero() && !a.venue.Same(q, was, now) {
			e.Changes = append(e.Changes, a.change(q, was, now, scenes.Wanted{}))
		}
	}
	a.leftAlone()
	a.tell(e)
	if a.o.ToDesk && a.o.Restore && len(a.away) > 0 {
		a.restore(ctx)
	}
	for place := range a.seats {
		a.settle(ctx, place)
	}
}

// leftAlone notes what is otherwise than agreed after a time in which nobody looked.
func (a *Agent) leftAlone() {
	for _, q := range a.seated() {
		held, agreed := a.held[q], a.agreed[q]
		if q.Name != "mute" && !held.IsZero() && !agreed.IsZero() && !a.venue.Same(q, held, agreed) {
			a.away[q] = held
		}
	}
}

// restore takes all that is on to the desk again.
func (a *Agent) restore(ctx context.Context) {
	var targets []recall.Target
	for _, s := range a.seats {
		if s.strip != nil {
			t := recall.ForPosition(s.strip)
			t.Open = nil
			targets = append(targets, t)
		}
	}
	slices.SortFunc(targets, func(x, y recall.Target) int { return x.Place.Number - y.Place.Number })
	if len(targets) > 0 {
		a.carryOut(ctx, nil, targets, func(*recall.Plan) bool { return true })
	}
}
