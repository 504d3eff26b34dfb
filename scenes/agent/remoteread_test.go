package agent

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"unicode"

	"deskhand/osc"
)

func TestNumbersAndSwitchesAreTakenInWhateverTypeTheSenderHas(t *testing.T) {
	for _, c := range []struct {
		address   string
		arguments []any
		want      fmt.Stringer
	}{
		{"/deskhand/swap", []any{int32(1), "lectern", "poet", float32(1.5)}, AskSwap{Position: "lectern", Performer: "poet", Rise: 1.5}},
		{"/deskhand/swap", []any{int64(1), "lectern", osc.Symbol("poet"), float64(40)}, AskSwap{Position: "lectern", Performer: "poet", Rise: 40}},
		{"/deskhand/swap", []any{float32(1), "lectern", "bell founder", int32(3)}, AskSwap{Position: "lectern", Performer: "bell founder", Rise: 3}},
		{"/deskhand/swap", []any{float64(1), "lectern", "poet", math.Copysign(0, -1)}, AskSwap{Position: "lectern", Performer: "poet", Rise: 0}},
		{"/deskhand/hold", []any{int32(1), true}, askHold{true}},
		{"/deskhand/hold", []any{int32(1), false}, askHold{false}},
		{"/deskhand/hold", []any{int32(1), int32(1)}, askHold{true}},
		{"/deskhand/hold", []any{int32(1), float32(0)}, askHold{false}},
		{"/deskhand/hold", []any{int32(1), "on"}, askHold{true}},
		{"/deskhand/hold", []any{int32(1), osc.Symbol("off")}, askHold{false}},
		{"/deskhand/status", []any{int32(1)}, askStatus{}},
	} {
		r, err := readRequest(osc.Heard{Message: osc.Message{Address: c.address, Arguments: c.arguments}})
		if err != nil || r.want != c.want || r.id != (remoteID{int64(1)}) {
			t.Errorf("%s %v: %+v, %v", c.address, c.arguments, r, err)
		}
	}
}

func TestAWrongRequestIsToldWhatIsWrong(t *testing.T) {
	const swap, hold = "/deskhand/swap", "/deskhand/hold"
	for _, c := range []struct {
		address   string
		arguments []any
		id        any
		want      string
	}{
		{"/deskhand/swop", []any{int32(1)}, "", `there is no such request: did you mean "/deskhand/swap"?`},
		{"/deskhand/{undo,next}", []any{int32(1)}, "", `an address pattern is no request: write one address out`},
		{swap, nil, "", `no arguments came: send /deskhand/swap id position performer [rise]`},
		{swap, []any{int32(1), "lectern"}, int32(1), `2 arguments came: send /deskhand/swap id position performer [rise]`},
		{swap, []any{int32(1), "lectern", "poet", 1.0, 1.0}, int32(1), `5 arguments came: send /deskhand/swap id position performer [rise]`},
		{"/deskhand/next", []any{int32(1), float32(1)}, int32(1), `2 arguments came: send /deskhand/next id`},
		{swap, []any{true, "lectern", "poet"}, "", `the id must be an int or a text, and it is true or false: send /deskhand/swap id position performer [rise]`},
		{"/deskhand/undo", []any{1.5}, "", `the id is 1.5, and a float counts in whole numbers below 9007199254740992 only: send /deskhand/undo id`},
		{"/deskhand/undo", []any{float32(1 << 24)}, "", `the id is 1.6777216e+07, and a float counts in whole numbers below 16777216 only: send /deskhand/undo id`},
		{"/deskhand/undo", []any{math.NaN()}, "", `the id is NaN, and a float counts in whole numbers below 9007199254740992 only: send /deskhand/undo id`},
		{"/deskhand/undo", []any{""}, "", `the id is empty: send /deskhand/undo id`},
		{"/deskhand/undo", []any{strings.Repeat("x", 65)}, "", `the id has 65 bytes, expected at most 64: send /deskhand/undo id`},
		{"/deskhand/undo", []any{"a\nb"}, "", `the id has characters that can't be printed: send /deskhand/undo id`},
		{swap, []any{"a", float32(3), "poet"}, "a", `the position must be a text, and it is a float: send /deskhand/swap id position performer [rise]`},
		{swap, []any{"a", "lectern", nil}, "a", `the performer must be a text, and it is nothing: send /deskhand/swap id position performer [rise]`},
		{swap, []any{"a", "lectern", "po\xffet"}, "a", `the performer has characters that can't be printed: send /deskhand/swap id position performer [rise]`},
		{swap, []any{"a", "lectern", "poet", "3"}, "a", `the rise must be a number of dB, and it is the text "3": send /deskhand/swap id position performer [rise]`},
		{swap, []any{"a", "lectern", "poet", -1.0}, "a", `the rise is -1, expected 0 to 40 dB: send /deskhand/swap id position performer [rise]`},
		{swap, []any{"a", "lectern", "poet", float32(40.5)}, "a", `the rise is 40.5, expected 0 to 40 dB: send /deskhand/swap id position performer [rise]`},
		{swap, []any{"a", "lectern", "poet", math.NaN()}, "a", `the rise is NaN, expected 0 to 40 dB: send /deskhand/swap id position performer [rise]`},
		{"/deskhand/scene", []any{"a", ""}, "a", `the scene is empty: send /deskhand/scene id scene`},
		{hold, []any{"a", float32(0.5)}, "a", `0.5 is neither on nor off: that is T or F, 1 or 0, or a word: send /deskhand/hold id on|off`},
		{hold, []any{"a", "true"}, "a", `the text "true" is neither on nor off: that is T or F, 1 or 0, or a word: send /deskhand/hold id on|off`},
		{hold, []any{"a", osc.Impulse{}}, "a", `of another type is neither on nor off: that is T or F, 1 or 0, or a word: send /deskhand/hold id on|off`},
	} {
		r, err := readRequest(osc.Heard{Message: osc.Message{Address: c.address, Arguments: c.arguments}})
		if err == nil || err.Error() != c.want || r.id.argument() != c.id {
			t.Errorf("%s %v: id %v, %v\nwant id %v, %s", c.address, c.arguments, r.id.argument(), err, c.id, c.want)
		}
	}
	r, err := readRequest(osc.Heard{Message: osc.Message{Address: swap}, Untyped: true})
	if err == nil || !strings.Contains(err.Error(), "no type tag string") {
		t.Error(r, err)
	}
}

