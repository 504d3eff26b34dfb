package osc

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// shownBlob is how many bytes of a blob a person gets to see.
const shownBlob = 16

// String gives the message on one line, for a person: the address, then each argument after its type tag. Control
// characters and bytes that are no text are shown as escapes and never as they are.
func (m Message) String() string {
	var line strings.Builder
	line.WriteString(printable(m.Address))
	for _, argument := range m.Arguments {
		line.WriteByte(' ')
		printArgument(&line, argument, 0)
	}
	return line.String()
}

// String is that of the message, and says if its arguments are unknown.
func (h Heard) String() string {
	if h.Untyped {
		return h.Message.String() + " (sent without types, so its arguments can't be known)"
	}
	return h.Message.String()
}

// printable gives an address as it is if a person can read it, and quoted if not.
func printable(address string) string {
	unreadable := func(r rune) bool { return r == ' ' || r == '"' || r == unicode.ReplacementChar || !unicode.IsPrint(r) }
	if address == "" || strings.ContainsFunc(address, unreadable) {
		return strconv.Quote(address)
	}
	return address
}

func printArgument(line *strings.Builder, argument any, depth int) {
	switch v := argument.(type) {
	case nil:
		line.WriteString("N")
	case bool:
		line.WriteString(strings.ToUpper(strconv.FormatBool(v)[:1]))
	case int32:
		fmt.Fprintf(line, "i %d", v)
	case float32:
		fmt.Fprintf(line, "f %v", v)
	case int64:
		fmt.Fprintf(line, "h %d", v)
	case float64:
		fmt.Fprintf(line, "d %v", v)
	case string:
		fmt.Fprintf(line, "s %q", v)
	case []byte:
		printBlob(line, v)
	default:
		printOwn(line, argument, depth)
	}
}

func printBlob(line *strings.Builder, blob []byte) {
	fmt.Fprintf(line, "b (%d bytes)", len(blob))
	if len(blob) > shownBlob {
		fmt.Fprintf(line, " %x...", blob[:shownBlob])
	} else if len(blob) > 0 {
		fmt.Fprintf(line, " %x", blob)
	}
}

func printOwn(line *strings.Builder, argument any, depth int) {
	switch v := argument.(type) {
	case TimeTag:
		fmt.Fprintf(line, "t %s", v)
	case Symbol:
		fmt.Fprintf(line, "S %q", string(v))
	case Char:
		printChar(line, v)
	case Colour:
		fmt.Fprintf(line, "r %x", v[:])
	case MIDI:
		fmt.Fprintf(line, "m %x", v[:])
	case Impulse:
		line.WriteString("I")
	case Array:
		printArray(line, v, depth+1)
	default:
		fmt.Fprintf(line, "? %T", argument)
	}
}

func printChar(line *strings.Builder, c Char) {
	if utf8.ValidRune(rune(c)) && c != utf8.RuneError {
		fmt.Fprintf(line, "c %q", rune(c))
	} else {
		fmt.Fprintf(line, "c %d", c) // Nobody can read it as a character.
	}
}

func printArray(line *strings.Builder, array Array, depth int) {
	if depth > MaxArrayDepth {
		line.WriteString("[...]")
		return
	}
	line.WriteString("[")
	for _, element := range array {
		line.WriteByte(' ')
		printArgument(line, element, depth)
	}
	line.WriteString(" ]")
}

// String gives the moment in UTC, or "at once".
func (t TimeTag) String() string {
	if t <= AtOnce {
		return "at once"
	}
	return t.Time().Format("2006-01-02T15:04:05.000000Z")
}
