package osc

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	goosc "github.com/hypebeast/go-osc/osc"
)

// wire writes a packet as text: | stands for a zero byte, and numbers are put in as 32 bits.
func wire(parts ...any) []byte {
	var packet []byte
	for _, part := range parts {
		switch v := part.(type) {
		case string:
			packet = append(packet, strings.ReplaceAll(v, "|", "\x00")...)
		case int:
			packet = binary.BigEndian.AppendUint32(packet, uint32(v))
		case []byte:
			packet = append(packet, v...)
		}
	}
	return packet
}

func bundle(elements ...[]byte) []byte {
	packet := wire("#bundle|", 0, 1)
	for _, element := range elements {
		packet = wire(packet, len(element), element)
	}
	return packet
}

func nested(depth int) []byte {
	packet := bundle()
	for range depth - 1 {
		packet = bundle(packet)
	}
	return packet
}

func TestWhatIsNotOSCIsRefused(t *testing.T) {
	cases := []struct {
		name   string
		packet []byte
		want   string
	}{
		{"nothing", nil, "byte 0: nothing where"},
		{"another protocol", wire("GET "), `byte 0: starts with "G"`},
		{"length", wire("/in|,|"), "byte 0: 6 bytes long"},
		{"address without end", wire("/inputs/"), "byte 0: a string that does not end"},
		{"tags without end", wire("/in|,iii"), "byte 4: a string that does not end"},
		{"argument cut off", wire("/in|,i||"), "byte 8: an argument of 4 bytes where 0 are left"},
		{"eight bytes cut off", wire("/in|,d||", 1), "byte 8: an argument of 8 bytes where 4 are left"},
		{"string argument without end", wire("/in|,s||abcd"), "byte 8: a string that does not end"},
		{"blob without length", wire("/in|,b||"), "byte 8: an argument of 4 bytes"},
		{"blob too long", wire("/in|,b||", 5, "abcd"), "byte 8: a blob of 5 bytes where 4 are left"},
		{"blob of -1", wire("/in|,b||", -1, "abcd"), "byte 8: a blob of 4294967295 bytes"},
		{"blob of 2 GiB - 1", wire("/in|,b||", math.MaxInt32, "abcd"), "byte 8: a blob of 2147483647 bytes"},
		{"bytes after the last argument", wire("/in|,i||", 1, 2), "byte 12: 4 bytes after the last argument"},
		{"array not closed", wire("/in|,[i|", 1), "an array that is not closed"},
		{"array not opened", wire("/in|,]||"), "an array closed without being opened"},
		{"arrays too deep", wire("/in|,[[[[[[[[[]]]]]]]]]|"), "nested deeper than 8"},
		{"no bundle", wire("#bundles"), "byte 0: starts with # but is no bundle"},
		{"bundle without time tag", wire("#bundle|"), "byte 0: starts with # but is no bundle"},
		{"element too long", wire("#bundle|", 0, 1, 8, "/in|"), "byte 16: a bundle element of 8 bytes where 4 are left"},
		{"element of -1", wire("#bundle|", 0, 1, -1, "/in|"), "byte 16: a bundle element of 4294967295 bytes"},
		{"element of 0", wire("#bundle|", 0, 1, 0), "byte 20: nothing where"},
		{"element of 3", wire("#bundle|", 0, 1, 3, "/in|"), "byte 20: 3 bytes long"},
		{"element that is nothing", wire("#bundle|", 0, 1, 4, "in||"), "byte 20: starts with"},
		{"second element that is nothing", bundle(wire("/in|"), wire("in||")), "byte 28: starts with"},
		{"bundles too deep", nested(MaxBundleDepth + 1), "bundles nested deeper than 8"},
		{"deepest possible", nested(3000), "bundles nested deeper than 8"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			heard, err := Decode(c.packet)
			if !errors.Is(err, ErrMalformed) || errors.Is(err, ErrUnknownType) || heard != nil {
				t.Fatalf("got %v, %v", heard, err)
			}
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %q, want %q", err, c.want)
			}
		})
	}
}

func TestAnUnknownTypeIsNamed(t *testing.T) {
	_, err := Decode(wire("/in/1|||,iX|", 1, 2))
	if !errors.Is(err, ErrUnknownType) || errors.Is(err, ErrMalformed) || err.Error() != `message /in/1: unknown OSC type: tag "X"` {
		t.Error(err)
	}
}

