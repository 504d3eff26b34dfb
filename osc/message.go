package osc

import (
	"encoding/binary"
	"errors"
	"fmt"
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
	if err := checkAddress(m.Address); err != nil {
		return nil, err
	}
	var line writing
	for i, argument := range m.Arguments {
		if err := line.add(argument, 0); err != nil {
			return nil, fmt.Errorf("message %s: argument %d: %w", printable(m.Address), i+1, err)
		}
	}
	plain := goosc.Message{Address: m.Address, Arguments: line.plain}
	packet, err := plain.MarshalBinary()
	if err != nil {
		return nil, fmt.Errorf("message %s: %w", printable(m.Address), err)
	}
	if line.own {
		packet = withTags(packet, len(m.Address), len(line.plain), line.tags)
	}
	if len(packet) > MaxPacket {
		return nil, fmt.Errorf("message %s: %d bytes, but a packet holds %d at most", printable(m.Address), len(packet), MaxPacket)
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

// writing collects the arguments of a message in the types that the library writes. For a type that it does not know,
// a stand-in with the same bytes is handed to it, and the right tag is kept in tags.
type writing struct {
	plain []any
	tags  []byte
	own   bool // some tag is not the library's
}

func (w *writing) put(tag byte, plain any) error {
	w.plain, w.tags = append(w.plain, plain), append(w.tags, tag)
	return nil
}

func (w *writing) standIn(tag byte, plain any) error {
	w.own = true
	return w.put(tag, plain)
}

var errZeroByte = errors.New("a string in OSC can't hold a zero byte")

func (w *writing) add(argument any, depth int) error {
	switch v := argument.(type) {
	case nil:
		return w.put('N', nil)
	case bool:
		if v {
			return w.put('T', v)
		}
		return w.put('F', v)
	case int32:
		return w.put('i', v)
	case float32:
		return w.put('f', v)
	case int64:
		return w.put('h', v)
	case float64:
		return w.put('d', v)
	case []byte:
		return w.put('b', v)
	case string:
		if strings.IndexByte(v, 0) >= 0 {
			return errZeroByte
		}
		return w.put('s', v)
	default:
		return w.addOwn(argument, depth)
	}
}

// addOwn adds an argument of a type that is ours and not the library's.
func (w *writing) addOwn(argument any, depth int) error {
	switch v := argument.(type) {
	case TimeTag:
		// The library has a time tag, but takes it through a time.Time, which loses the last bits.
		return w.standIn('t', int64(v))
	case Symbol:
		if strings.IndexByte(string(v), 0) >= 0 {
			return errZeroByte
		}
		return w.standIn('S', string(v))
	case Char:
		return w.standIn('c', int32(v))
	case Colour:
		return w.standIn('r', int32(binary.BigEndian.Uint32(v[:])))
	case MIDI:
		return w.standIn('m', int32(binary.BigEndian.Uint32(v[:])))
	case Impulse:
		return w.standIn('I', nil)
	case Array:
		return w.addArray(v, depth+1)
	default:
		return fmt.Errorf("a Go %T can't be sent; OSC has int32, int64, float32, float64, string, []byte, bool, nil and the types of this package", argument)
	}
}

func (w *writing) addArray(array Array, depth int) error {
	if depth > MaxArrayDepth {
		return fmt.Errorf("arrays nested deeper than %d", MaxArrayDepth)
	}
	w.own = true
	w.tags = append(w.tags, '[')
	for _, element := range array {
		if err := w.add(element, depth); err != nil {
			return err
		}
	}
	w.tags = append(w.tags, ']')
	return nil
}

// withTags puts other tags into a packet that the library wrote with count tags of its own.
func withTags(packet []byte, address, count int, tags []byte) []byte {
	before := padded(address + 1)
	after := before + padded(1+count+1)
	size := padded(1 + len(tags) + 1)
	result := make([]byte, before+size, before+size+len(packet)-after)
	copy(result, packet[:before])
	result[before] = ','
	copy(result[before+1:], tags)
	return append(result, packet[after:]...)
}

// padded is the length that n bytes have on the wire.
func padded(n int) int { return (n + 3) &^ 3 }
