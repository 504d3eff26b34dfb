package osc

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// Framing is how packets are told apart on a stream, such as a TCP connection. Any value but Sized is read and written
// as Slip.
type Framing uint8

const (
	// Slip is the framing of OSC 1.1: RFC 1055 with an END on both sides of each packet.
	Slip Framing = iota + 1
	// Sized is the framing of OSC 1.0: before each packet its size, an int32 in big-endian order.
	Sized
)

// String names the framing for a person.
func (f Framing) String() string {
	switch f {
	case Slip:
		return "SLIP"
	case Sized:
		return "sizes"
	default:
		return fmt.Sprintf("framing %d", uint8(f))
	}
}

// ErrFrame is the error of a stream that can't be cut into packets any further. What wraps it says why.
var ErrFrame = errors.New("not framed as it should be")

// streamBuffer is what a FrameReader keeps of a stream, in bytes, whatever the stream says.
const streamBuffer = 16 << 10

// FrameReader takes packets off a stream. It checks frames, not packets: those still have to pass [Decode].
type FrameReader struct {
	stream  *bufio.Reader
	framing Framing
	spoilt  uint64
	begun   bool  // a byte of the stream was seen
	within  bool  // a part of a packet was seen, and the rest not yet
	err     error // why the stream is over
}

// NewFrameReader gives a reader of the packets of a stream, which from now on nobody else may read.
func NewFrameReader(r io.Reader, f Framing) *FrameReader {
	return &FrameReader{stream: bufio.NewReaderSize(r, streamBuffer), framing: f}
}

// Next waits for a packet, copies it into the buffer and gives its length, which is never 0. The buffer should hold
// MaxPacket bytes.
//
// Any error is the last word of the stream and comes again each time. It is io.EOF if the stream ended after a packet,
// io.ErrUnexpectedEOF (wrapped) if it ended within one, and ErrFrame (wrapped) for a packet that is longer than the
// buffer or MaxPacket, for a size that no packet has, and for a stream that is evidently framed the other way. Nothing
// is allocated for a size that a stream claims. With Slip, a packet that holds a wrong escape is left out and counted,
// and so what stands between two ENDs is never guessed at.
func (fr *FrameReader) Next(buffer []byte) (int, error) {
	if fr.err != nil {
		return 0, fr.err
	}
	buffer = buffer[:min(len(buffer), MaxPacket)]
	var n int
	if fr.framing == Sized {
		n, fr.err = fr.nextSized(buffer)
	} else {
		n, fr.err = fr.nextSlip(buffer)
	}
	fr.within = false
	return n, fr.err
}

// Spoilt counts the packets that were left out because of a wrong escape.
func (fr *FrameReader) Spoilt() uint64 { return fr.spoilt }

func (fr *FrameReader) nextSized(buffer []byte) (int, error) {
	if _, err := fr.stream.Peek(1); err != nil {
		return 0, err
	}
	fr.within = true
	head, err := fr.stream.Peek(4)
	if err != nil {
		return 0, cutOff(len(head), err)
	}
	size := int32(binary.BigEndian.Uint32(head))
	if err := checkSize(size, len(buffer)); err != nil {
		if !fr.begun && head[0] == slipEnd {
			err = fmt.Errorf("%w: the stream starts as one with SLIP does", err)
		}
		return 0, err
	}
	fr.begun = true
	_, _ = fr.stream.Discard(len(head)) // It is in the buffer, so this can't fail.
	n, err := io.ReadFull(fr.stream, buffer[:size])
	if err != nil {
		return 0, cutOff(len(head)+n, err)
	}
	return n, nil
}

// checkSize refuses a size that no packet has. After one, nothing tells where the next packet starts.
func checkSize(size int32, room int) error {
	switch {
	case size <= 0:
		return fmt.Errorf("%w: a packet of %d bytes was announced", ErrFrame, size)
	case int64(size) > int64(room):
		return fmt.Errorf("%w: a packet of %d bytes was announced, but %d is the most", ErrFrame, size, room)
	case size%4 != 0:
		return fmt.Errorf("%w: a packet of %d bytes was announced, which is no multiple of 4", ErrFrame, size)
	default:
		return nil
	}
}

// cutOff is the error of a stream that failed when so many bytes of a frame were read.
func cutOff(n int, err error) error {
	if errors.Is(err, io.EOF) {
		err = io.ErrUnexpectedEOF
	}
	return fmt.Errorf("%d bytes into a packet: %w", n, err)
}

// AppendFrame appends a packet in its frame, to be written to a stream in one Write. The packet should be one that a
// FrameReader takes: of 1 to MaxPacket bytes, and with Sized a multiple of 4, as every OSC packet is.
func AppendFrame(to []byte, packet []byte, f Framing) []byte {
	if f == Sized {
		to = binary.BigEndian.AppendUint32(to, uint32(len(packet)))
		return append(to, packet...)
	}
	return appendSlip(to, packet)
}
