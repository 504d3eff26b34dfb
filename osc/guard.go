package osc

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
)

// ErrMalformed is the error of a packet that is not OSC. What wraps it says at which byte and what is wrong.
var ErrMalformed = errors.New("not an OSC packet")

// ErrUnknownType is the error of a packet that has the form of OSC but an argument of a type that we don't know. As the
// length of such an argument is unknown, so is everything after it.
var ErrUnknownType = errors.New("unknown OSC type")

// What goes deeper is refused. Bundles of bundles of bundles are rare; these leave ample room.
const (
	MaxBundleDepth = 8 // bundles within each other
	MaxArrayDepth  = 8 // arrays within each other
)

// bundleMark is how a bundle starts: a padded string.
const bundleMark = "#bundle\x00"

// bundleHead is the length of a bundle's mark and time tag.
const bundleHead = len(bundleMark) + 8

// guard checks every length in a packet, in one pass and before anything is decoded.
//
// Padding that is not zero is accepted: it can't change what a message says, and a sender that leaves rests of an
// earlier message there is otherwise right.
type guard struct {
	packet   []byte
	messages int
	looks    int // at bytes, so that a test can bound them
}

// check gives the number of messages in a packet that is sound.
func check(packet []byte) (messages int, err error) {
	g := guard{packet: packet}
	err = g.element(0, len(packet), 1)
	return g.messages, err
}

func malformed(at int, format string, details ...any) error {
	return fmt.Errorf("%w: byte %d: %s", ErrMalformed, at, fmt.Sprintf(format, details...))
}

// element checks what lies from one byte up to another: a message, or the bundle that is at that depth.
func (g *guard) element(from, to, depth int) error {
	g.looks++
	switch {
	case from == to:
		return malformed(from, "nothing where a message or a bundle should be")
	case (to-from)%4 != 0:
		return malformed(from, "%d bytes long, which is no multiple of 4", to-from)
	case g.packet[from] == '/':
		g.messages++
		return g.message(from, to)
	case g.packet[from] == '#':
		return g.bundle(from, to, depth)
	default:
		return malformed(from, "starts with %q, where a message starts with / and a bundle with #bundle", g.packet[from:from+1])
	}
}

func (g *guard) bundle(from, to, depth int) error {
	if to-from < bundleHead || string(g.packet[from:from+len(bundleMark)]) != bundleMark {
		return malformed(from, "starts with # but is no bundle")
	}
	if depth > MaxBundleDepth {
		return malformed(from, "bundles nested deeper than %d", MaxBundleDepth)
	}
	for at := from + bundleHead; at < to; {
		size := int64(binary.BigEndian.Uint32(g.packet[at:]))
		at += 4
		if size > int64(to-at) {
			return malformed(at-4, "a bundle element of %d bytes where %d are left", size, to-at)
		}
		if err := g.element(at, at+int(size), depth+1); err != nil {
			return err
		}
		at += int(size)
	}
	return nil
}

func (g *guard) message(from, to int) error {
	addressEnd, at, err := g.text(from, to)
	if err != nil {
		return err
	}
	if at == to || g.packet[at] != ',' {
		return nil // There are no type tags, so nothing can be said about the rest.
	}
	tags := at + 1
	tagsEnd, at, err := g.text(at, to)
	if err != nil {
		return err
	}
	at, err = g.arguments(g.packet[tags:tagsEnd], at, to)
	if errors.Is(err, ErrUnknownType) {
		return fmt.Errorf("message %s: %w", printable(string(g.packet[from:addressEnd])), err)
	}
	if err == nil && at != to {
		return malformed(at, "%d bytes after the last argument", to-at)
	}
	return err
}

// arguments gives the byte after the last argument.
func (g *guard) arguments(tags []byte, at, to int) (int, error) {
	depth := 0
	for _, tag := range tags {
		g.looks++
		switch tag {
		case '[':
			depth++
		case ']':
			depth--
		}
		if depth < 0 || depth > MaxArrayDepth {
			return at, malformed(at, "an array closed without being opened, or nested deeper than %d", MaxArrayDepth)
		}
		next, err := g.argument(tag, at, to)
		if err != nil {
			return at, err
		}
		at = next
	}
	if depth != 0 {
		return at, malformed(at, "an array that is not closed")
	}
	return at, nil
}

// argument gives the byte after one argument.
func (g *guard) argument(tag byte, at, to int) (int, error) {
	switch tag {
	case 'T', 'F', 'N', 'I', '[', ']':
		return at, nil
	case 'i', 'f', 'c', 'r', 'm':
		return g.fixed(at, to, 4)
	case 'h', 'd', 't':
		return g.fixed(at, to, 8)
	case 's', 'S':
		_, next, err := g.text(at, to)
		return next, err
	case 'b':
		return g.blob(at, to)
	default:
		return at, fmt.Errorf("%w: tag %q", ErrUnknownType, []byte{tag})
	}
}

func (g *guard) fixed(at, to, size int) (int, error) {
	if to-at < size {
		return at, malformed(at, "an argument of %d bytes where %d are left", size, to-at)
	}
	return at + size, nil
}

func (g *guard) blob(at, to int) (int, error) {
	start, err := g.fixed(at, to, 4)
	if err != nil {
		return at, err
	}
	size := int64(binary.BigEndian.Uint32(g.packet[at:]))
	if size > int64(to-start) || padded(int(size)) > to-start {
		return at, malformed(at, "a blob of %d bytes where %d are left", size, to-start)
	}
	return start + padded(int(size)), nil
}

// text gives the end of a string's characters, and the byte after its padding.
func (g *guard) text(at, to int) (end, next int, err error) {
	length := bytes.IndexByte(g.packet[at:to], 0)
	if g.looks += length; length < 0 {
		g.looks += to - at
		return at, at, malformed(at, "a string that does not end")
	}
	next = at + padded(length+1)
	if next > to {
		return at, at, malformed(at, "a string whose padding is cut off")
	}
	return at + length, next, nil
}
