package recall_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
	"deskhand/testdata"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// setting says how a stage differs from the example book and a desk that behaves.
type setting struct {
	mock mockdesk.Options
	// edits are pairs of old and new text in venues/net-loft.toml and in the profile.
	venue, profile []string
	// udp takes the network of the system rather than a cable in memory.
	udp bool
	// away is how long each packet takes, each way.
	away time.Duration
	// link and at are a link to a mock desk that is there already.
	link osc.Link
	at   *mockdesk.Desk
}

// stage is the example book, a mock desk, and a recaller between them. What happens at
// the desk is written down, in order.
type stage struct {
	*recall.Recaller
	t    testing.TB
	mock *mockdesk.Desk
	link *countedLink // nil over the network of the system

	mu     sync.Mutex
	events []mockdesk.Event
	at     []time.Time // of the events
	kept   []kept      // restarts and mutes, since it was last emptied
	glides []time.Time // when the desk was asked to tell its changes
	onSet  func()      // called at each setting; nil for nothing
	// touched are the parameters that a hand or a restart has ever changed.
	touched map[profiles.Parameter]bool
}

// kept is an event that is not forgotten when it was looked at.
type kept struct {
	what    mockdesk.EventKind
	setting profiles.Setting
	at      time.Time
}

// onStage runs a test on a stage with a clock of its own: no time passes while anybody
// has something to do, so that the figures of time hold on any machine.
func onStage(t *testing.T, with setting, play func(t *testing.T, s *stage)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) { play(t, newStage(t, with)) })
}

func newStage(t testing.TB, with setting) *stage {
	t.Helper()
	dir := newBook(t, with)
	s := &stage{t: t, touched: make(map[profiles.Parameter]bool)}
	book, err := scenes.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	s.Recaller = &recall.Recaller{Book: book}
	if s.Venue, err = book.Venue("net-loft"); err != nil {
		t.Fatal(err)
	}
	if s.Memory, err = book.Memory(s.Venue); err != nil {
		t.Fatal(err)
	}
	with.mock.Watch = s.watch
	link := s.startMock(with)
	if with.udp {
		if s.Desk, err = desk.Open(t.Context(), s.Venue.Desk.Profile, s.mock.Addr(), desk.Options{}); err != nil {
			t.Fatal(err)
		}
	} else {
		if with.away > 0 {
			link = far(link, with.away)
		}
		s.link = &countedLink{Link: link}
		s.Desk = desk.Over(s.link, s.Venue.Desk.Profile, s.mock.Addr(), desk.Options{})
	}
	t.Cleanup(func() { s.Desk.Close() })
	return s
}

// countedLink counts the packets that are sent.
type countedLink struct {
	osc.Link
	sent atomic.Int64
	// first and last are when something but a mute was set, first since that was last made nil.
	first, last atomic.Pointer[time.Time]
}

func (l *countedLink) Send(packet []byte) error {
	l.sent.Add(1)
	if messages, err := osc.Decode(packet); err == nil && len(messages[0].Arguments) > 0 && !strings.HasSuffix(messages[0].Address, "/mute") {
		now := time.Now()
		l.first.CompareAndSwap(nil, &now)
		l.last.Store(&now)
	}
	return l.Link.Send(packet)
}

// startMock starts the mock desk, unless there is one, and gives the link to it.
func (s *stage) startMock(with setting) osc.Link {
	s.t.Helper()
	if with.at != nil {
		s.mock = with.at
		return with.link
	}
	link, socket := mockdesk.Cable()
	switch {
	case with.link != nil:
		link = with.link
	case !with.udp:
		with.mock.Socket = socket
	}
	mock, err := mockdesk.Start(s.Venue.Desk.Profile, with.mock)
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() { mock.Close() })
	s.mock = mock
	return link
}

// newBook copies the example book, with the edits, and gives its folder.
func newBook(t testing.TB, with setting) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, testdata.Book()); err != nil {
		t.Fatal(err)
	}
	shipped, err := profiles.Shipped("quay-24")
	if err != nil {
		t.Fatal(err)
	}
	// As many channels as the venue uses: a whole desk is read in a moment.
	profile := edit(t, string(shipped), append([]string{"channels = 24", "channels = 8", "mixes = 8", "mixes = 3"}, with.profile...))
	write(t, filepath.Join(dir, "profiles", "quay-24.toml"), profile)
	venue := filepath.Join(dir, "venues", "net-loft.toml")
	text, err := os.ReadFile(venue)
	if err != nil {
		t.Fatal(err)
	}
	write(t, venue, edit(t, string(text), with.venue))
	return dir
}

