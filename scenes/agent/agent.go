package agent

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"sync/atomic"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// Options say what the agent does of what it sees.
type Options struct {
	// Dir is the book's folder, Venue the venue's name, "" for the usual one.
	Dir, Venue string
	// Machine is where books that share a desk lock it, see [scenes.Book].
	Machine string
	// Address is where the desk is, "" for where the venue says.
	Address string
	// ToDesk takes saved files to the desk, ToFiles hand moves into files. Without either
	// the agent only tells.
	ToDesk, ToFiles bool
	// Restore takes what has changed while nobody looked to the desk again, as the book says
	// it. It needs ToDesk.
	Restore bool
	// Remote is the ADDRESS:PORT of this machine at which requests are taken over the
	// network, "" for none.
	Remote string
	// Poll looks at files that often instead of waiting for events, 0 for events.
	Poll time.Duration
	// Order is the running order whose scenes can be asked for, "" for none. FromStart
	// begins it anew, else it goes on where it was in the same evening.
	Order     string
	FromStart bool
	// Live says that somebody is at the keys of an event: all positions of the venue are
	// looked at, and held means that nothing at all is sent.
	Live bool
	// Tell is told each event, in order. It must not call the agent.
	Tell func(Event)
	// Changed is told that there is another [View]. It must not wait. It may be nil.
	Changed func()
	// Times are for tests; the zero ones are usual.
	Times Times
	// Clock is nil for the machine's.
	Clock desk.Clock
}

// Times are the agent's own.
type Times struct {
	// Rest is how long a control must have rested before a hand has moved it: 1 s.
	Rest time.Duration
	// Look is how often a part of what is on is read, to find what the desk did not tell:
	// 500 ms.
	Look time.Duration
	// Answer is how long a look may take before the desk counts as silent: 2 s.
	Answer time.Duration
	// Again is the first pause before a silent desk is asked again: 1 s. Each is twice the
	// one before, up to 30 s.
	Again time.Duration
	// Gap is how long the computer must have slept, or the clock have been set by, so that
	// it counts: 5 s.
	Gap time.Duration
}

func (t Times) orUsual() Times {
	set := func(d *time.Duration, usual time.Duration) {
		if *d == 0 {
			*d = usual
		}
	}
	set(&t.Rest, time.Second)
	set(&t.Look, 500*time.Millisecond)
	set(&t.Answer, 2*time.Second)
	set(&t.Again, time.Second)
	return t
}

// Agent keeps the files of a book and one desk in step. All of it belongs to the goroutine
// of [Run] but for what the desk tells, which comes through news.
type Agent struct {
	o     Options
	files *Files
	// book, venue and memory are as last read without fault.
	book   *scenes.Book
	venue  *scenes.Venue
	memory *scenes.Memory
	// remembered is when the memory's files were last written, as far as we know them.
	remembered time.Time
	// behind is what was remembered when a place was last taken over, where another command
	// has written since: of its two files, the one may be read before the other is written.
	behind map[profiles.Place]scenes.Values
	// ours are the positions that a recall of our own has left half done.
	ours map[string]bool
	line line
	// seats are the positions that somebody is on, by place.
	seats map[profiles.Place]*seat
	// held is what the desk holds, agreed what file and desk last agreed on.
	held, agreed scenes.Values
	unsaved      bool // agreed was changed since it was written
	// unread is what a reading under way has no answer for yet.
	unread map[profiles.Parameter]bool
	// heard are the parameters whose last change the desk told by itself.
	heard map[profiles.Parameter]bool
	// mutes are those of places, as they were before a desk may have been restarted.
	mutes scenes.Values
	// away is what was found changed after nobody had looked: no hand move until a hand
	// moves it once more.
	away scenes.Values
	// lost are the places that look as on a desk that was switched off and on.
	lost map[profiles.Place]bool
	// told is how each value was told of last.
	told map[profiles.Parameter]telling
	// resting are the places where something moved, and when it last did.
	resting map[profiles.Place]time.Time
	faults  faults
	news    *news
	// troubles are those of other goroutines, to be told in order.
	troubles chan error
	// asks are what is asked for over the network; holding says that nothing is done
	// unasked, and goOn has one in it when that has ended. State is how things stand.
	asks    chan asking
	holding atomic.Bool
	goOn    chan struct{}
	state   atomic.Pointer[RemoteState]
	view    atomic.Pointer[View]
	order   order
	// hands takes the answer of who was asked to do something by hand, nil while nobody is.
	hands atomic.Pointer[chan bool]
	cut   cutter
	// recorded are a hand's moves that are in the record and that the desk holds still,
	// keptFrom is what file and desk agreed on before the last keep. Holds are those to be
	// recorded.
	recorded, keptFrom scenes.Values
	holds              chan holdPressed
	// vigil notices that the computer slept; gaps are those to be dealt with, and absences
	// counts them. What was asked for before one is not done after it.
	vigil    *desk.Vigil
	gaps     chan desk.Gap
	absences atomic.Uint64
	// asking is what is being done because somebody has asked for it, nil for nothing.
	asking *asking
}