func TestWhatIsOddButHarmlessIsAccepted(t *testing.T) {
	cases := []struct {
		name   string
		packet []byte
		want   []Heard
	}{
		{"no type tags", wire("/in|"), []Heard{{Message: Message{Address: "/in"}, Untyped: true}}},
		{"no type tags, with arguments", wire("/in|", 7, 8), []Heard{{Message: Message{Address: "/in"}, Untyped: true}}},
		{"no type tags, in a bundle", bundle(wire("/in|"), wire("/on|,T||")), []Heard{
			{Message: Message{Address: "/in"}, Untyped: true, Due: AtOnce},
			{Message: Message{Address: "/on", Arguments: []any{true}}, Due: AtOnce},
		}},
		{"rests in the padding", wire("/in/1|xx,s|xab|x"), []Heard{{Message: Message{Address: "/in/1", Arguments: []any{"ab"}}}}},
		{"rests in a blob's padding", wire("/in|,b||", 1, "axyz"), []Heard{{Message: Message{Address: "/in", Arguments: []any{[]byte("a")}}}}},
		{"blob of 0", wire("/in|,b||", 0), []Heard{{Message: Message{Address: "/in", Arguments: []any{[]byte{}}}}}},
		{"no UTF-8", wire("/in|,s||\xff\xfe||"), []Heard{{Message: Message{Address: "/in", Arguments: []any{"\xff\xfe"}}}}},
		{"a colour", wire("/in|,r||", 0x102030ff), []Heard{{Message: Message{Address: "/in", Arguments: []any{Colour{16, 32, 48, 255}}}}}},
		{"arrays", wire("/in|,[iT[[]s]]N|", 1, "ab||"), []Heard{{Message: Message{Address: "/in", Arguments: []any{
			Array{int32(1), true, Array{Array(nil), "ab"}}, nil}}}}},
		{"arrays at their deepest", wire("/in|,[[[[[[[[]]]]]]]]|||"), []Heard{{Message: Message{Address: "/in", Arguments: []any{
			Array{Array{Array{Array{Array{Array{Array{Array(nil)}}}}}}}}}}}},
		{"bundles at their deepest", nested(MaxBundleDepth), nil},
		{"a pattern as address", wire("/a[|,|||"), []Heard{{Message: Message{Address: "/a["}}}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			heard, err := Decode(c.packet)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(c.want, heard); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestADecodedMessageSharesNothingWithItsPacket(t *testing.T) {
	packet := wire("/in|,sSbm|||ab||cd||", 2, "ef||", "wxyz")
	heard, err := Decode(packet)
	if err != nil {
		t.Fatal(err)
	}
	clear(packet)
	want := Message{"/in", []any{"ab", Symbol("cd"), []byte("ef"), MIDI{'w', 'x', 'y', 'z'}}}
	if diff := cmp.Diff(want, heard[0].Message); diff != "" {
		t.Error(diff)
	}
}

// allocated gives the bytes that decoding takes.
func allocated(packet []byte) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, _ = Decode(packet)
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

// allocationBound is what a packet may take. A byte can stand for an argument of 16 bytes in memory, or half an array
// of 56; 4 KB are for what an error or the runtime itself takes.
func allocationBound(packet []byte) uint64 { return 4096 + 32*uint64(len(packet)) }

func TestDecodingTakesASmallMultipleOfThePacket(t *testing.T) {
	tags := func(pair string) []byte {
		return wire("/in|,", strings.Repeat(pair, 65000/len(pair)/4*4), "|||")
	}
	cases := map[string][]byte{
		"nils":           tags("NN"),
		"empty arrays":   tags("[]"),
		"nested arrays":  tags("[[[[[[[[]]]]]]]]"),
		"small messages": bundle(bytes.Split(bytes.Repeat(wire("/in|+"), 8000), []byte("+"))[:8000]...),
		"bundles":        bundle(bytes.Split(bytes.Repeat(append(bundle(), '+'), 3000), []byte("+"))[:3000]...),
		"empty strings":  wire("/in|,", strings.Repeat("s", 13002), "|", make([]byte, 4*13002)),
		"small blobs":    wire("/in|,", strings.Repeat("b", 13002), "|", make([]byte, 4*13002)),
		"one blob":       wire("/in|,b||", 60000, make([]byte, 60000)),
	}
	for name, packet := range cases {
		t.Run(name, func(t *testing.T) {
			if _, err := Decode(packet); err != nil {
				t.Fatal(err)
			}
			checkMemory(t, packet)
		})
	}
}

// byLibrary decodes with the library what it takes and gives nil if it fails or would not look at the whole packet.
func byLibrary(packet []byte) (heard []Heard) {
	defer func() {
		if recover() != nil {
			heard = nil
		}
	}()
	if len(packet) > 4000 {
		return nil // Its reader loses arguments where its buffer ends.
	}
	parsed, err := goosc.ParsePacket(string(packet))
	message, ok := parsed.(*goosc.Message)
	if err != nil || !ok || message == nil {
		return nil
	}
	for i, argument := range message.Arguments {
		if tag, ok := argument.(goosc.Timetag); ok {
			message.Arguments[i] = TimeTag(tag.TimeTag())
		}
	}
	return []Heard{{Message: Message(*message)}}
}

// aboutSame compares time tags to the microsecond, as the library takes them through a floating-point number. It makes
// 1 of what comes out as the zero time.
var aboutSame = append(cmp.Options{cmp.Comparer(func(a, b TimeTag) bool {
	return max(a, b)-min(a, b) < 4295 // 2^-32 s each
})}, sameArguments...)

func FuzzDecode(f *testing.F) {
	files, err := filepath.Glob(filepath.Join(recordings, "*.hex"))
	if err != nil || len(files) == 0 {
		f.Fatal("no recordings", err)
	}
	for _, file := range files {
		for _, packet := range recorded(f, filepath.Base(file)) {
			f.Add(packet)
		}
	}
	f.Add(wire("/in|,[iT[[]s]]N|", 1, "ab||"))
	f.Add(wire("/in|", 7))
	f.Add(wire("/in/1|xx,s|xab|x"))
	f.Add(nested(MaxBundleDepth))
	f.Fuzz(func(t *testing.T, packet []byte) {
		heard, err := Decode(packet)
		if err != nil {
			if heard != nil || errors.Is(err, ErrMalformed) == errors.Is(err, ErrUnknownType) {
				t.Fatal(heard, err)
			}
			return
		}
		checkMemory(t, packet)
		for _, h := range heard {
			_ = h.String()
			checkRoundTrip(t, h)
		}
		if len(heard) != 1 || heard[0].Untyped || packet[0] != '/' {
			return
		}
		if library := byLibrary(packet); library != nil {
			if diff := cmp.Diff(library, heard, aboutSame); diff != "" {
				t.Errorf("the library reads it differently:\n%s", diff)
			}
		}
	})
}

// checkMemory looks again before it complains, as other goroutines allocate, too.
func checkMemory(t *testing.T, packet []byte) {
	bound := allocationBound(packet)
	for range 3 {
		if allocated(packet) <= bound {
			return
		}
	}
	t.Fatalf("more than %d bytes for a packet of %d", bound, len(packet))
}

func checkRoundTrip(t *testing.T, h Heard) {
	packet, err := h.Encode()
	if err != nil {
		t.Fatalf("%s can't be encoded again: %v", h, err)
	}
	again, err := Decode(packet)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]Heard{{Message: h.Message}}, again, sameArguments); diff != "" {
		t.Fatal(diff)
	}
}

var small = wire("/channel/3/eq/2/gain||||,f||", 0x3f400000)

func BenchmarkDecode(b *testing.B) {
	whole := make([][]byte, 200)
	for i := range whole {
		whole[i] = small
	}
	for _, c := range []struct {
		name   string
		packet []byte
	}{{"message", small}, {"bundle-of-200", bundle(whole...)}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Decode(c.packet); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkDecodeByLibrary(b *testing.B) {
	b.ReportAllocs()
	text := string(small)
	for b.Loop() {
		if _, err := goosc.ParsePacket(text); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEncode(b *testing.B) {
	for _, m := range []Message{{"/channel/3/eq/2/gain", []any{float32(0.75)}}, {"/channel/3/label", []any{Symbol("poet")}}} {
		b.Run(fmt.Sprintf("%T", m.Arguments[0]), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := m.Encode(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
