package osc

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

var framings = []Framing{Slip, Sized}

// unframed takes all packets off a stream, and gives the error at its end.
func unframed(r io.Reader, f Framing) (packets []string, err error) {
	reader, buffer := NewFrameReader(r, f), make([]byte, MaxPacket)
	for {
		n, err := reader.Next(buffer)
		if err != nil {
			return packets, err
		}
		packets = append(packets, string(buffer[:n]))
	}
}

func framed(f Framing, packets ...string) []byte {
	var stream []byte
	for _, packet := range packets {
		stream = AppendFrame(stream, []byte(packet), f)
	}
	return stream
}

func TestFramesAreThoseOfTheStandards(t *testing.T) {
	packet := []byte{'/', 0xc0, 0xdb, 0xdc}
	same(t, []byte{0xc0, '/', 0xdb, 0xdc, 0xdb, 0xdd, 0xdc, 0xc0}, AppendFrame(nil, packet, Slip))
	same(t, []byte{1, 0, 0, 0, 4, '/', 0xc0, 0xdb, 0xdc}, AppendFrame([]byte{1}, packet, Sized))
}

// cutting is a stream that comes in pieces of the given lengths, over and over.
type cutting struct {
	stream []byte
	pieces []int
	next   int
}

func (c *cutting) Read(to []byte) (int, error) {
	if len(c.stream) == 0 {
		return 0, io.EOF
	}
	piece := c.pieces[c.next%len(c.pieces)]
	c.next++
	n := copy(to[:min(piece, len(to))], c.stream)
	c.stream = c.stream[n:]
	return n, nil
}

// drawPacket gives a packet that is rich in the bytes that SLIP has to escape.
func drawPacket() *rapid.Generator[string] {
	special := rapid.SampledFrom([]byte{slipEnd, slipEsc, slipEscaped, slipEscEsc, 0, '/'})
	word := rapid.SliceOfN(rapid.OneOf(special, rapid.Byte()), 4, 4)
	return rapid.Custom(func(t *rapid.T) string {
		words := rapid.SliceOfN(word, 1, 40).Draw(t, "words")
		return strings.Repeat(string(bytes.Join(words, nil)), rapid.SampledFrom([]int{1, 1, 1, 400}).Draw(t, "times"))
	})
}

func TestPacketsComeOutOfAStreamAsTheyWentInHoweverItIsCut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.SampledFrom(framings).Draw(t, "framing")
		packets := rapid.SliceOf(drawPacket()).Draw(t, "packets")
		pieces := rapid.SliceOfN(rapid.OneOf(rapid.IntRange(1, 9), rapid.IntRange(1, 70000)), 1, 20).Draw(t, "pieces")
		got, err := unframed(&cutting{stream: framed(f, packets...), pieces: pieces}, f)
		if err != io.EOF {
			t.Fatal(err)
		}
		if len(got)+len(packets) > 0 && !cmp.Equal(packets, got) {
			t.Fatal(cmp.Diff(packets, got))
		}
	})
}

func TestAStreamThatEndsWithinAPacketIsSaidToAfterTheWholeOnes(t *testing.T) {
	for _, f := range framings {
		whole := framed(f, "/one")
		both := append(bytes.Clone(whole), framed(f, "/two\xc0\xdb\x00\x00")...)
		first := len(whole) + 1
		if f == Slip {
			first++ // The opening END of a packet is not yet a part of it.
		}
		for end := first; end < len(both); end++ {
			got, err := unframed(bytes.NewReader(both[:end]), f)
			if !errors.Is(err, io.ErrUnexpectedEOF) || !cmp.Equal([]string{"/one"}, got) {
				t.Errorf("%v: cut off at %d of %d: %q, %v", f, end, len(both), got, err)
			}
		}
	}
}

func TestAPacketIsNotHeldBackForWhatComesAfterIt(t *testing.T) {
	for _, f := range framings {
		stream, desk := io.Pipe()
		go func() { _, _ = desk.Write(framed(f, "/one")) }()
		buffer := make([]byte, MaxPacket)
		n, err := NewFrameReader(stream, f).Next(buffer)
		if err != nil || string(buffer[:n]) != "/one" {
			t.Errorf("%v: %q, %v", f, buffer[:n], err)
		}
	}
}

func TestAnErrorWithinAPacketIsPassedOnAndComesAgain(t *testing.T) {
	torn := errors.New("torn")
	for _, f := range framings {
		reader := NewFrameReader(io.MultiReader(bytes.NewReader(framed(f, "/one")[:4]), iotest.ErrReader(torn)), f)
		for range 2 {
			if _, err := reader.Next(make([]byte, 100)); !errors.Is(err, torn) {
				t.Errorf("%v: %v", f, err)
			}
		}
	}
}