func TestNonsenseIsCountedAndAnsweredOnlyWhereItIsMeantForUs(t *testing.T) {
	d := &doer{}
	served(t, d, func(b *bench) {
		b.send(tablet, "/deskhand/swap", int32(1), "lectern")
		b.expect(`/deskhand/failed i 1 s "wrong" s "2 arguments came: send /deskhand/swap id position performer [rise]"`)
		b.deliver(tablet, []byte("/deskhand/undo\x00\x00,i\x00\x00"))
		b.expect(`/deskhand/failed s "" s "wrong" s "not an OSC packet: byte 20: an argument of 4 bytes where 0 are left"`)
		b.send(tablet, "/deskhand/done", int32(1), "undo", int32(0), int32(0))
		b.send(tablet, "/deskhand/failed", "", "wrong", "there is no such request")
		b.send(tablet, "/deskhand/taken", int32(1), int32(0))
		b.send(tablet, "/deskhand/state", int32(1))
		b.send(tablet, "/tilt", float32(0.25))
		b.deliver(tablet, nil)
		b.deliver(tablet, []byte{0xff})
		b.expect()
		if got := b.remote.Counts(); got != (RemoteCounts{Nonsense: 9}) {
			t.Errorf("%+v", got)
		}
	})
	if len(d.did) != 0 {
		t.Error(d.did)
	}
}

func TestABundleHoldsSeveralRequests(t *testing.T) {
	d := &doer{}
	served(t, d, func(b *bench) {
		var messages []osc.Message
		for id := range int32(mostTogether + 1) {
			messages = append(messages, osc.Message{Address: "/deskhand/hold", Arguments: []any{id, true}})
		}
		for _, n := range []int{mostTogether + 1, mostTogether} {
			packet, err := osc.EncodeBundle(messages[:n]...)
			if err != nil {
				t.Fatal(err)
			}
			b.deliver(tablet, packet)
		}
		if got := len(b.told()); got != mostTogether || b.remote.Counts().Nonsense != 1 {
			t.Errorf("%d answers, %+v", got, b.remote.Counts())
		}
	})
	if len(d.holds) != mostTogether {
		t.Errorf("held %d times", len(d.holds))
	}
}