// telling is how a value was told of.
type telling struct {
	standing standing
	from, to profiles.Value
}

// New makes an agent, for [Agent.Run].
func New(o Options) *Agent {
	o.Times = o.Times.orUsual()
	if o.Clock == nil {
		o.Clock = desk.MachineClock()
	}
	a := &Agent{
		o: o, ours: make(map[string]bool), behind: make(map[profiles.Place]scenes.Values), seats: make(map[profiles.Place]*seat),
		held: make(scenes.Values), heard: make(map[profiles.Parameter]bool), away: make(scenes.Values), mutes: make(scenes.Values),
		lost: make(map[profiles.Place]bool), told: make(map[profiles.Parameter]telling),
		resting: make(map[profiles.Place]time.Time), faults: make(faults), news: newNews(),
		troubles: make(chan error, 16), asks: make(chan asking), goOn: make(chan struct{}, 1),
		recorded: make(scenes.Values), holds: make(chan holdPressed, 64),
		gaps: make(chan desk.Gap, 16),
	}
	a.view.Store(&View{})
	return a
}

// Run keeps files and desk in step until the context ends, and returns nil then. An error
// means that it could not begin.
func Run(ctx context.Context, o Options) error { return New(o).Run(ctx) }

// Run is the agent at work, until the context ends; then it returns nil. An error means that
// it could not begin. It is called once.
func (a *Agent) Run(ctx context.Context) error {
	files, err := WatchFiles(ctx, a.o.Dir, FileOptions{Poll: a.o.Poll, Trouble: a.troubled})
	if err != nil {
		return err
	}
	a.files = files
	defer files.Close()
	a.vigil = desk.KeepVigil(desk.VigilOptions{Clock: a.o.Clock, Least: a.o.Times.Gap, Noticed: a.noteGap})
	defer a.vigil.End()
	if err := a.open(); err != nil {
		return err
	}
	defer a.close()
	if err := a.beginOrder(ctx); err != nil {
		return err
	}
	a.publish()
	end, err := a.remote(ctx)
	if err != nil {
		return err
	}
	defer end()
	a.begin(ctx)
	a.foresee()
	a.publish()
	for ctx.Err() == nil {
		a.next(ctx)
		a.foresee()
		a.publish()
	}
	return nil
}

// troubled notes a trouble of another goroutine.
func (a *Agent) troubled(err error) {
	select {
	case a.troubles <- err:
	default: // there are others to be read already
	}
}

// open reads what the agent begins with.
func (a *Agent) open() (err error) {
	if a.book, err = scenes.Open(a.o.Dir); err != nil {
		return err
	}
	a.book.Machine = a.o.Machine
	a.book = a.book.OnShelf()
	if a.o.Venue == "" {
		if a.o.Venue, err = a.book.UsualVenue(); err != nil {
			return err
		}
	}
	if a.venue, err = a.readVenue(); err != nil {
		return err
	}
	if err := a.recollect(); err != nil {
		return err
	}
	return a.openOrder()
}

