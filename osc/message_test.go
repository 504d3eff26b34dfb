package osc

import (
	"math"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	goosc "github.com/hypebeast/go-osc/osc"
	"pgregory.net/rapid"
)

// sameArguments compares messages but for NaNs, which are unlike themselves, and for how an empty list is written.
var sameArguments = cmp.Options{cmpopts.EquateNaNs(), cmpopts.EquateEmpty()}

func drawText(t *rapid.T, label string) string {
	bytes := rapid.SliceOfN(rapid.ByteRange(1, 255), 0, 12).Draw(t, label)
	return string(bytes)
}

func drawArgument(t *rapid.T, depth int) any {
	kinds := 14
	if depth == MaxArrayDepth {
		kinds = 13
	}
	switch rapid.IntRange(0, kinds).Draw(t, "kind") {
	case 0:
		return rapid.Int32().Draw(t, "i")
	case 1:
		return math.Float32frombits(rapid.Uint32().Draw(t, "f"))
	case 2:
		return drawText(t, "s")
	case 3:
		return rapid.SliceOfN(rapid.Byte(), 0, 9).Draw(t, "b")
	case 4:
		return rapid.Int64().Draw(t, "h")
	case 5:
		return rapid.Float64().Draw(t, "d")
	case 6:
		return true
	case 7:
		return false
	case 8:
		return nil
	case 9:
		return TimeTag(rapid.Uint64().Draw(t, "t"))
	case 10:
		return Symbol(drawText(t, "S"))
	case 11:
		return Char(rapid.Int32().Draw(t, "c"))
	case 12:
		return Colour{1, 2, 3, rapid.Byte().Draw(t, "r")}
	case 13:
		return Impulse{}
	default:
		return Array(drawArguments(t, depth+1))
	}
}

func drawArguments(t *rapid.T, depth int) []any {
	arguments := make([]any, rapid.IntRange(0, 4).Draw(t, "arguments"))
	for i := range arguments {
		arguments[i] = drawArgument(t, depth)
	}
	return arguments
}

func drawMessage(t *rapid.T) Message {
	return Message{Address: "/" + drawText(t, "address"), Arguments: drawArguments(t, 0)}
}

func TestWhatIsEncodedDecodesToTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMessage(t)
		packet, err := m.Encode()
		if err != nil {
			t.Fatal(err)
		}
		heard, err := Decode(packet)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff([]Heard{{Message: m}}, heard, sameArguments); diff != "" {
			t.Fatal(diff)
		}
	})
}

func TestABundleCarriesItsMessagesInOrderAndAtOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var messages []Message
		var want []Heard
		for range rapid.IntRange(0, 4).Draw(t, "messages") {
			m := drawMessage(t)
			messages = append(messages, m)
			want = append(want, Heard{Message: m, Due: AtOnce})
		}
		packet, err := EncodeBundle(messages...)
		if err != nil {
			t.Fatal(err)
		}
		heard, err := Decode(packet)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, heard, sameArguments); diff != "" {
			t.Fatal(diff)
		}
	})
}

func TestAMessageIsWrittenAsTheLibraryWritesIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := Message{Address: "/" + drawText(t, "address")}
		for range rapid.IntRange(0, 6).Draw(t, "arguments") {
			argument := drawArgument(t, MaxArrayDepth)
			switch argument.(type) {
			case TimeTag, Symbol, Char, Colour, MIDI, Impulse:
				continue // which the library doesn't know, or rounds
			}
			m.Arguments = append(m.Arguments, argument)
		}
		got, err := m.Encode()
		if err != nil {
			t.Fatal(err)
		}
		want, err := (*goosc.Message)(&m).MarshalBinary()
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("%s: %s", m, diff)
		}
	})
}