func TestAnAnswerGoesOverTheNetworkInOnePiece(t *testing.T) {
	const onePiece = 1400
	long := strings.Repeat("é", 5000)
	s := RemoteState{Venue: long, Desk: DeskState(long), Scene: long, Next: long}
	for range 100 {
		s.On = append(s.On, RemoteOn{long, long})
	}
	id := remoteID{strings.Repeat("x", longestID)}
	for _, m := range []osc.Message{
		stateAnswer(id, s, remoteWork{doing: long}), doneAnswer(id, RemoteDone{Text: long}), failedAnswer(id, Code(long), long),
	} {
		packet, err := m.Encode()
		if err != nil || len(packet) > onePiece {
			t.Errorf("%s: %d bytes, %v", m.Address, len(packet), err)
		}
	}
	m := stateAnswer(id, s, remoteWork{counts: RemoteCounts{Strangers: math.MaxUint64}})
	if m.Arguments[9] != int32(math.MaxInt32) || m.Arguments[12] != int32(100) || len(m.Arguments)%2 != 1 {
		t.Errorf("%v", m.Arguments)
	}
}

func TestTextsAreCutBetweenCharacters(t *testing.T) {
	for text, want := range map[string]string{"short": "short", "a\x00b\nc": "a b c", "ééééé": "éé...", "1234567": "1234567", "12345678": "1234..."} {
		if got := onOneLine(text, 7); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

// FuzzRequest reads any packet as a listed sender's. Nothing panics; what is understood is within its bounds, and what
// is answered is text on one line, with the id that came.
func FuzzRequest(f *testing.F) {
	for _, m := range []osc.Message{
		{Address: "/deskhand/swap", Arguments: []any{int32(1), "lectern", "poet"}},
		{Address: "/deskhand/swap", Arguments: []any{"evening-1", "lectern", osc.Symbol("poet"), float32(3)}},
		{Address: "/deskhand/scene", Arguments: []any{int64(1 << 40), "opening"}},
		{Address: "/deskhand/next", Arguments: []any{float32(7)}},
		{Address: "/deskhand/undo", Arguments: []any{math.Inf(1)}},
		{Address: "/deskhand/hold", Arguments: []any{int32(1), true}},
		{Address: "/deskhand/hold", Arguments: []any{int32(1), osc.Array{"on"}}},
		{Address: "/deskhand/status", Arguments: []any{osc.Char('a')}},
		{Address: "/deskhand/*"},
	} {
		packet, err := m.Encode()
		if err != nil {
			f.Fatal(err)
		}
		f.Add(packet)
	}
	f.Add([]byte("/deskhand/undo\x00\x00"))
	f.Fuzz(func(t *testing.T, packet []byte) {
		heard, err := osc.Decode(packet)
		if err != nil {
			sound(t, failedAnswer(remoteID{}, CodeWrong, err.Error()))
		}
		for _, h := range heard {
			r, err := readRequest(h)
			if err != nil {
				sound(t, failedAnswer(r.id, CodeWrong, err.Error()))
				continue
			}
			within(t, r)
			sound(t, doneAnswer(r.id, RemoteDone{Text: r.want.String()}))
			again, err := readRequest(osc.Heard{Message: osc.Message{Address: h.Address, Arguments: append([]any{r.id.argument()}, h.Arguments[1:]...)}})
			if err != nil || again != r {
				t.Errorf("%v came back as %v, %v", r, again, err)
			}
		}
	})
}

// sound holds an answer against what a sender can take.
func sound(t *testing.T, m osc.Message) {
	packet, err := m.Encode()
	if err != nil || len(packet) > 1400 {
		t.Fatalf("%d bytes, %v: %s", len(packet), err, m)
	}
	for _, a := range m.Arguments {
		if text, ok := a.(string); ok && strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }) {
			t.Errorf("can't be printed: %q", text)
		}
	}
}

func within(t *testing.T, r request) {
	names := []string{"-"}
	switch w := r.want.(type) {
	case AskSwap:
		names = []string{w.Position, w.Performer}
		if !(w.Rise >= 0 && w.Rise <= highestRise) {
			t.Errorf("a rise of %v", w.Rise)
		}
	case AskScene:
		names = []string{w.Scene}
	}
	for _, name := range names {
		if name == "" || len(name) > longestName || strings.ContainsAny(name, "\x00\n\r\t") {
			t.Errorf("a name %q", name)
		}
	}
	if r.id.mark == nil || r.id.argument() == "" {
		t.Errorf("no id: %v", r)
	}
}