func edit(t testing.TB, text string, pairs []string) string {
	t.Helper()
	for pair := range slices.Chunk(pairs, 2) {
		if !strings.Contains(text, pair[0]) {
			t.Fatalf("the example has no %q any more", pair[0])
		}
		text = strings.Replace(text, pair[0], pair[1], 1)
	}
	return text
}

func write(t testing.TB, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
}

func (s *stage) watch(e mockdesk.Event) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.events, s.at = append(s.events, e), append(s.at, time.Now())
	if e.What == mockdesk.Restarted || e.Setting.Parameter.Name == "mute" {
		s.kept = append(s.kept, kept{e.What, e.Setting, time.Now()})
	}
	switch e.What {
	case mockdesk.HandMove:
		s.touched[e.Setting.Parameter] = true
	case mockdesk.Restarted:
		for _, q := range s.Venue.Desk.Profile.Parameters() {
			s.touched[q] = true
		}
	}
	if e.What == mockdesk.Set && s.onSet != nil {
		s.onSet()
	}
}

// atSet has something done at each setting that the desk takes; nil for nothing.
func (s *stage) atSet(do func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.onSet = do
}

// heard gives what has happened at the desk since it was last asked for.
func (s *stage) heard() []mockdesk.Event {
	s.mu.Lock()
	defer s.mu.Unlock()
	events := s.events
	s.events, s.at = nil, nil
	return events
}

// sets gives the settings among events.
func sets(events []mockdesk.Event) []profiles.Setting {
	var all []profiles.Setting
	for _, e := range events {
		if e.What == mockdesk.Set {
			all = append(all, e.Setting)
		}
	}
	return all
}

// again opens the memory anew, as the next run of the program does.
func (s *stage) again() {
	s.t.Helper()
	memory, err := s.Book.Memory(s.Venue)
	if err != nil {
		s.t.Fatal(err)
	}
	s.Memory = memory
}

// on is the target of a performer on a position.
func (s *stage) on(position, performer string) recall.Target {
	s.t.Helper()
	cast, err := s.Book.CastFor(s.Venue, position, performer, nil)
	if err != nil {
		s.t.Fatal(err)
	}
	r, err := s.Venue.Resolve(cast)
	if err != nil {
		s.t.Fatal(err)
	}
	return recall.ForPosition(r)
}

// opened is the same, to be open, or to be closed.
func opened(t recall.Target, open bool) recall.Target {
	t.Open = &open
	return t
}

// recall prepares and carries out.
func (s *stage) recall(ctx context.Context, targets ...recall.Target) (*recall.Plan, *recall.Result, error) {
	s.t.Helper()
	plan, err := s.Prepare(ctx, targets)
	if err != nil {
		return plan, nil, err
	}
	result, err := s.CarryOut(ctx, plan)
	return plan, result, err
}

// must is recall that has to succeed, as a part of another story.
func (s *stage) must(targets ...recall.Target) *recall.Result {
	s.t.Helper()
	_, result, err := s.recall(s.t.Context(), targets...)
	if err != nil {
		s.t.Fatal(err)
	}
	s.complete(result)
	return result
}

func (s *stage) complete(result *recall.Result) {
	s.t.Helper()
	if !result.Complete() {
		s.t.Fatalf("not confirmed: %v, still muted: %d", result.Unproved, len(result.StillMuted))
	}
}

// undo is what the command of that name does.
func (s *stage) undo(ctx context.Context) (*recall.Result, error) {
	s.t.Helper()
	s.again()
	plan, err := s.PrepareUndo(ctx)
	if errors.Is(err, recall.ErrNoUndo) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return s.CarryOut(ctx, plan)
}

// holds is what the desk holds of a parameter.
func (s *stage) holds(path string) profiles.Value {
	s.t.Helper()
	v, ok := s.mock.Holds(s.parameter(path))
	if !ok {
		s.t.Fatalf("the desk has no %s", path)
	}
	return v
}

// everything is what the desk holds.
func (s *stage) everything() scenes.Values {
	all := make(scenes.Values)
	for _, q := range s.Venue.Desk.Profile.Parameters() {
		all[q], _ = s.mock.Holds(q)
	}
	return all
}

func (s *stage) parameter(path string) profiles.Parameter {
	s.t.Helper()
	q, err := profiles.ParseParameter(path)
	if err != nil {
		s.t.Fatal(err)
	}
	return q
}

// move has a hand move a control.
func (s *stage) move(path string, v profiles.Value) profiles.Value {
	s.t.Helper()
	held, err := s.mock.Move(s.parameter(path), v)
	if err != nil {
		s.t.Fatal(err)
	}
	return held
}

func (s *stage) isOpen(channel string) bool {
	s.t.Helper()
	muted, _ := s.holds(channel + ".mute").On()
	return !muted
}