func TestABundleIsWrittenAsTheLibraryWritesIt(t *testing.T) {
	messages := []Message{{"/in/1/fader", []any{float32(0.75)}}, {"/in/1/label", []any{"poet", true}}}
	got, err := EncodeBundle(messages...)
	if err != nil {
		t.Fatal(err)
	}
	bundle := goosc.NewBundle(time.Time{})
	for _, m := range messages {
		bundle.Messages = append(bundle.Messages, (*goosc.Message)(&m))
	}
	want, err := bundle.MarshalBinary()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestWhatCannotBeSentIsNamed(t *testing.T) {
	deep := Array{}
	for range MaxArrayDepth {
		deep = Array{deep}
	}
	cases := []struct {
		name, want string
		message    Message
	}{
		{"no slash", `OSC address "in/1": must start with a slash`, Message{Address: "in/1"}},
		{"no address", `OSC address "": must start with a slash`, Message{}},
		{"zero byte in the address", "must not hold a zero byte", Message{Address: "/in\x00/1"}},
		{"zero byte in a string", "message /in: argument 2: a string in OSC can't hold a zero byte", Message{"/in", []any{true, "a\x00b"}}},
		{"string of one zero byte", "zero byte", Message{"/in", []any{"\x00"}}},
		{"zero byte in a symbol", "zero byte", Message{"/in", []any{Symbol("a\x00")}}},
		{"zero byte in an array", "zero byte", Message{"/in", []any{Array{"\x00"}}}},
		{"a Go int", "argument 1: a Go int can't be sent; OSC has int32", Message{"/in", []any{1}}},
		{"a library time tag", "can't be sent", Message{"/in", []any{*goosc.NewTimetagFromTimetag(1)}}},
		{"deep arrays", "arrays nested deeper than 8", Message{"/in", []any{deep}}},
		{"too long", "message /in: 65512 bytes, but a packet holds 65507 at most", Message{"/in", []any{make([]byte, 65500)}}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			packet, err := c.message.Encode()
			if err == nil || !strings.Contains(err.Error(), c.want) || packet != nil {
				t.Errorf("got %v, want %q", err, c.want)
			}
			if packet, err := EncodeBundle(c.message); err == nil || packet != nil {
				t.Error("a bundle takes it")
			}
		})
	}
}

func TestABundleLongerThanAPacketIsRefused(t *testing.T) {
	m := Message{"/in", []any{make([]byte, 40000)}}
	if packet, err := EncodeBundle(m, m); err == nil || packet != nil || !strings.Contains(err.Error(), "send fewer") {
		t.Error(err)
	}
}

func TestAMessageIsOneReadableLine(t *testing.T) {
	cases := []struct {
		want    string
		message Message
	}{
		{"/in/3/fader", Message{Address: "/in/3/fader"}},
		{"/in/3/fader f 0.75", Message{"/in/3/fader", []any{float32(0.75)}}},
		{`/in/3 i -1 h 2 d 0.1 s "bell founder" T F N I`, Message{"/in/3", []any{int32(-1), int64(2), 0.1, "bell founder", true, false, nil, Impulse{}}}},
		{`/a S "dry" c 'B' r 102030ff m 00903c7f`, Message{"/a", []any{Symbol("dry"), Char('B'), Colour{16, 32, 48, 255}, MIDI{0, 0x90, 60, 127}}}},
		{"/a [ i 1 [ ] ]", Message{"/a", []any{Array{int32(1), Array{}}}}},
		{"/a b (0 bytes) b (2 bytes) 00ff b (17 bytes) 000102030405060708090a0b0c0d0e0f...", Message{"/a", []any{[]byte{}, []byte{0, 255}, counting(17)}}},
		{"/a t at once t 2036-02-07T06:28:32.250000Z", Message{"/a", []any{AtOnce, TimeTag(0x10_40000000)}}},
		{`"/a\n\x1b[2J" s "\x00\r\u202e\xff"`, Message{"/a\n\x1b[2J", []any{"\x00\r\u202e\xff"}}},
		{`"/a b"`, Message{Address: "/a b"}},
		{`""`, Message{}},
		{"/a ? int", Message{"/a", []any{1}}},
	}
	for _, c := range cases {
		if got := c.message.String(); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
	if got := (Heard{Message: Message{Address: "/in/1"}, Untyped: true}).String(); !strings.Contains(got, "sent without types") {
		t.Error(got)
	}
}

func TestNoMessageShowsControlCharacters(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := drawMessage(t).String()
		if strings.ContainsFunc(line, func(r rune) bool { return !unicode.IsPrint(r) || r == unicode.ReplacementChar }) {
			t.Fatalf("%q", line)
		}
	})
}

func TestATimeTagIsAMomentUntil2104(t *testing.T) {
	at := func(text string) time.Time {
		moment, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			t.Fatal(err)
		}
		return moment
	}
	cases := []struct {
		tag  TimeTag
		want time.Time
	}{
		{0, time.Time{}},
		{AtOnce, time.Time{}},
		{2208988800<<32 | 1<<31, at("1970-01-01T00:00:00.5Z")}, // RFC 868: 2,208,988,800 s is 1970
		{0xffffffff_00000000, at("2036-02-07T06:28:15Z")},      // RFC 4330, section 3
		{0x00000000_80000000, at("2036-02-07T06:28:16.5Z")},
		{0x7fffffff_00000000, at("2104-02-26T09:42:23Z")},
	}
	for _, c := range cases {
		if got := c.tag.Time(); !got.Equal(c.want) {
			t.Errorf("%#x: got %v, want %v", uint64(c.tag), got, c.want)
		}
	}
}
