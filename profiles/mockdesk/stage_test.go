package mockdesk_test

import (
	"errors"
	"net"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// patience is how long a test waits for what must come, before it fails.
const patience = 10 * time.Second

// quay gives the shipped profile with two channels, two mixes and two bands, so that a
// test reads the whole desk in a moment.
func quay(t *testing.T) *profiles.Profile {
	t.Helper()
	text, err := profiles.Shipped("quay-24")
	if err != nil {
		t.Fatal(err)
	}
	small := strings.NewReplacer("channels = 24", "channels = 2", "mixes = 8", "mixes = 2", "bands = 4", "bands = 2").Replace(string(text))
	p, err := profiles.Load("quay-24.toml", []byte(small))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// stage is a desk, what happens at it, and one who talks to it.
type stage struct {
	t       *testing.T
	profile *profiles.Profile
	desk    *mockdesk.Desk
	events  chan mockdesk.Event
	*peer
}

// newStage switches on a desk that is switched off after the test.
func newStage(t *testing.T, o mockdesk.Options) *stage {
	t.Helper()
	s := &stage{t: t, profile: quay(t), events: make(chan mockdesk.Event, 100_000)}
	o.Watch = func(e mockdesk.Event) { s.events <- e }
	desk, err := mockdesk.Start(s.profile, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := desk.Close(); err != nil {
			t.Error(err)
		}
	})
	s.desk = desk
	s.peer = s.newPeer()
	return s
}

// await waits for the next event of one kind, passing over others.
func (s *stage) await(what mockdesk.EventKind) mockdesk.Event {
	s.t.Helper()
	timeout := time.After(patience)
	for {
		select {
		case e := <-s.events:
			if e.What == what {
				return e
			}
		case <-timeout:
			s.t.Fatalf("event %d has not come", what)
		}
	}
}

// until waits for what the counts must come to.
func (s *stage) until(reached func(mockdesk.Counts) bool) {
	s.t.Helper()
	for end := time.Now().Add(patience); !reached(s.desk.Counts()); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			s.t.Fatalf("the desk has only counted %+v", s.desk.Counts())
		}
	}
}

func (s *stage) parameter(path string) profiles.Parameter {
	s.t.Helper()
	q, err := profiles.ParseParameter(path)
	if err != nil {
		s.t.Fatal(err)
	}
	return q
}

// mustHold sees to it that the desk holds a value.
func (s *stage) mustHold(path string, want profiles.Value) {
	s.t.Helper()
	if got, ok := s.desk.Holds(s.parameter(path)); !ok || got != want {
		s.t.Errorf("%s holds %v, %v, not %v", path, got, ok, want)
	}
}

// peer is one socket that talks to the desk.
type peer struct {
	s    *stage
	conn net.Conn
}

func (s *stage) newPeer() *peer {
	s.t.Helper()
	conn, err := net.Dial("udp", s.desk.Addr())
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() { conn.Close() })
	return &peer{s, conn}
}

func (p *peer) sendRaw(packet []byte) {
	p.s.t.Helper()
	if _, err := p.conn.Write(packet); err != nil {
		p.s.t.Fatal(err)
	}
}

func (p *peer) send(address string, arguments ...any) {
	p.s.t.Helper()
	packet, err := osc.Message{Address: address, Arguments: arguments}.Encode()
	if err != nil {
		p.s.t.Fatal(err)
	}
	p.sendRaw(packet)
}

// tell gives the messages that set values, and what the desk will hold.
func tell(p *profiles.Profile, settings []profiles.Setting) ([]osc.Message, []profiles.Setting, error) {
	tellings, err := p.Tell(settings, nil)
	var messages []osc.Message
	var held []profiles.Setting
	for _, t := range tellings {
		messages, held = append(messages, t.Message), append(held, t.Settings...)
	}
	return messages, held, err
}

// tell sets a value as a program does.
func (p *peer) tell(path string, v profiles.Value) {
	p.s.t.Helper()
	messages, _, err := tell(p.s.profile, []profiles.Setting{{Parameter: p.s.parameter(path), Value: v}})
	if err != nil {
		p.s.t.Fatal(err)
	}
	p.send(messages[0].Address, messages[0].Arguments...)
}

// receive waits for the next packet from the desk.
func (p *peer) receive() osc.Heard {
	p.s.t.Helper()
	_ = p.conn.SetReadDeadline(time.Now().Add(patience))
	buffer := make([]byte, osc.MaxPacket)
	n, err := p.conn.Read(buffer)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		p.s.t.Fatal("the desk has sent nothing")
	}
	if err != nil {
		p.s.t.Fatal(err)
	}
	heard, err := osc.Decode(buffer[:n])
	if err != nil || len(heard) != 1 {
		p.s.t.Fatalf("the desk sent %v, %v", heard, err)
	}
	return heard[0]
}

// mustHear sees to it that the next packet from the desk reports a value.
func (p *peer) mustHear(path string, want profiles.Value) {
	p.s.t.Helper()
	m := p.receive()
	heard := p.s.profile.Hear(m)
	if len(heard) != 1 || heard[0].Key.String() != path || heard[0].Value != want {
		p.s.t.Errorf("heard %s %v as %v, not %s %v", m.Address, m.Arguments, heard, path, want)
	}
}

// mustHearNothingYet sees to it that the desk has sent this peer nothing so far: the
// answer to a question, which comes last, comes first.
func (p *peer) mustHearNothingYet() {
	p.s.t.Helper()
	p.send("/quay/model")
	if m := p.receive(); m.Address != "/quay/model" {
		p.s.t.Errorf("the desk has sent %s %v", m.Address, m.Arguments)
	}
}

// follow asks to be told of changes, and waits until the desk has heard it.
func (p *peer) follow() {
	p.s.t.Helper()
	p.send("/quay/keep-telling")
	p.s.await(mockdesk.FollowRequest)
}

// clock is a clock that a test turns on by hand.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func newClock() *clock { return &clock{now: time.Date(2026, 1, 17, 19, 30, 0, 0, time.UTC)} }

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) turn(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}
