package osc

import (
	"bytes"
	"fmt"
)

// The special bytes of SLIP, by the names of RFC 1055.
const (
	slipEnd     = 0xc0 // stands on both sides of a packet
	slipEsc     = 0xdb // the next byte stands for another
	slipEscaped = 0xdc // after slipEsc: slipEnd
	slipEscEsc  = 0xdd // after slipEsc: slipEsc
)

func appendSlip(to, packet []byte) []byte {
	to = append(to, slipEnd)
	for {
		plain := plainRun(packet)
		to = append(to, packet[:plain]...)
		if plain == len(packet) {
			return append(to, slipEnd)
		}
		if packet[plain] == slipEnd {
			to = append(to, slipEsc, slipEscaped)
		} else {
			to = append(to, slipEsc, slipEscEsc)
		}
		packet = packet[plain+1:]
	}
}

// plainRun is how many bytes come before the first that needs an escape.
func plainRun(packet []byte) int {
	run := len(packet)
	if at := bytes.IndexByte(packet, slipEnd); at >= 0 {
		run = at
	}
	if at := bytes.IndexByte(packet[:run], slipEsc); at >= 0 {
		run = at
	}
	return run
}

func (fr *FrameReader) nextSlip(buffer []byte) (int, error) {
	frame := unslipping{to: buffer}
	for {
		chunk, err := fr.chunk()
		if err != nil {
			if fr.within {
				err = cutOff(frame.n, err)
			}
			return 0, err
		}
		if !fr.begun && chunk[0] == 0 {
			return 0, fmt.Errorf("%w: the stream starts as one with sizes does, and not with SLIP", ErrFrame)
		}
		fr.begun = true
		part, _, ended := bytes.Cut(chunk, []byte{slipEnd})
		if !frame.add(part) {
			return 0, fmt.Errorf("%w: a packet of more than %d bytes without an end", ErrFrame, len(buffer))
		}
		fr.within = fr.within || len(part) > 0
		fr.skip(len(part), ended)
		if !ended || !fr.within {
			continue // Two ENDs with nothing between are no packet.
		}
		if frame.sound() {
			return frame.n, nil
		}
		fr.spoilt++
		fr.within = false
		frame = unslipping{to: buffer}
	}
}

// chunk gives what can be had of the stream now, at least one byte.
func (fr *FrameReader) chunk() ([]byte, error) {
	if _, err := fr.stream.Peek(1); err != nil {
		return nil, err
	}
	return fr.stream.Peek(fr.stream.Buffered())
}

// skip passes over bytes of the chunk, and the END after them if there is one.
func (fr *FrameReader) skip(n int, end bool) {
	if end {
		n++
	}
	_, _ = fr.stream.Discard(n) // They are in the buffer, so this can't fail.
}

// unslipping takes the escapes out of a packet that comes in parts.
type unslipping struct {
	to      []byte
	n       int
	escaped bool // the last byte was an ESC
	wrong   bool // an ESC stood before a byte that it can't stand before
}

// add gives false if the packet is longer than the buffer. The bytes of a packet that holds a wrong escape count, too, or
// it could go on for ever.
func (u *unslipping) add(part []byte) bool {
	for len(part) > 0 {
		if u.escaped {
			if !u.put(u.unescape(part[0])) {
				return false
			}
			part = part[1:]
			continue
		}
		plain, rest, escape := bytes.Cut(part, []byte{slipEsc})
		if len(plain) > len(u.to)-u.n {
			return false
		}
		u.n += copy(u.to[u.n:], plain)
		u.escaped = escape
		part = rest
	}
	return true
}

func (u *unslipping) unescape(b byte) byte {
	u.escaped = false
	switch b {
	case slipEscaped:
		return slipEnd
	case slipEscEsc:
		return slipEsc
	default:
		u.wrong = true
		return b
	}
}

func (u *unslipping) put(b byte) bool {
	if u.n == len(u.to) {
		return false
	}
	u.to[u.n] = b
	u.n++
	return true
}

func (u *unslipping) sound() bool { return !u.wrong && !u.escaped }
