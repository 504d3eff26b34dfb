package agent

import (
	"context"
	"fmt"
	"maps"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
)

// Options say what the agent does of what it sees.
type Options struct {
	// Dir is the book's folder, Venue the venue's name, "" for the usual one.
	Dir, Venue string
	// Address is where the desk is, "" for where the venue says.
	Address string
	// ToDesk takes saved files to the desk, ToFiles hand moves into files. Without either
	// the agent only tells.
	ToDesk, ToFiles bool
	// Restore takes all that is on to the desk again when it is back. It needs ToDesk.
	Restore bool
	// Poll looks at files that often instead of waiting for events, 0 for events.
	Poll time.Duration
	// Tell is told each event, in order. It must not call the agent.
	Tell func(Event)
	// Times are for tests; the zero ones are usual.
	Times Times
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

// longestAgain is the longest pause before a silent desk is asked again.
const longestAgain = 30 * time.Second

// Agent keeps the files of a book and one desk in step. All of it belongs to the goroutine
// of [Agent.Run] but for what the desk tells, which comes through news.
type Agent struct {
	o     Options
	files *Files
	// book, venue and memory are as last read without fault.
	book   *scenes.Book
	venue  *scenes.Venue
	memory *scenes.Memory
	// remembered is when the memory's files were last written.
	remembered time.Time
	line       line
	// seats are the positions that somebody is on, by place.
	seats map[profiles.Place]*seat
	// held is what the desk holds, agreed what file and desk last agreed on.
	held, agreed scenes.Values
	unsaved      bool // agreed was changed since it was written
	// away is what was found changed after nobody had looked: no hand move until a hand
	// moves it once more.
	away scenes.Values
	// told is how each value was told of last.
	told map[profiles.Parameter]telling
	// resting are the places where something moved, and when it last did.
	resting map[profiles.Place]time.Time
	faults  map[string]string // that were told, by file
	news    *news
}

// seat is a position that somebody is on.
type seat struct {
	position, performer, scene string
	// strip is as the files last said without fault.
	strip *scenes.Resolved
}

// telling is how a value was told of.
type telling struct {
	standing     standing
	wanted, held profiles.Value
}

// Run keeps files and desk in step until the context ends, and returns nil then. An error
// means that it could not begin.
func Run(ctx context.Context, o Options) error {
	o.Times = o.Times.orUsual()
	a := &Agent{o: o, seats: make(map[profiles.Place]*seat), held: make(scenes.Values), away: make(scenes.Values),
		told: make(map[profiles.Parameter]telling), resting: make(map[profiles.Place]time.Time),
		faults: make(map[string]string), news: newNews()}
	files, err := WatchFiles(ctx, o.Dir, FileOptions{Poll: o.Poll, Trouble: func(err error) { a.trouble("", err) }})
	if err != nil {
		return err
	}
	a.files = files
	defer files.Close()
	if err := a.open(); err != nil {
		return err
	}
	defer a.close()
	a.begin(ctx)
	for ctx.Err() == nil {
		a.next(ctx)
	}
	return nil
}

// open reads what the agent begins with.
func (a *Agent) open() (err error) {
	if a.book, err = scenes.Open(a.o.Dir); err != nil {
		return err
	}
	a.book = a.book.OnShelf()
	if a.o.Venue == "" {
		if a.o.Venue, err = a.book.UsualVenue(); err != nil {
			return err
		}
	}
	if err := a.readVenue(); err != nil {
		return err
	}
	if !a.venue.Desk.Profile.CanAnswer() {
		return fmt.Errorf("a %s can only be told: there is nothing to watch on it", a.venue.Desk.Profile.Name)
	}
	if a.memory, err = a.book.Memory(a.venue); err != nil {
		return err
	}
	a.remembered = a.memory.Written()
	a.agreed, err = a.memory.Agreed()
	return err
}

func (a *Agent) readVenue() error {
	v, err := a.book.Venue(a.o.Venue)
	if err != nil {
		return err
	}
	if a.o.Address != "" {
		if v.Desk.Address, err = v.Desk.Profile.AddressOf(a.o.Address); err != nil {
			return err
		}
	}
	a.venue = v
	return nil
}

func (a *Agent) close() {
	a.line.close()
	a.saveAgreed()
}

// next waits for one thing to happen and deals with it.
func (a *Agent) next(ctx context.Context) {
	wake := time.NewTimer(time.Until(a.due()))
	defer wake.Stop()
	select {
	case <-ctx.Done():
	case files, open := <-a.files.Changes():
		if open {
			a.saved(ctx, files)
		}
	case <-a.news.come:
		a.hear()
	case <-wake.C:
		a.tick(ctx)
	}
}

// due is when something is to be done by the clock.
func (a *Agent) due() time.Time {
	due := a.line.due
	for _, moved := range a.resting {
		if rested := moved.Add(a.o.Times.Rest); rested.Before(due) {
			due = rested
		}
	}
	return due
}

// tick does what is due.
func (a *Agent) tick(ctx context.Context) {
	now := time.Now()
	a.lookAtMemory(ctx)
	if !now.Before(a.line.due) {
		a.look(ctx)
	}
	for place, moved := range maps.Clone(a.resting) {
		if !now.Before(moved.Add(a.o.Times.Rest)) {
			delete(a.resting, place)
			a.settle(ctx, place)
		}
	}
	a.saveAgreed()
}

func (a *Agent) tell(e Event) {
	e.Time = time.Now()
	a.o.Tell(e)
}

func (a *Agent) trouble(position string, err error) {
	a.tell(Event{Kind: Trouble, Position: position, Text: err.Error(), Err: err})
}

// agree notes what file and desk agree on.
func (a *Agent) agree(q profiles.Parameter, v profiles.Value) {
	if a.agreed[q] != v {
		a.agreed[q] = v
		a.unsaved = true
	}
	delete(a.away, q)
	delete(a.told, q)
}

func (a *Agent) saveAgreed() {
	if !a.unsaved {
		return
	}
	a.unsaved = false
	if err := a.memory.SaveAgreed(a.agreed, time.Now()); err != nil {
		a.trouble("", err)
	}
}

// lookAtMemory takes over what another command has done meanwhile: who is where, and what
// it set, which is no hand's.
func (a *Agent) lookAtMemory(ctx context.Context) {
	written := a.memory.Written()
	if written.Equal(a.remembered) {
		return
	}
	memory, err := a.book.Memory(a.venue)
	if err != nil {
		a.trouble("", err)
		return
	}
	a.memory, a.remembered = memory, written
	for q, v := range memory.Held.Values {
		if held := a.held[q]; !held.IsZero() && a.venue.Same(q, v, held) {
			a.agree(q, held)
		}
	}
	a.seat(ctx)
}

// seat resolves the strips of all that are on, and reads what the desk holds at places
// that are new.
func (a *Agent) seat(ctx context.Context) {
	seats := make(map[profiles.Place]*seat)
	var fresh []profiles.Parameter
	for position, performer := range a.memory.On {
		p, err := a.venue.Position(position)
		if performer == "" || err != nil {
			continue
		}
		s := &seat{position: position, performer: performer, scene: a.memory.Scenes[position]}
		old := a.seats[p.Place()]
		if old != nil && old.performer == performer && old.scene == s.scene {
			s.strip = old.strip
		}
		if old == nil {
			fresh = append(fresh, a.venue.Desk.Profile.At(p.Place())...)
		}
		seats[p.Place()] = s
	}
	a.seats = seats
	for place := range a.seats {
		a.resolve(place)
	}
	if len(fresh) > 0 {
		a.read(ctx, fresh)
	}
	for place := range a.seats {
		a.settle(ctx, place)
	}
}

// resolve builds a seat's strip anew. Where the files have faults, the strip stays as it
// was, and they are told.
func (a *Agent) resolve(place profiles.Place) {
	s := a.seats[place]
	scene, err := a.memory.SceneOn(s.position)
	if err != nil {
		a.fault(err)
		return
	}
	cast, err := a.book.CastFor(a.venue, s.position, s.performer, scene)
	if err != nil {
		a.fault(err)
		return
	}
	strip, err := a.venue.Resolve(cast)
	if err != nil {
		a.fault(err)
		return
	}
	s.strip = strip
}