// readVenue reads the venue, with the desk's address as it was asked for.
func (a *Agent) readVenue() (*scenes.Venue, error) {
	v, err := a.book.Venue(a.o.Venue)
	if err != nil {
		return nil, err
	}
	if !v.Desk.Profile.CanAnswer() {
		return nil, fmt.Errorf("a %s can only be told: there is nothing to watch on it", v.Desk.Profile.Name)
	}
	if a.o.Address == "" {
		return v, nil
	}
	aimed := *v // the book keeps the venue as it read it
	aimed.Desk.Address, err = v.Desk.Profile.AddressOf(a.o.Address)
	return &aimed, err
}

// begin meets the desk for the first time.
func (a *Agent) begin(ctx context.Context) {
	a.reseat()
	for _, place := range a.places() {
		if s := a.seats[place]; a.isBusy(s.position) {
			a.tell(Event{Kind: Trouble, Position: s.position, Performer: s.performer,
				Text: "a recall did not come to its end here, so that it may be muted: nothing is done here before it is swapped, settled or undone"})
		}
	}
	a.again(ctx)
}

func (a *Agent) close() {
	a.line.close()
	a.saveAgreed()
	a.recordEnd()
}

// next waits for one thing to happen and deals with it.
func (a *Agent) next(ctx context.Context) {
	wake := time.NewTimer(time.Until(a.due()))
	defer wake.Stop()
	select {
	case <-ctx.Done():
	case err := <-a.troubles:
		a.trouble("", err)
	case g := <-a.gaps:
		a.awoke(ctx, g)
	case q := <-a.asks:
		a.awake(ctx)
		a.answer(ctx, q)
	case h := <-a.holds:
		a.recordHold(h)
	case <-a.goOn:
		a.awake(ctx)
		a.settleAll(ctx)
	case files, open := <-a.files.Changes():
		a.awake(ctx)
		if open {
			a.saved(ctx, files)
		}
	case <-a.news.come:
		a.hear()
	case <-wake.C:
		a.awake(ctx)
		a.tick(ctx)
	}
}

// due is when something is to be done by the clock.
func (a *Agent) due() time.Time {
	due := a.line.due
	if f := a.order.due; !f.IsZero() && f.Before(due) {
		due = f
	}
	for _, moved := range a.resting {
		if rested := moved.Add(a.o.Times.Rest); rested.Before(due) {
			due = rested
		}
	}
	return due
}

// tick does what is due.
func (a *Agent) tick(ctx context.Context) {
	a.lookAtMemory(ctx)
	if !time.Now().Before(a.line.due) {
		a.look(ctx)
	}
	for _, place := range sortedPlaces(maps.Keys(a.resting)) {
		if moved, resting := a.resting[place]; resting && time.Since(moved) >= a.o.Times.Rest {
			delete(a.resting, place)
			a.settle(ctx, place)
		}
	}
	a.saveAgreed()
}

// rest has a place judged once it has rested from now on.
func (a *Agent) rest(place profiles.Place) { a.resting[place] = time.Now() }

// places are those that somebody is on, in order.
func (a *Agent) places() []profiles.Place { return sortedPlaces(maps.Keys(a.seats)) }

func sortedPlaces(places func(func(profiles.Place) bool)) []profiles.Place {
	return slices.SortedFunc(places, func(x, y profiles.Place) int { return x.Number - y.Number })
}

func (a *Agent) tell(e Event) {
	e.Time = a.now()
	if a.asking != nil && e.Asked == nil && isOutcome(e.Kind) {
		e.Asked, e.By = a.asking.ask, a.asking.by
	}
	a.o.Tell(e)
	a.recordEvent(e)
}

// isOutcome reports whether events of a kind tell of what was done.
func isOutcome(kind Kind) bool {
	switch kind {
	case Recalled, Refused, Wrote, Trouble:
		return true
	}
	return false
}

func (a *Agent) trouble(position string, err error) {
	a.tell(Event{Kind: Trouble, Position: position, Text: err.Error(), Err: err})
}