func TestSlipFramesThatOthersSend(t *testing.T) {
	cases := []struct {
		name, stream string
		want         []string
		spoilt       uint64
	}{
		{"END after each packet only", "/one\xc0/two\xc0", []string{"/one", "/two"}, 0},
		{"many ENDs between", "\xc0\xc0\xc0/one\xc0\xc0\xc0/two\xc0\xc0", []string{"/one", "/two"}, 0},
		{"one END between", "\xc0/one\xc0/two\xc0", []string{"/one", "/two"}, 0},
		{"nothing but ENDs", "\xc0\xc0\xc0", nil, 0},
		{"a wrong escape", "\xc0/o\xdb/e\xc0\xc0/two\xc0", []string{"/two"}, 1},
		{"an escape before an END", "\xc0/one\xdb\xc0\xc0/two\xc0", []string{"/two"}, 1},
		{"an escape alone", "\xc0\xdb\xc0\xc0/two\xc0", []string{"/two"}, 1},
		{"an escape before an escape", "\xc0\xdb\xdb\xdc\xc0/two\xc0", []string{"/two"}, 1},
		{"wrong twice", "\xc0\xdb\xdb\xdb\xc0\xdb1\xc0", nil, 2},
		{"zero bytes between packets", "\xc0/one\xc0\x00\xc0", []string{"/one", "\x00"}, 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			for _, r := range []io.Reader{strings.NewReader(c.stream), iotest.OneByteReader(strings.NewReader(c.stream))} {
				reader, buffer := NewFrameReader(r, Slip), make([]byte, 100)
				var got []string
				n, err := reader.Next(buffer)
				for ; err == nil; n, err = reader.Next(buffer) {
					got = append(got, string(buffer[:n]))
				}
				same(t, c.want, got)
				if err != io.EOF || reader.Spoilt() != c.spoilt {
					t.Errorf("%v, %d spoilt", err, reader.Spoilt())
				}
			}
		})
	}
}

// allocatedBy gives how many bytes were allocated meanwhile, by all goroutines.
func allocatedBy(do func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	do()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

func TestASizeThatNoPacketHasIsRefusedWithNothingAllocatedForIt(t *testing.T) {
	cases := []struct {
		size int32
		want string
	}{
		{0x7fffffff, "a packet of 2147483647 bytes was announced, but 65507 is the most"},
		{0x7ffffffc, "a packet of 2147483644 bytes was announced, but 65507 is the most"},
		{-0x80000000, "a packet of -2147483648 bytes was announced"},
		{-4, "a packet of -4 bytes was announced"},
		{0, "a packet of 0 bytes was announced"},
		{6, "a packet of 6 bytes was announced, which is no multiple of 4"},
		{65508, "a packet of 65508 bytes was announced, but 65507 is the most"},
	}
	buffer := make([]byte, 2*MaxPacket)
	for _, c := range cases {
		t.Run(fmt.Sprint(c.size), func(t *testing.T) {
			stream := append(framed(Sized, "/one"), binary.BigEndian.AppendUint32(nil, uint32(c.size))...)
			stream = append(stream, framed(Sized, "/two", "/six")...)
			var first int
			var err, again error
			bytesUsed := allocatedBy(func() {
				reader := NewFrameReader(bytes.NewReader(stream), Sized)
				first, _ = reader.Next(buffer)
				_, err = reader.Next(buffer)
				_, again = reader.Next(buffer)
			})
			if first != 4 || !errors.Is(err, ErrFrame) || !strings.Contains(err.Error(), c.want) || again != err {
				t.Errorf("%d, %v, %v", first, err, again)
			}
			if bytesUsed > 1<<18 {
				t.Errorf("%d bytes allocated", bytesUsed)
			}
		})
	}
}

func TestThePacketsThatAreLargestAndLongerThanTheBuffer(t *testing.T) {
	for _, f := range framings {
		largest := strings.Repeat("\xc0/\xdb.", MaxPacket/4)
		if got, err := unframed(bytes.NewReader(framed(f, largest)), f); err != io.EOF || len(got) != 1 || got[0] != largest {
			t.Errorf("%v: %d packets, %v", f, len(got), err)
		}
		for room, want := range map[int]error{12: nil, 11: ErrFrame, 0: ErrFrame} {
			n, err := NewFrameReader(bytes.NewReader(framed(f, "/twelve\xc0long")), f).Next(make([]byte, room))
			if !errors.Is(err, want) || want == nil && n != 12 {
				t.Errorf("%v, room for %d: %d, %v", f, room, n, err)
			}
		}
	}
}

// endless is a stream that repeats one text for ever.
type endless struct {
	text string
	at   int
}

func (e *endless) Read(to []byte) (int, error) {
	for n := 0; n < len(to); {
		more := copy(to[n:], e.text[e.at:])
		e.at = (e.at + more) % len(e.text)
		n += more
	}
	return len(to), nil
}

func TestASlipFrameThatNeverEndsIsGivenUp(t *testing.T) {
	for _, text := range []string{"/", "\xdb\xdc", "\xdb/"} {
		buffer := make([]byte, MaxPacket)
		var err error
		bytesUsed := allocatedBy(func() { _, err = NewFrameReader(&endless{text: text}, Slip).Next(buffer) })
		if !errors.Is(err, ErrFrame) || !strings.Contains(err.Error(), "more than 65507 bytes") {
			t.Errorf("%q: %v", text, err)
		}
		if bytesUsed > 1<<18 {
			t.Errorf("%q: %d bytes allocated", text, bytesUsed)
		}
	}
}

func TestTheOtherFramingIsNoticedAtOnce(t *testing.T) {
	for f, want := range map[Framing]string{Slip: "starts as one with sizes does", Sized: "starts as one with SLIP does"} {
		other := Slip + Sized - f
		_, err := unframed(bytes.NewReader(framed(other, "/one")), f)
		if !errors.Is(err, ErrFrame) || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v", f, err)
		}
	}
}

