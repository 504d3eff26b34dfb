package mockdesk_test

import (
	"context"
	"errors"
	"fmt"
	"net"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
)

// few gives a shipped profile with two channels and two mixes, so that a test reads the
// whole desk in a moment. Answers to a fixed port go to that one.
func few(t *testing.T, name string, port int) *profiles.Profile {
	t.Helper()
	text, err := profiles.Shipped(name)
	if err != nil {
		t.Fatal(err)
	}
	small := regexp.MustCompile(`(?m)^(channels|mixes) = \d+$`).ReplaceAllString(string(text), "$1 = 2")
	small = strings.NewReplacer("upto = 40", "upto = 1", `["A", "B", "C", "D"]`, `["A", "B"]`, "port = 47113", fmt.Sprintf("port = %d", port)).Replace(small)
	p, err := profiles.Load(name+".toml", []byte(small))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// start switches on a desk that is switched off after the test.
func start(t *testing.T, p *profiles.Profile, o mockdesk.Options) *mockdesk.Desk {
	t.Helper()
	desk, err := mockdesk.Start(p, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := desk.Close(); err != nil {
			t.Error(err)
		}
	})
	return desk
}

// freePort gives a port of the loopback that nobody listens on.
func freePort(t *testing.T) int {
	t.Helper()
	socket, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	defer socket.Close()
	return socket.LocalAddr().(*net.UDPAddr).Port
}

// dial opens the link that the profile names, with its greeting.
func dial(t *testing.T, p *profiles.Profile, desk *mockdesk.Desk) osc.Link {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	var link osc.Link
	var err error
	switch p.Link.Over {
	case profiles.OverUDP:
		o := osc.UDPOptions{}
		if p.Link.AnswerPort != 0 {
			o.Local = fmt.Sprintf("127.0.0.1:%d", p.Link.AnswerPort)
		}
		link, err = osc.DialUDP(ctx, desk.Addr(), o)
	default:
		o := osc.TCPOptions{Framing: osc.Sized}
		if p.Link.Over == profiles.OverSlip {
			o.Framing = osc.Slip
		}
		if p.Link.Greeting.Address != "" {
			o.Greeting = []osc.Message{p.Link.Greeting}
		}
		link, err = osc.DialTCP(ctx, desk.Addr(), o)
	}
	if err != nil {
		t.Fatal(err)
	}
	return link
}

// A program that sets everything that OSC reaches, and then asks, hears what it has set.
func TestEveryShippedDeskIsSetAndReadBackOverItsOwnLink(t *testing.T) {
	for _, name := range profiles.ShippedNames() {
		t.Run(name, func(t *testing.T) {
			p := few(t, name, freePort(t))
			desk := start(t, p, mockdesk.Options{})
			ctx, cancel := context.WithTimeout(t.Context(), patience)
			defer cancel()
			talk := osc.Converse(dial(t, p, desk), osc.Manner{Pace: 20_000, Burst: 20}, p.Hear, nil)
			defer talk.Close()

			settings := everything(p)
			tellings, err := p.Tell(settings, desk.Holds)
			if err != nil {
				t.Fatal(err)
			}
			var messages []osc.Message
			for _, telling := range tellings {
				messages = append(messages, telling.Message)
			}
			if err := talk.Tell(ctx, messages...); err != nil {
				t.Fatal(err)
			}
			for desk.Counts().Settings < len(settings) {
				if err := ctx.Err(); err != nil {
					t.Fatalf("%v: of %d settings in %d messages the desk counts %+v", err, len(settings), len(messages), desk.Counts())
				}
				time.Sleep(time.Millisecond)
			}
			for _, s := range settings {
				if got, _ := desk.Holds(s.Parameter); got != s.Value {
					t.Errorf("%s was set to %v and holds %v", s.Parameter, s.Value, got)
				}
			}
			answers, err := talk.Ask(ctx, p.Ask(p.Parameters()), nil)
			if err != nil {
				t.Fatal(err)
			}
			for _, s := range settings {
				if got, ok := answers[s.Parameter]; ok != p.Askable(s.Parameter) || ok && got != s.Value {
					t.Errorf("%s was set to %v and answers %v, %v", s.Parameter, s.Value, got, ok)
				}
			}
			if who := p.AskWho(); len(who.Keys) > 0 {
				said, err := talk.Ask(ctx, []osc.Question[profiles.Parameter]{who}, nil)
				if err != nil || said[profiles.Who] != profiles.Word(name) {
					t.Errorf("it is %v, %v", said, err)
				}
			}
			if c := desk.Counts(); c.Unplaced+c.Malformed+c.Overrun+c.Ungreeted != 0 {
				t.Errorf("the desk has counted %+v", c)
			}
		})
	}
}

