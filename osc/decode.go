package osc

import (
	"bytes"
	"encoding/binary"
	"math"
)

// Heard is one message as it arrived.
type Heard struct {
	Message
	Untyped bool    // The sender left the type tag string out, so the arguments can't be known.
	Due     TimeTag // of the innermost bundle that held the message; 0 outside one
}

// Decode gives the messages of a packet in the order in which they stand in it, out of all its bundles. The packet is
// checked as a whole first, so the result is all of its messages or an error, which is ErrMalformed or ErrUnknownType.
// Nothing in the result shares memory with the packet. Strings are taken as they are and need not be UTF-8.
func Decode(packet []byte) ([]Heard, error) {
	messages, err := check(packet)
	if err != nil {
		return nil, err
	}
	if messages == 0 {
		return nil, nil
	}
	return appendHeard(make([]Heard, 0, messages), packet, 0), nil
}

// appendHeard decodes an element that the guard found sound.
func appendHeard(heard []Heard, element []byte, due TimeTag) []Heard {
	if element[0] == '/' {
		return append(heard, decodeMessage(element, due))
	}
	due = TimeTag(binary.BigEndian.Uint64(element[len(bundleMark):]))
	for rest := element[bundleHead:]; len(rest) > 0; {
		size := binary.BigEndian.Uint32(rest)
		heard = appendHeard(heard, rest[4:4+size], due)
		rest = rest[4+size:]
	}
	return heard
}

func decodeMessage(element []byte, due TimeTag) Heard {
	r := reading{rest: element}
	h := Heard{Due: due}
	h.Address = string(r.text())
	if len(r.rest) == 0 || r.rest[0] != ',' {
		h.Untyped = true
		return h
	}
	r.tags = r.text()[1:]
	h.Arguments = r.list()
	return h
}

// reading goes through the tags and the bytes of a message that the guard found sound.
type reading struct {
	tags, rest []byte
	looks      int // at tags, so that a test can bound them
}

// list reads arguments up to the end of the tags or of the array that they stand in.
func (r *reading) list() []any {
	var list []any
	if n := r.count(); n > 0 {
		list = make([]any, 0, n)
	}
	for len(r.tags) > 0 {
		r.looks++
		tag := r.tags[0]
		r.tags = r.tags[1:]
		if tag == ']' {
			return list
		}
		list = append(list, r.argument(tag))
	}
	return list
}

// count gives the number of arguments that list will read.
func (r *reading) count() int {
	n, depth := 0, 0
	for _, tag := range r.tags {
		r.looks++
		if tag == ']' {
			depth--
		}
		if depth < 0 {
			break
		}
		if depth == 0 && tag != ']' {
			n++
		}
		if tag == '[' {
			depth++
		}
	}
	return n
}

func (r *reading) argument(tag byte) any {
	switch tag {
	case 'i':
		return int32(r.four())
	case 'f':
		return math.Float32frombits(r.four())
	case 's':
		return string(r.text())
	case 'b':
		return r.blob()
	case 'h':
		return int64(r.eight())
	case 'd':
		return math.Float64frombits(r.eight())
	case 'T':
		return true
	case 'F':
		return false
	case 't':
		return TimeTag(r.eight())
	case 'S':
		return Symbol(r.text())
	case 'c':
		return Char(r.four())
	case 'r':
		return Colour(r.take(4))
	case 'm':
		return MIDI(r.take(4))
	case 'I':
		return Impulse{}
	case '[':
		return Array(r.list())
	default: // N, as the guard lets no other tag through
		return nil
	}
}

func (r *reading) take(n int) []byte {
	taken := r.rest[:n]
	r.rest = r.rest[n:]
	return taken
}

func (r *reading) four() uint32  { return binary.BigEndian.Uint32(r.take(4)) }
func (r *reading) eight() uint64 { return binary.BigEndian.Uint64(r.take(8)) }

func (r *reading) text() []byte {
	length := bytes.IndexByte(r.rest, 0)
	return r.take(padded(length + 1))[:length]
}

func (r *reading) blob() []byte {
	size := int(r.four())
	blob := make([]byte, size)
	copy(blob, r.take(padded(size)))
	return blob
}
