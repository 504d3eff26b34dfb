package trace

import (
	"bufio"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"deskhand/osc"
	"deskhand/profiles/source"
)

// head is the first line of every trace.
const head = "# deskhand trace"

// The limits of a trace that is read.
const (
	// MaxEvents bounds how many packets and marks there are.
	MaxEvents = 200_000
	// maxBytes bounds the packets and the marks in all.
	maxBytes = 64 << 20
	maxLine  = 2*osc.MaxPacket + 1<<17
	// maxFaults is how many faults are told at most.
	maxFaults = 20
)

// Read reads a trace: after its first line one packet or mark a line. A packet is the
// seconds from the beginning, the bytes as hex and, for people only, after a "|" what
// they say. A mark follows "# ". Empty lines say nothing. The error, if any, is of type
// [source.Faults] or the reader's own.
func Read(file string, from io.Reader) (*Recording, error) {
	lines := bufio.NewScanner(from)
	lines.Buffer(make([]byte, 0, 1<<12), maxLine)
	r := &Recording{File: file}
	var faults source.Faults
	var bytes int
	fault := func(line int, format string, args ...any) {
		faults = append(faults, &source.Fault{File: file, Line: line, What: fmt.Sprintf(format, args...)})
	}
	n, moved := 0, false
	for lines.Scan() && len(faults) < maxFaults {
		n++
		line := strings.TrimSpace(lines.Text())
		if n == 1 {
			if line != head {
				fault(1, "this is no trace: the first line of one is %q", head)
				return nil, faults
			}
			continue
		}
		if line == "" {
			continue
		}
		e, err := parseEvent(line, r.last())
		if bytes += len(e.Packet); e.Packet == nil {
			bytes += len(line)
		}
		switch e.Mark.Kind {
		case Moved, Quiet:
			moved = e.Mark.Kind == Moved
		case Shows, Steps, Sets:
			if err == nil && !moved {
				err = fmt.Errorf("%s: no control was moved before it: write \"# moved: ...\" above", e.Mark.Kind)
			}
		}
		switch {
		case err != nil:
			fault(n, "%s", err)
		case len(r.Events) >= MaxEvents || bytes > maxBytes:
			fault(n, "a trace has %d lines and %d bytes at most: record fewer controls at a time", MaxEvents, maxBytes)
			return nil, faults
		default:
			r.Events = append(r.Events, e)
		}
	}
	switch err := lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		fault(n+1, "the line is longer than that of any packet")
	case err != nil:
		return nil, fmt.Errorf("read %s: %w", file, err)
	case n == 0:
		fault(0, "this is no trace: the first line of one is %q", head)
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	return r, nil
}

// last is when the last event was.
func (r *Recording) last() time.Duration {
	if len(r.Events) == 0 {
		return 0
	}
	return r.Events[len(r.Events)-1].At
}

// parseEvent reads a line. A mark stands at the time of what came before it.
func parseEvent(line string, before time.Duration) (Event, error) {
	if mark, ok := strings.CutPrefix(line, "#"); ok {
		m, err := ParseMark(strings.TrimSpace(mark))
		return Event{At: before, Mark: m}, err
	}
	line, _, _ = strings.Cut(line, "|")
	word, packet, _ := strings.Cut(strings.TrimSpace(line), " ")
	seconds, err := strconv.ParseFloat(word, 64)
	if err != nil || !(seconds >= 0 && seconds <= 1e7) || strings.ContainsAny(word, "xXpP_") {
		return Event{}, fmt.Errorf("%s is no time: a line is the seconds from the beginning, then the packet as hex", shorten(word))
	}
	at := time.Duration(seconds * float64(time.Second)).Round(time.Millisecond)
	if at < before {
		return Event{}, fmt.Errorf("%s s is before the line above it", shorten(word))
	}
	e := Event{At: at}
	if e.Packet, err = hex.DecodeString(strings.TrimSpace(packet)); err != nil || len(e.Packet) == 0 {
		return Event{}, fmt.Errorf("%s is no packet: write its bytes as hex, two figures each", shorten(packet))
	}
	if len(e.Packet) > osc.MaxPacket {
		return Event{}, fmt.Errorf("a packet of %d bytes: at most %d fit into one", len(e.Packet), osc.MaxPacket)
	}
	return e, nil
}

// shorten quotes a text of which the beginning says enough.
func shorten(text string) string { return strconv.Quote(source.Shortened(text, 24)) }

// Writer writes a trace as it comes, a line at a time.
type Writer struct{ to io.Writer }

// NewWriter begins a trace.
func NewWriter(to io.Writer) (*Writer, error) {
	_, err := fmt.Fprintln(to, head)
	return &Writer{to}, err
}

// Add writes one event.
func (w *Writer) Add(e Event) error {
	if e.Packet == nil {
		_, err := fmt.Fprintf(w.to, "# %s\n", e.Mark)
		return err
	}
	_, err := fmt.Fprintf(w.to, "%.3f %x | %s\n", e.At.Seconds(), e.Packet, inWords(e.Packet))
	return err
}

// maxWords bounds what a line says of a packet for people, in bytes.
const maxWords = 400

// inWords says what a packet holds.
func inWords(packet []byte) string {
	messages, err := osc.Decode(packet)
	if err != nil {
		return oneLine("no OSC: " + err.Error())
	}
	var b strings.Builder
	for i, m := range messages {
		if i > 0 {
			b.WriteString("; ")
		}
		b.WriteString(m.String())
		if b.Len() > maxWords {
			return oneLine(strings.ToValidUTF8(b.String()[:maxWords], "?")) + " ..."
		}
	}
	return oneLine(b.String())
}
