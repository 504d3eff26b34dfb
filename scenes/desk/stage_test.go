package desk_test

import (
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/desk"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// setting says how a stage differs from the shipped profile and a desk that behaves.
type setting struct {
	mock    mockdesk.Options
	profile []string // pairs of old and new text
}

// stage is a mock desk and a desk connected to it by a cable, on a clock of its own.
type stage struct {
	*desk.Desk
	t       *testing.T
	profile *profiles.Profile
	mock    *mockdesk.Desk
	cable   *cable

	mu     sync.Mutex
	events []mockdesk.Event
	at     []time.Time // of the events
	news   []profiles.Setting
}

func onStage(t *testing.T, with setting, play func(t *testing.T, s *stage)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) { play(t, newStage(t, with)) })
}

// newStage belongs into a bubble of synctest.
func newStage(t *testing.T, with setting) *stage {
	t.Helper()
	s := &stage{t: t, profile: loadProfile(t, with.profile)}
	link, socket := mockdesk.Cable()
	with.mock.Socket, with.mock.Watch = socket, s.watch
	var err error
	if s.mock, err = mockdesk.Start(s.profile, with.mock); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.mock.Close() })
	s.cable = &cable{Link: link}
	s.Desk = desk.Over(s.cable, s.profile, "quay", desk.Options{News: s.hear})
	t.Cleanup(func() { s.Close() })
	return s
}

func loadProfile(t *testing.T, edits []string) *profiles.Profile {
	t.Helper()
	text, err := profiles.Shipped("quay-24")
	if err != nil {
		t.Fatal(err)
	}
	small := strings.NewReplacer(append(slices.Clone(edits), "channels = 24", "channels = 2", "mixes = 8", "mixes = 1")...).Replace(string(text))
	p, err := profiles.Load("quay-24.toml", []byte(small))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func (s *stage) watch(e mockdesk.Event) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.events, s.at = append(s.events, e), append(s.at, time.Now())
}

func (s *stage) hear(n profiles.Setting) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.news = append(s.news, n)
}

// heard gives what has happened at the desk until nothing moves any more.
func (s *stage) heard() []mockdesk.Event {
	synctest.Wait()
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]mockdesk.Event(nil), s.events...)
}

func parameter(t *testing.T, path string) profiles.Parameter {
	t.Helper()
	q, err := profiles.ParseParameter(path)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

func (s *stage) set(path string, v profiles.Value) profiles.Setting {
	s.t.Helper()
	return profiles.Setting{Parameter: parameter(s.t, path), Value: v}
}

// write writes, which has to succeed.
func (s *stage) write(settings ...profiles.Setting) []desk.Hoped {
	s.t.Helper()
	hoped, err := s.Write(s.t.Context(), settings, nil)
	if err != nil {
		s.t.Fatal(err)
	}
	return hoped
}

// cable lets a test delay, double and drop what goes to the desk.
type cable struct {
	osc.Link
	// fates gives the delays of the copies of a packet; nil is one copy at once.
	fates func(packet []byte) []time.Duration
	late  sync.WaitGroup
}

func (c *cable) Send(packet []byte) error {
	if c.fates == nil {
		return c.Link.Send(packet)
	}
	for _, delay := range c.fates(packet) {
		if delay == 0 {
			if err := c.Link.Send(packet); err != nil {
				return err
			}
			continue
		}
		c.late.Go(func() {
			time.Sleep(delay)
			_ = c.Link.Send(packet) // the desk may be off by then
		})
	}
	return nil
}

func (c *cable) Close() error {
	c.late.Wait()
	return c.Link.Close()
}

// isQuestion tells a question from a setting.
func isQuestion(packet []byte) bool {
	heard, err := osc.Decode(packet)
	return err == nil && len(heard) == 1 && len(heard[0].Arguments) == 0
}