func TestFramesAreReadAndWrittenWithoutAllocating(t *testing.T) {
	for _, f := range framings {
		packet, frame, buffer := []byte("/in/3/fader\x00\xc0\xdb\xdc\xdd"), make([]byte, 0, 100), make([]byte, 100)
		reader := NewFrameReader(&endless{text: string(framed(f, string(packet)))}, f)
		allocations := testing.AllocsPerRun(100, func() {
			frame = AppendFrame(frame[:0], packet, f)
			if n, err := reader.Next(buffer); err != nil || n != len(packet) {
				t.Fatal(n, err)
			}
		})
		if allocations != 0 {
			t.Errorf("%v: %v allocations", f, allocations)
		}
	}
}

// fuzzFrames looks at what any stream gives: no panic, no more than came in, and frames that say the same once more.
func fuzzFrames(t *testing.T, stream []byte, f Framing) {
	packets, err := unframed(bytes.NewReader(stream), f)
	if err == nil {
		t.Fatal("no error at the end")
	}
	total := 0
	for _, packet := range packets {
		if packet == "" || len(packet) > MaxPacket {
			t.Fatalf("a packet of %d bytes", len(packet))
		}
		total += len(packet)
	}
	if total > len(stream) {
		t.Fatalf("%d bytes came out of %d", total, len(stream))
	}
	again, err := unframed(bytes.NewReader(framed(f, packets...)), f)
	if err != io.EOF || !cmp.Equal(packets, again) {
		t.Fatalf("%v: %q, once more %q", err, packets, again)
	}
	cut, _ := unframed(iotest.OneByteReader(bytes.NewReader(stream)), f)
	if !cmp.Equal(packets, cut) {
		t.Fatalf("%q, byte by byte %q", packets, cut)
	}
}

func FuzzSlip(f *testing.F) {
	for _, seed := range []string{"", "\xc0/one\xc0", "/\xdb\xdc\xdb\xdd\xc0\xc0", "\xc0\xdb\xc0/two\xc0", "\xc0\xdb/\xc0", "\x00\x00\x00\x04/one", "/one"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, stream []byte) { fuzzFrames(t, stream, Slip) })
}

func FuzzSized(f *testing.F) {
	for _, seed := range []string{"", "\x00\x00\x00\x04/one", "\x7f\xff\xff\xff/one", "\x80\x00\x00\x00", "\x00\x00\x00\x06/three", "\x00\x00\x00\x08/one", "\x00\x00", "\xc0/one\xc0"} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, stream []byte) { fuzzFrames(t, stream, Sized) })
}

// BenchmarkFrames reads frames of a small message, and beside it copies as many bytes through a bufio.Reader.
func BenchmarkFrames(b *testing.B) {
	packet, err := Message{"/in/3/fader", []any{float32(0.75)}}.Encode()
	if err != nil {
		b.Fatal(err)
	}
	buffer := make([]byte, MaxPacket)
	for _, f := range framings {
		frame := AppendFrame(nil, packet, f)
		b.Run("read/"+f.String(), func(b *testing.B) {
			reader := NewFrameReader(&endless{text: string(frame)}, f)
			b.SetBytes(int64(len(frame)))
			for b.Loop() {
				if n, err := reader.Next(buffer); err != nil || n != len(packet) {
					b.Fatal(n, err)
				}
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
		})
		b.Run("write/"+f.String(), func(b *testing.B) {
			b.SetBytes(int64(len(frame)))
			for b.Loop() {
				frame = AppendFrame(frame[:0], packet, f)
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
		})
	}
	b.Run("copy", func(b *testing.B) {
		reader := bufio.NewReaderSize(&endless{text: string(AppendFrame(nil, packet, Sized))}, streamBuffer)
		b.SetBytes(int64(len(packet) + 4))
		for b.Loop() {
			if _, err := io.ReadFull(reader, buffer[:len(packet)+4]); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
	})
}
