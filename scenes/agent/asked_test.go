package agent_test

import (
	"net"
	"strings"
	"testing"
	"time"

	"deskhand/osc"
	"deskhand/scenes/agent"
)

// sender is a tablet on the loopback.
type sender struct {
	t    *testing.T
	link net.Conn
}

func (s *stage) sender(t *testing.T, address string) sender {
	t.Helper()
	link, err := net.Dial("udp", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { link.Close() })
	return sender{t, link}
}

func (s sender) ask(address string, arguments ...any) {
	s.t.Helper()
	packet, err := osc.Message{Address: address, Arguments: arguments}.Encode()
	if err == nil {
		_, err = s.link.Write(packet)
	}
	if err != nil {
		s.t.Fatal(err)
	}
}

// answer waits for the next answer that is no mere receipt.
func (s sender) answer() osc.Message {
	s.t.Helper()
	buffer := make([]byte, 65536)
	for {
		_ = s.link.SetReadDeadline(time.Now().Add(patience))
		n, err := s.link.Read(buffer)
		if err != nil {
			s.t.Fatal("no answer: ", err)
		}
		heard, err := osc.Decode(buffer[:n])
		if err != nil {
			s.t.Fatal(err)
		}
		if m := heard[0].Message; m.Address != "/deskhand/taken" {
			return m
		}
	}
}

func (s *stage) remote(t *testing.T, o agent.Options) sender {
	t.Helper()
	s.save("book.toml", s.read("book.toml")+"\n[remote]\nfrom = [\"127.0.0.1\"]\n")
	o.Remote = "127.0.0.1:0"
	s.launch(o)
	address := s.expect(agent.Remoted).Text
	s.expect(agent.Began)
	s.sent()
	return s.sender(t, address)
}

func TestWhatIsAskedForOverTheNetworkIsDoneAndProved(t *testing.T) {
	s := newStage(t)
	tablet := s.remote(t, agent.Options{})
	tablet.ask("/deskhand/swap", "a1", "lectern", "poet")
	s.until(agent.Recalled)
	if m := tablet.answer(); m.Address != "/deskhand/done" {
		t.Fatalf("%s %v", m.Address, m.Arguments)
	}
	s.mustHold("channel.3.label", "Poet")

	tablet.ask("/deskhand/undo", "a2")
	if m := tablet.answer(); m.Address != "/deskhand/done" {
		t.Fatalf("%s %v", m.Address, m.Arguments)
	}
	s.mustHold("channel.3.label", "Botanist")

	tablet.ask("/deskhand/scene", "a3", "opening")
	if m := tablet.answer(); m.Address != "/deskhand/done" {
		t.Fatalf("%s %v", m.Address, m.Arguments)
	}
	s.mustHold("channel.5.label", "Pilot")
}

func TestWhatCanNotBeDoneIsAnswered(t *testing.T) {
	s := newStage(t)
	tablet := s.remote(t, agent.Options{})
	for i, c := range []struct {
		address string
		words   []any
		code    string
	}{
		{"/deskhand/swap", []any{"lectern", "poett"}, "book"},
		{"/deskhand/swap", []any{"lectrn", "poet"}, "book"},
		{"/deskhand/scene", []any{"openin"}, "book"},
		{"/deskhand/next", nil, "book"},
		{"/deskhand/swap", []any{"lectern"}, "wrong"},
	} {
		s.sent()
		tablet.ask(c.address, append([]any{int32(i)}, c.words...)...)
		m := tablet.answer()
		if m.Address != "/deskhand/failed" || len(m.Arguments) < 3 || m.Arguments[1] != c.code {
			t.Errorf("%s %v: %s %v, not %s", c.address, c.words, m.Address, m.Arguments, c.code)
		}
		s.mustSend()
	}
}

// It could not begin, and nobody was told that it has.
func TestARemoteControlThatNobodyMayUseIsAnErrorAtFirst(t *testing.T) {
	s := newStage(t)
	err := agent.Run(t.Context(), agent.Options{Dir: s.dir, Address: s.mock.Addr(), Remote: "127.0.0.1:0",
		Tell: func(e agent.Event) { t.Errorf("told: %s", e.Kind) }})
	if err == nil || !strings.Contains(err.Error(), "the book lists nobody who may ask") {
		t.Error(err)
	}
}

// While it is told to hold, nothing goes to the desk or into a file by itself; after that
// everything does.
func TestOnHoldNothingIsDoneUnasked(t *testing.T) {
	s := newStage(t)
	tablet := s.remote(t, agent.Options{ToDesk: true})
	tablet.ask("/deskhand/hold", "h1", true)
	tablet.answer()
	s.edit(botanist, "fader = -6.0", "fader = -4.0")
	tablet.ask("/deskhand/swap", "h2", "table-left", "pilot") // what is asked for is done
	s.until(agent.Recalled)
	tablet.answer()
	s.mustHold("channel.3.fader", -6.0)
	tablet.ask("/deskhand/hold", "h3", false)
	s.confirmed("channel.3.fader -6 -> -4")
}