// everything gives a setting of each parameter that OSC reaches.
func everything(p *profiles.Profile) []profiles.Setting {
	var settings []profiles.Setting
	for i, q := range p.Parameters() {
		control, _ := p.Control(q)
		if reach := control.Reach(); reach == profiles.ByHand || reach == profiles.Fixed {
			continue
		}
		v := profiles.Word("bell")
		if steps := control.Curve.Steps(); steps > 0 {
			v = control.Curve.At((i * 7) % steps)
		}
		settings = append(settings, profiles.Setting{Parameter: q, Value: v})
	}
	return settings
}

// wire is one connection to a desk over TCP.
type wire struct {
	t       *testing.T
	conn    net.Conn
	framing osc.Framing
	frames  *osc.FrameReader
}

func connect(t *testing.T, desk *mockdesk.Desk, framing osc.Framing) *wire {
	t.Helper()
	conn, err := net.Dial("tcp", desk.Addr())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	_ = conn.SetDeadline(time.Now().Add(patience))
	return &wire{t, conn, framing, osc.NewFrameReader(conn, framing)}
}

func (w *wire) frame(address string, arguments ...any) []byte {
	w.t.Helper()
	packet, err := osc.Message{Address: address, Arguments: arguments}.Encode()
	if err != nil {
		w.t.Fatal(err)
	}
	return osc.AppendFrame(nil, packet, w.framing)
}

func (w *wire) send(bytes ...[]byte) {
	w.t.Helper()
	if _, err := w.conn.Write(slices.Concat(bytes...)); err != nil {
		w.t.Fatal(err)
	}
}

// receive gives the messages of the next packet, or the error that ended the stream.
func (w *wire) receive() ([]osc.Heard, error) {
	w.t.Helper()
	buffer := make([]byte, osc.MaxPacket)
	n, err := w.frames.Next(buffer)
	if err != nil {
		return nil, err
	}
	return osc.Decode(buffer[:n])
}

// mustHear sees to it that the next packet holds one message at an address.
func (w *wire) mustHear(address string) {
	w.t.Helper()
	got, err := w.receive()
	if err != nil || len(got) != 1 || got[0].Address != address {
		w.t.Fatalf("the desk sent %v, %v, not %s", got, err, address)
	}
}

// mustEnd sees to it that the desk has hung up.
func (w *wire) mustEnd() {
	w.t.Helper()
	got, err := w.receive()
	var timeout net.Error
	if err == nil || errors.As(err, &timeout) && timeout.Timeout() {
		w.t.Fatalf("the desk has not hung up: %v, %v", got, err)
	}
}

func TestAPacketMayComeInPiecesAndSeveralInOne(t *testing.T) {
	desk := start(t, few(t, "barge-48", 0), mockdesk.Options{})
	w := connect(t, desk, osc.Sized)
	question := w.frame("/barge/model")
	for _, b := range question {
		w.send([]byte{b})
	}
	w.mustHear("/barge/model/is")
	w.send(question, question, question[:7])
	w.mustHear("/barge/model/is")
	w.mustHear("/barge/model/is")
	w.send(question[7:])
	w.mustHear("/barge/model/is")
}

