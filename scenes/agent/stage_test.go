package agent_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/agent"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
	"deskhand/testdata"
)

// quick are times at which nobody has to wait, with room for a slow machine to answer.
var quick = agent.Times{Rest: 80 * time.Millisecond, Look: 30 * time.Millisecond, Answer: time.Second, Again: 30 * time.Millisecond}

// patience is how long a test waits for what must come.
const patience = 20 * time.Second

// stage is the example book in a folder, a mock desk on the loopback with the botanist on
// the lectern, and the agent between them once it runs.
type stage struct {
	t     testing.TB
	dir   string
	mock  *mockdesk.Desk
	venue *scenes.Venue
	times agent.Times

	// clock is the agent's where it isn't nil.
	clock   *wallClock
	agent   *agent.Agent
	events  chan agent.Event
	changed chan struct{} // has one in it when there is another view
	stop    func()

	// asks are when the desk was asked something; nil for nobody wants to know.
	asks chan time.Time

	mu    sync.Mutex
	asked map[profiles.Parameter]int // how often for each
	sets  []profiles.Setting
	onSet func(profiles.Setting)
}

// newStage sets it up. The edits are pairs of old and new text in the desk's profile.
func newStage(t testing.TB, edits ...string) *stage {
	t.Helper()
	s := &stage{t: t, dir: t.TempDir(), times: quick, asked: make(map[profiles.Parameter]int)}
	if err := os.CopyFS(s.dir, testdata.Book()); err != nil {
		t.Fatal(err)
	}
	shipped, err := profiles.Shipped("quay-24")
	if err != nil {
		t.Fatal(err)
	}
	profile := string(shipped)
	for pair := range slices.Chunk(append([]string{
		"channels = 24", "channels = 8", "mixes = 8", "mixes = 3", "pace = 400 ", "pace = 20000 ", "burst = 16 ", "burst = 256 ",
		`linger = "100ms"`, `linger = "10ms"`, `settle = "400ms"`, `settle = "10ms"`, `lapses = "8s"`, `lapses = "3s"`,
	}, edits...), 2) {
		profile = replaced(t, profile, pair[0], pair[1])
	}
	s.write("profiles/quay-24.toml", profile)
	s.venue = s.readVenue()
	s.startDesk(mockdesk.Options{})
	s.swap("lectern", "botanist")
	return s
}

func (s *stage) startDesk(o mockdesk.Options) {
	s.t.Helper()
	o.Watch = s.watch
	var err error
	if s.mock, err = mockdesk.Start(s.venue.Desk.Profile, o); err != nil {
		s.t.Fatal(err)
	}
	mock := s.mock
	s.t.Cleanup(func() { mock.Close() })
}

