package trace

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Event is a packet as it came from the desk, or a mark.
type Event struct {
	// At is when, from the beginning of the recording.
	At time.Duration
	// Packet is nil for a mark.
	Packet []byte
	Mark   Mark
}

// Recording is what was heard and marked, in order.
type Recording struct {
	// File is where it was read from, for messages.
	File   string
	Events []Event
}

// Kind is what sort of mark something is.
type Kind uint8

// The kinds of mark.
const (
	// Note says something to people.
	Note Kind = iota
	// Quiet begins a time in which nobody touched the desk: what comes then comes by itself.
	Quiet
	// Moved begins the move of a control.
	Moved
	// Shows is what the desk showed for the control when the last message had come.
	Shows
	// Steps is how many steps the control has, as the user knows it.
	Steps
	// Sets is the address that sets the control, where it is not the one that reports it.
	Sets
	// Desk is how many channels, mixes, bands and groups there are.
	Desk
)

// String is the word that a mark of this kind begins with.
func (k Kind) String() string { return kindNames[k] }

var kindNames = []string{"note", "quiet", "moved", "shows", "steps", "sets", "desk"}

// Mark is a line about what was done while the packets came.
type Mark struct {
	Kind Kind
	// Parameter is the control of a Moved.
	Parameter profiles.Parameter
	// Sweep says that it was moved from the bottom to the top, slowly.
	Sweep bool
	// Words are the positions that a switch or choice was put into, in order.
	Words []string
	// Text is that of a Note, what was shown, or an address.
	Text string
	// Count is the number of a Steps.
	Count int
	// Counts are the numbers of a Desk, by the word in the singular: "channel".
	Counts map[string]int
}

const (
	sweeping = "from bottom to top"
	// maxCount bounds the numbers of a mark.
	maxCount = 100_000
)

var counters = []string{"channel", "mix", "band", "group"}

var plurals = map[string]string{"channel": "channels", "mix": "mixes", "band": "bands", "group": "groups"}

// String gives the mark as its line in a trace has it, without the "# ". A text is
// one line.
func (m Mark) String() string {
	rest := ""
	switch m.Kind {
	case Quiet:
		return "quiet"
	case Moved:
		rest = m.Parameter.String()
		if m.Sweep {
			rest += " " + sweeping
		} else if len(m.Words) > 0 {
			rest += " " + strings.Join(m.Words, ", ")
		}
	case Steps:
		rest = strconv.Itoa(m.Count)
	case Desk:
		var parts []string
		for _, c := range counters {
			if n, ok := m.Counts[c]; ok {
				parts = append(parts, plurals[c]+" "+strconv.Itoa(n))
			}
		}
		rest = strings.Join(parts, ", ")
	default:
		rest = oneLine(m.Text)
	}
	return m.Kind.String() + ": " + rest
}

// oneLine leaves nothing in a text that ends a line or moves a terminal.
func oneLine(text string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == '\u2028' || r == '\u2029' || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, text))
}

// ParseMark reads a mark as [Mark.String] writes it.
func ParseMark(line string) (Mark, error) {
	word, rest, _ := strings.Cut(oneLine(line), ":")
	word, rest = strings.TrimSpace(word), strings.TrimSpace(rest)
	i := slices.Index(kindNames, word)
	if i < 0 {
		return Mark{}, fmt.Errorf("no mark begins with %q%s", word, source.DidYouMean(word, kindNames))
	}
	m := Mark{Kind: Kind(i)}
	switch m.Kind {
	case Quiet:
		if rest != "" {
			return Mark{}, fmt.Errorf("quiet stands alone, without %q", rest)
		}
		return m, nil
	case Moved:
		return parseMoved(m, rest)
	case Steps:
		n, err := parseCount(rest)
		if err != nil || n < 2 {
			return Mark{}, fmt.Errorf("steps: %q: write how many steps the control has, 2 to %d", rest, maxCount)
		}
		m.Count = n
		return m, nil
	case Desk:
		return parseDesk(m, rest)
	case Sets:
		if !strings.HasPrefix(rest, "/") {
			return Mark{}, fmt.Errorf("sets: %q: write the address that sets the control, as /lane/1/level", rest)
		}
	case Shows:
		if rest == "" {
			return Mark{}, fmt.Errorf("shows: write what the desk showed, as -6.0 dB")
		}
	}
	m.Text = rest
	return m, nil
}

func parseCount(text string) (int, error) {
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > maxCount {
		return 0, fmt.Errorf("%q is no number from 0 to %d", text, maxCount)
	}
	return n, nil
}

func parseMoved(m Mark, rest string) (Mark, error) {
	path, way, _ := strings.Cut(rest, " ")
	q, err := profiles.ParseParameter(path)
	if err != nil {
		return Mark{}, fmt.Errorf("moved: %w", err)
	}
	m.Parameter = q
	switch way = strings.TrimSpace(way); way {
	case "":
	case sweeping:
		m.Sweep = true
	default:
		for word := range strings.SplitSeq(way, ",") {
			if word = strings.TrimSpace(word); word == "" {
				return Mark{}, fmt.Errorf("moved: %q: write %q, or the positions it was put into: on, off, on", way, sweeping)
			}
			m.Words = append(m.Words, word)
		}
	}
	return m, nil
}

func parseDesk(m Mark, rest string) (Mark, error) {
	m.Counts = make(map[string]int)
	for part := range strings.SplitSeq(rest, ",") {
		word, number, _ := strings.Cut(strings.TrimSpace(part), " ")
		i := slices.IndexFunc(counters, func(c string) bool { return plurals[c] == word })
		if i < 0 {
			return Mark{}, fmt.Errorf("desk: %q is none of channels, mixes, bands, groups", word)
		}
		n, err := parseCount(strings.TrimSpace(number))
		if err != nil {
			return Mark{}, fmt.Errorf("desk: %s: %w", word, err)
		}
		m.Counts[counters[i]] = n
	}
	return m, nil
}