func TestADeskHangsUpOnWhatIsNotFramed(t *testing.T) {
	for name, bytes := range map[string][]byte{
		"a packet too large":    {0x7f, 0xff, 0xff, 0xff},
		"a size below nothing":  {0xff, 0xff, 0xff, 0xff},
		"a size of no packet":   {0, 0, 0, 3, 1, 2, 3},
		"a stream of the other": {0xc0, '/', 'a', 0, 0, 0xc0},
	} {
		t.Run(name, func(t *testing.T) {
			desk := start(t, few(t, "barge-48", 0), mockdesk.Options{})
			w, other := connect(t, desk, osc.Sized), connect(t, desk, osc.Sized)
			w.send(bytes)
			w.mustEnd()
			other.send(other.frame("/barge/model"))
			other.mustHear("/barge/model/is") // nobody else is hung up on
		})
	}
}

func TestADeskThatIsSwitchedOffHangsUp(t *testing.T) {
	desk, err := mockdesk.Start(few(t, "punt-16", 0), mockdesk.Options{})
	if err != nil {
		t.Fatal(err)
	}
	w := connect(t, desk, osc.Slip)
	w.send(w.frame("/punt/good-morning"), w.frame("/punt/who"))
	w.mustHear("/punt/who")
	for range 2 {
		if err := desk.Close(); err != nil {
			t.Error(err)
		}
	}
	w.mustEnd()
}

func TestADeskWithAGreetingHearsNobodyWhoHasNotGreetedIt(t *testing.T) {
	desk := start(t, few(t, "punt-16", 0), mockdesk.Options{})
	rude, polite := connect(t, desk, osc.Slip), connect(t, desk, osc.Slip)
	rude.send(rude.frame("/berth/1/mute", true), rude.frame("/punt/who"))
	polite.send(polite.frame("/punt/good-morning"), polite.frame("/punt/still-here"), polite.frame("/punt/who"))
	polite.mustHear("/punt/who")
	rude.send(rude.frame("/punt/good-morning"), rude.frame("/berth/2/mute"))
	rude.mustHear("/berth/2/mute") // and nothing before
	if v, _ := desk.Holds(profiles.Parameter{Place: profiles.Place{Part: profiles.Channel, Number: 1}, Name: "mute"}); v != profiles.Switch(false) {
		t.Error("one who has not greeted the desk has muted it")
	}
	if c := desk.Counts(); c.Ungreeted != 2 || c.Unplaced != 0 {
		t.Errorf("the desk has counted %+v", c)
	}
	desk.Restart(0) // who was connected must begin anew
	polite.mustEnd()
	again := connect(t, desk, osc.Slip)
	again.send(again.frame("/punt/who"), again.frame("/punt/good-morning"), again.frame("/berth/1/mute"))
	again.mustHear("/berth/1/mute")
}

func TestABlockIsAnsweredWithEachOfItsMessages(t *testing.T) {
	p := few(t, "barge-48", 0)
	desk := start(t, p, mockdesk.Options{})
	w := connect(t, desk, osc.Sized)
	w.send(w.frame("/barge/wide/00/way/all")) // channel 2, the first of the second prefix
	w.mustHear("/barge/wide/00/way/00/is")
	w.mustHear("/barge/wide/00/way/01/is")
	w.send(w.frame("/barge/model"))
	w.mustHear("/barge/model/is") // no more than two mixes
	if c := desk.Counts(); c.Questions != 2 {
		t.Errorf("the desk has counted %+v", c)
	}
}