func (s *stage) watch(e mockdesk.Event) {
	if e.What == mockdesk.Asked && s.asks != nil {
		select {
		case s.asks <- time.Now():
		default:
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if e.What == mockdesk.Asked {
		s.asked[e.Setting.Parameter]++
	}
	if e.What != mockdesk.Set {
		return
	}
	s.sets = append(s.sets, e.Setting)
	if s.onSet != nil {
		s.onSet(e.Setting)
	}
}

// timesAsked is how often the desk was asked for a parameter.
func (s *stage) timesAsked(path string) int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.asked[parameter(s.t, path)]
}

// atSet has something done at each setting that the desk takes, in a moment that no
// setting can be taken in.
func (s *stage) atSet(do func(profiles.Setting)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.onSet = do
}

// sent gives what the desk was sent since it was last asked for, by name, the mutes left
// out.
func (s *stage) sent() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var names []string
	for _, set := range s.sets {
		if name := set.Parameter.String(); set.Parameter.Name != "mute" && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	s.sets = nil
	slices.Sort(names)
	return names
}

// mustSend holds what was sent against names.
func (s *stage) mustSend(names ...string) {
	s.t.Helper()
	if got := s.sent(); !slices.Equal(got, names) {
		s.t.Fatalf("the desk was sent %v, not %v", got, names)
	}
}

func (s *stage) readBook() *scenes.Book {
	s.t.Helper()
	book, err := scenes.Open(s.dir)
	if err != nil {
		s.t.Fatal(err)
	}
	return book
}

func (s *stage) readVenue() *scenes.Venue {
	s.t.Helper()
	v, err := s.readBook().Venue("net-loft")
	if err != nil {
		s.t.Fatal(err)
	}
	return v
}

// run starts the agent, and waits until it watches.
func (s *stage) run(o agent.Options) {
	s.t.Helper()
	s.launch(o)
	s.expect(agent.Began)
	s.sent()
}

// launch starts the agent.
func (s *stage) launch(o agent.Options) {
	s.t.Helper()
	ctx, cancel := context.WithCancel(s.t.Context())
	events := make(chan agent.Event, 10000)
	o.Dir, o.Address, o.Times = s.dir, s.mock.Addr(), s.times
	if s.clock != nil {
		o.Clock = s.clock.now
	}
	o.Tell = func(e agent.Event) { events <- e }
	changed := make(chan struct{}, 1)
	o.Changed = func() {
		select {
		case changed <- struct{}{}:
		default:
		}
	}
	a := agent.New(o)
	ended := make(chan error, 1)
	go func() {
		ended <- a.Run(ctx)
		close(events)
	}()
	s.agent, s.events, s.changed = a, events, changed
	s.stop = sync.OnceFunc(func() {
		cancel()
		if err := <-ended; err != nil {
			s.t.Errorf("the agent ended with %v", err)
		}
	})
	s.t.Cleanup(s.stop)
}

// next waits for the next event.
func (s *stage) next() agent.Event {
	s.t.Helper()
	select {
	case e, more := <-s.events:
		if !more {
			s.t.Fatal("the agent ended")
		}
		return e
	case <-time.After(patience):
		s.t.Fatal("nothing happens")
	}
	return agent.Event{}
}

// expect waits for the next event, which has to be of a kind and about some changes:
// "channel.3.fader -6 -> -4".
func (s *stage) expect(kind agent.Kind, changes ...string) agent.Event {
	s.t.Helper()
	e := s.next()
	if got := sayChanges(e); e.Kind != kind || len(changes) > 0 && !slices.Equal(got, changes) {
		s.t.Fatalf("what happened is %s, not %s of %q", sayEvent(e), kind, changes)
	}
	return e
}

// confirmed is expect for a recall of which all is confirmed.
func (s *stage) confirmed(changes ...string) agent.Event {
	s.t.Helper()
	e := s.expect(agent.Recalled, changes...)
	if e.Err != nil || e.Result == nil || !e.Result.Complete() {
		s.t.Fatalf("not confirmed: %s", sayEvent(e))
	}
	return e
}

// until waits for an event of a kind, whatever comes before it.
func (s *stage) until(kind agent.Kind) agent.Event {
	s.t.Helper()
	for {
		if e := s.next(); e.Kind == kind {
			return e
		}
	}
}

// view waits for a view of which something is true.
func (s *stage) view(what string, is func(*agent.View) bool) *agent.View {
	s.t.Helper()
	late := time.After(patience)
	for {
		if v := s.agent.View(); is(v) {
			return v
		}
		select {
		case <-s.changed:
		case <-late:
			s.t.Fatalf("it never came to it that %s", what)
		}
	}
}

// ask asks for something that must be done and confirmed.
func (s *stage) ask(ask agent.Ask) agent.Event {
	s.t.Helper()
	e := s.agent.Ask(s.t.Context(), ask)
	if e.Err != nil || e.Result == nil || !e.Result.Complete() {
		s.t.Fatalf("%s: not done and confirmed: %s", ask, sayEvent(e))
	}
	return e
}

// refused asks for something that must not be done, and gives why.
func (s *stage) refused(ask agent.Ask) error {
	s.t.Helper()
	s.sent()
	e := s.agent.Ask(s.t.Context(), ask)
	if e.Err == nil || e.Result != nil {
		s.t.Fatalf("%s was done: %s", ask, sayEvent(e))
	}
	s.mustSend()
	return e.Err
}

func sayEvent(e agent.Event) string {
	return fmt.Sprintf("%s at %q: %q %s %v %v", e.Kind, e.Position, sayChanges(e), e.Text, e.Faults, e.Err)
}

// sayChanges says what an event is about, from its changes, its plan or what was kept.
func sayChanges(e agent.Event) []string {
	changes := e.Changes
	if e.Plan != nil {
		changes = append(changes, e.Plan.Changes()...)
	}
	for _, k := range e.Kept {
		changes = append(changes, scenes.Change{Parameter: k.Parameter, From: k.From, To: k.To})
	}
	var words []string
	for _, c := range changes {
		words = append(words, fmt.Sprintf("%s %v -> %v", c.Parameter, c.From.Any(), c.To.Any()))
	}
	return words
}

// again stops the agent and starts it anew.
func (s *stage) again(o agent.Options) {
	s.t.Helper()
	s.stop()
	s.run(o)
}

func (s *stage) path(file string) string { return filepath.Join(s.dir, filepath.FromSlash(file)) }

func (s *stage) read(file string) string {
	s.t.Helper()
	text, err := os.ReadFile(s.path(file))
	if err != nil {
		s.t.Fatal(err)
	}
	return string(text)
}

// write writes a file in place.
func (s *stage) write(file, text string) {
	s.t.Helper()
	if err := os.MkdirAll(filepath.Dir(s.path(file)), 0o777); err != nil {
		s.t.Fatal(err)
	}
	if err := os.WriteFile(s.path(file), []byte(text), 0o666); err != nil {
		s.t.Fatal(err)
	}
}

// save writes a file as most editors do: whole or not at all.
func (s *stage) save(file, text string) {
	s.t.Helper()
	s.write(file+"~", text)
	if err := os.Rename(s.path(file+"~"), s.path(file)); err != nil {
		s.t.Fatal(err)
	}
}

// edit saves a file with a change.
func (s *stage) edit(file, old, text string) {
	s.t.Helper()
	s.save(file, replaced(s.t, s.read(file), old, text))
}

func replaced(t testing.TB, text, old, by string) string {
	t.Helper()
	if !strings.Contains(text, old) {
		t.Fatalf("there is no %q", old)
	}
	return strings.Replace(text, old, by, 1)
}

func parameter(t testing.TB, path string) profiles.Parameter {
	t.Helper()
	q, err := profiles.ParseParameter(path)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

// hand moves a control.
func (s *stage) hand(path string, v profiles.Value) {
	s.t.Helper()
	if _, err := s.mock.Move(parameter(s.t, path), v); err != nil {
		s.t.Fatal(err)
	}
}

// holds is what the desk holds, as a number, a switch or a word.
func (s *stage) holds(path string) any {
	v, _ := s.mock.Holds(parameter(s.t, path))
	return v.Any()
}

func (s *stage) mustHold(path string, want any) {
	s.t.Helper()
	if got := s.holds(path); got != want {
		s.t.Fatalf("%s is %v, not %v", path, got, want)
	}
}

// another is a recaller as another command has it, and a function that ends it.
func (s *stage) another() (*recall.Recaller, func()) {
	s.t.Helper()
	r := &recall.Recaller{Book: s.readBook(), Venue: s.readVenue()}
	r.Hand = func(context.Context, []scenes.Change) (bool, error) { return true, nil }
	var err error
	if r.Memory, err = r.Book.Memory(r.Venue); err != nil {
		s.t.Fatal(err)
	}
	if r.Desk, err = desk.Open(s.t.Context(), r.Venue.Desk.Profile, s.mock.Addr(), desk.Options{}); err != nil {
		s.t.Fatal(err)
	}
	return r, func() { r.Desk.Close() }
}

// swap is the command of that name.
func (s *stage) swap(position, performer string) {
	s.t.Helper()
	r, end := s.another()
	defer end()
	cast, err := r.Book.CastFor(r.Venue, position, performer, nil)
	if err != nil {
		s.t.Fatal(err)
	}
	strip, err := r.Venue.Resolve(cast)
	if err != nil {
		s.t.Fatal(err)
	}
	s.carryOut(r, recall.ForPosition(strip))
}

func (s *stage) carryOut(r *recall.Recaller, targets ...recall.Target) {
	s.t.Helper()
	plan, err := r.Prepare(s.t.Context(), targets)
	if err != nil {
		s.t.Fatal(err)
	}
	result, err := r.CarryOut(s.t.Context(), plan)
	if err != nil {
		s.t.Fatal(err)
	}
	unproved := slices.DeleteFunc(result.Unproved, func(u recall.Unproved) bool { return !r.Venue.Desk.Profile.Askable(u.Parameter) })
	if len(unproved)+len(result.StillMuted)+len(result.NotDone) > 0 {
		s.t.Fatal("not confirmed: ", unproved)
	}
}

// undo is the command of that name.
func (s *stage) undo() {
	s.t.Helper()
	r, end := s.another()
	defer end()
	plan, err := r.PrepareUndo(s.t.Context())
	if err != nil {
		s.t.Fatal("nothing to undo: ", err)
	}
	if result, err := r.CarryOut(s.t.Context(), plan); err != nil || !result.Complete() {
		s.t.Fatal("not confirmed: ", err)
	}
}

const (
	botanist = "performers/botanist.toml"
	pilot    = "performers/pilot.toml"
	loft     = "venues/net-loft.toml"
)

func number(n float64) profiles.Value { return profiles.Number(n) }

// send is the command of that name, of a scene.
func (s *stage) send(name string) {
	s.t.Helper()
	r, end := s.another()
	defer end()
	scene, err := r.Book.Scene(name)
	if err != nil {
		s.t.Fatal(err)
	}
	_, strips, err := r.Book.ResolveScene(scene)
	if err != nil {
		s.t.Fatal(err)
	}
	var targets []recall.Target
	for _, strip := range strips {
		targets = append(targets, recall.ForPosition(strip))
	}
	s.carryOut(r, targets...)
}
