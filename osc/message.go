package osc

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"

	goosc "github.com/hypebeast/go-osc/osc"
)

// MaxPacket is the largest packet that one UDP datagram carries, in bytes. A desk may take far less: above about 1400
// bytes a datagram travels in pieces, and many devices drop it.
const MaxPacket = 65507

// Message is an address and its arguments. The types that an argument can have are listed at [Symbol].
//
// It has the fields of go-osc's message and none of its methods: its Match compiles what came from the network as a
// regular expression.
type Message goosc.Message

// Encode gives the packet of one message. It fails if the address does not start with a slash, if a string holds a zero
// byte (which would end it on the wire), if an argument has a type that OSC does not have, or if the packet is longer
// than MaxPacket.
func (m Message) Encode() ([]byte, error) {
	// The tags of an array are more, and the arguments may be longer: then the packet grows.
	room := padded(len(m.Address)+1) + padded(1+len(m.Arguments)+1) + 8*len(m.Arguments)
	packet, err := m.appendTo(make([]byte, 0, room))
	if err == nil && len(packet) > MaxPacket {
		err = fmt.Errorf("message %s: %d bytes, but a packet holds %d at most", printable(m.Address), len(packet), MaxPacket)
	}
	if err != nil {
		return nil, err
	}
	return packet, nil
}

// appendTo writes the message at the end of a packet whose length is a multiple of 4.
func (m Message) appendTo(packet []byte) ([]byte, error) {
	if err := checkAddress(m.Address); err != nil {
		return nil, err
	}
	packet = append(appendText(packet, m.Address), ',')
	for i, argument := range m.Arguments {
		var err error
		if packet, err = appendTags(packet, argument, 0); err != nil {
			return nil, fmt.Errorf("message %s: argument %d: %w", printable(m.Address), i+1, err)
		}
	}
	packet = endText(packet)
	for _, argument := range m.Arguments {
		packet = appendArgument(packet, argument)
	}
	return packet, nil
}

// EncodeBundle gives one packet that carries all messages, to be acted on at once and together.
func EncodeBundle(messages ...Message) ([]byte, error) {
	packet := binary.BigEndian.AppendUint64([]byte(bundleMark), uint64(AtOnce))
	for _, m := range messages {
		element, err := m.Encode()
		if err != nil {
			return nil, err
		}
		packet = binary.BigEndian.AppendUint32(packet, uint32(len(element)))
		packet = append(packet, element...)
		if len(packet) > MaxPacket {
			return nil, fmt.Errorf("bundle of %d messages: longer than the %d bytes a packet holds; send fewer at a time", len(messages), MaxPacket)
		}
	}
	return packet, nil
}

func checkAddress(address string) error {
	if !strings.HasPrefix(address, "/") {
		return fmt.Errorf("OSC address %q: must start with a slash", address)
	}
	if strings.IndexByte(address, 0) >= 0 {
		return fmt.Errorf("OSC address %q: must not hold a zero byte", address)
	}
	return nil
}

var errZeroByte = errors.New("a string in OSC can't hold a zero byte")

// appendTags writes the type tag of an argument, or of an array those of all that is in it. The error says why the
// argument can't be sent.
func appendTags(packet []byte, argument any, depth int) ([]byte, error) {
	tag := byte(0)
	switch v := argument.(type) {
	case nil:
		tag = 'N'
	case bool:
		if tag = 'F'; v {
			tag = 'T'
		}
	case int32:
		tag = 'i'
	case float32:
		tag = 'f'
	case int64:
		tag = 'h'
	case float64:
		tag = 'd'
	case []byte:
		tag = 'b'
	case string:
		return appendTextTag(packet, 's', v)
	case Symbol:
		return appendTextTag(packet, 'S', string(v))
	case TimeTag:
		tag = 't'
	case Char:
		tag = 'c'
	case Colour:
		tag = 'r'
	case MIDI:
		tag = 'm'
	case Impulse:
		tag = 'I'
	case Array:
		return appendArrayTags(packet, v, depth+1)
	default:
		return nil, fmt.Errorf("a Go %T can't be sent; OSC has int32, int64, float32, float64, string, []byte, bool, nil and the types of this package", argument)
	}
	return append(packet, tag), nil
}

func appendTextTag(packet []byte, tag byte, text string) ([]byte, error) {
	if strings.IndexByte(text, 0) >= 0 {
		return nil, errZeroByte
	}
	return append(packet, tag), nil
}

func appendArrayTags(packet []byte, array Array, depth int) ([]byte, error) {
	if depth > MaxArrayDepth {
		return nil, fmt.Errorf("arrays nested deeper than %d", MaxArrayDepth)
	}
	packet = append(packet, '[')
	for _, element := range array {
		var err error
		if packet, err = appendTags(packet, element, depth); err != nil {
			return nil, err
		}
	}
	return append(packet, ']'), nil
}

// appendArgument writes the bytes of an argument that has a tag. Some have none.
func appendArgument(packet []byte, argument any) []byte {
	switch v := argument.(type) {
	case int32:
		return binary.BigEndian.AppendUint32(packet, uint32(v))
	case float32:
		return binary.BigEndian.AppendUint32(packet, math.Float32bits(v))
	case int64:
		return binary.BigEndian.AppendUint64(packet, uint64(v))
	case float64:
		return binary.BigEndian.AppendUint64(packet, math.Float64bits(v))
	case []byte:
		packet = append(binary.BigEndian.AppendUint32(packet, uint32(len(v))), v...)
		return append(packet, zeros[:padded(len(v))-len(v)]...)
	case string:
		return appendText(packet, v)
	case Symbol:
		return appendText(packet, string(v))
	case TimeTag:
		return binary.BigEndian.AppendUint64(packet, uint64(v))
	case Char:
		return binary.BigEndian.AppendUint32(packet, uint32(v))
	case Colour:
		return append(packet, v[:]...)
	case MIDI:
		return append(packet, v[:]...)
	case Array:
		for _, element := range v {
			packet = appendArgument(packet, element)
		}
	}
	return packet
}

// zeros are what ends a string and pads it.
const zeros = "\x00\x00\x00\x00"

func appendText(packet []byte, text string) []byte { return endText(append(packet, text...)) }

// endText ends a string, the last thing in a packet.
func endText(packet []byte) []byte { return append(packet, zeros[:4-len(packet)%4]...) }

// padded is the length that n bytes have on the wire.
func padded(n int) int { return (n + 3) &^ 3 }