func TestAnswersComeInBundlesNoLongerThanTravelInOnePiece(t *testing.T) {
	text := `name = "small"
channels = 100
[link]
over = "tcp-sizes"
port = 9000
[identity]
ask = "/who"
says = "small"
[answer]
bundled = true
[[block]]
of = "desk"
at = "/all"
[channel]
mute = { at = "/channel/number/{channel}/mute" }
`
	p, err := profiles.Load("small.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	w := connect(t, start(t, p, mockdesk.Options{}), osc.Sized)
	w.send(w.frame("/all"))
	buffer := make([]byte, osc.MaxPacket)
	heard := make(map[profiles.Parameter]bool)
	packets := 0
	for ; len(heard) < 100; packets++ {
		n, err := w.frames.Next(buffer)
		if err != nil || n > 1400 {
			t.Fatalf("%d bytes, %v", n, err)
		}
		messages, err := osc.Decode(buffer[:n])
		if err != nil || messages[0].Due != osc.AtOnce {
			t.Fatalf("%v, %v", messages, err)
		}
		for _, m := range messages {
			for _, r := range p.Hear(m) {
				heard[r.Key] = true
			}
		}
	}
	// Each takes 4 bytes of the size, 24 of the address, 4 of the type and 4 of the number. 38 of
	// those, and 16 of the bundle itself, make 1,384 bytes; the 100 are 38, 38 and 24.
	if packets != 3 {
		t.Errorf("100 answers came in %d bundles", packets)
	}
}

// A desk that answers to a fixed port does so whoever asked.
func TestAnswersGoToTheFixedPort(t *testing.T) {
	port := freePort(t)
	desk := start(t, few(t, "skiff-12", port), mockdesk.Options{})
	listener, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1), Port: port})
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	asker, err := net.Dial("udp", desk.Addr())
	if err != nil {
		t.Fatal(err)
	}
	defer asker.Close()
	packet, err := osc.Message{Address: "/skiff/get", Arguments: []any{"/strip/toward", int32(1), "B"}}.Encode()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := asker.Write(packet); err != nil {
		t.Fatal(err)
	}
	_ = listener.SetReadDeadline(time.Now().Add(patience))
	buffer := make([]byte, osc.MaxPacket)
	n, err := listener.Read(buffer)
	if err != nil {
		t.Fatal(err)
	}
	got, err := osc.Decode(buffer[:n])
	if err != nil || len(got) != 1 {
		t.Fatalf("%v, %v", got, err)
	}
	if want := (osc.Message{Address: "/strip/toward", Arguments: []any{int32(1), "B", float32(-120)}}); got[0].Message.String() != want.String() {
		t.Errorf("the desk answers %s, not %s", got[0], want)
	}
}

func TestAFollowerHearsOfThePartsThatItAskedFor(t *testing.T) {
	text := `name = "small"
channels = 2
[link]
over = "tcp-sizes"
port = 9000
[identity]
ask = "/who"
says = "small"
[follow]
ask = "/follow/{channel}"
[channel]
mute = { at = "/m/{channel}" }
`
	p, err := profiles.Load("small.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	desk := start(t, p, mockdesk.Options{})
	w := connect(t, desk, osc.Sized)
	w.send(w.frame("/follow/2"), w.frame("/who"))
	w.mustHear("/who") // so that the request has been heard
	for _, path := range []string{"channel.1.mute", "channel.2.mute"} {
		q, err := profiles.ParseParameter(path)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := desk.Move(q, profiles.Switch(true)); err != nil {
			t.Fatal(err)
		}
	}
	w.mustHear("/m/2")
	w.send(w.frame("/who"))
	w.mustHear("/who")
}

func TestADeskTakesOnlySoManyConnections(t *testing.T) {
	desk := start(t, few(t, "barge-48", 0), mockdesk.Options{})
	var all []*wire
	for range 64 {
		w := connect(t, desk, osc.Sized)
		w.send(w.frame("/barge/model"))
		w.mustHear("/barge/model/is")
		all = append(all, w)
	}
	connect(t, desk, osc.Sized).mustEnd()
	all[0].send(all[0].frame("/barge/model"))
	all[0].mustHear("/barge/model/is")
}
