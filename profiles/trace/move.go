package trace

import (
	"fmt"
	"hash/maphash"
	"maps"
	"slices"

	"deskhand/osc"
	"deskhand/profiles"
)

// move is what was heard while one control was moved, and shown for it.
type move struct {
	parameter profiles.Parameter
	// numbers are those of its place and its name, by counter.
	numbers map[string]int
	sweep   bool
	words   []string
	steps   int
	sets    string
	items   []item
	// unread is how many packets and messages came that nothing can be read of.
	unread int
}

// item is a message, or what the desk showed after it.
type item struct {
	message osc.Heard
	shows   string
}

// session is a recording, sorted by what was moved.
type session struct {
	quiet  move
	moves  []*move // in order
	by     map[profiles.Parameter]*move
	counts map[string]int
	// noisy are the keys of the streams that vary while nobody touches the desk.
	noisy map[uint64]bool
}

// maxHeard bounds the messages of one move.
const maxHeard = 20_000

// sorted puts a recording's messages to what was moved when they came. What came
// before any mark came by itself.
func (r *Recording) sorted() (*session, error) {
	s := &session{by: make(map[profiles.Parameter]*move), counts: make(map[string]int), noisy: make(map[uint64]bool)}
	at := &s.quiet
	for _, e := range r.Events {
		if e.Packet == nil {
			at = s.mark(at, e.Mark)
			continue
		}
		messages, err := osc.Decode(e.Packet)
		if err != nil {
			at.unread++
			continue
		}
		for _, m := range messages {
			switch {
			case m.Untyped:
				at.unread++
			case len(m.Arguments) > 0:
				at.items = append(at.items, item{message: m})
			}
		}
		if len(at.items) > maxHeard {
			return nil, fmt.Errorf("more than %d messages came while %s: is the desk telling its meters? record it without them", maxHeard, at.say())
		}
	}
	for _, q := range s.quiet.streams() {
		if q.distinct() > 1 {
			s.noisy[q.key] = true
		}
	}
	return s, nil
}

func (m *move) say() string {
	if m.parameter == (profiles.Parameter{}) {
		return "nothing was moved"
	}
	return m.parameter.String() + " was moved"
}

// mark takes a mark, and gives the move that it leads to.
func (s *session) mark(at *move, m Mark) *move {
	switch m.Kind {
	case Quiet:
		return &s.quiet
	case Moved:
		if at = s.by[m.Parameter]; at == nil {
			at = newMove(m.Parameter)
			s.by[m.Parameter], s.moves = at, append(s.moves, at)
		}
		if m.Sweep || len(m.Words) > 0 { // done again: only the last time counts
			at.items, at.sweep, at.words, at.steps = nil, m.Sweep, m.Words, 0
		}
	case Shows:
		at.items = append(at.items, item{shows: m.Text})
	case Steps:
		at.steps = m.Count
	case Sets:
		at.sets = m.Text
	case Desk:
		maps.Copy(s.counts, m.Counts)
	}
	return at
}

func newMove(q profiles.Parameter) *move {
	_, numbers := profiles.Family(q.Name)
	if numbers == nil {
		numbers = make(map[string]int)
	}
	if n := q.Place.Number; n > 0 {
		numbers[q.Place.Part.String()] = n
	}
	return &move{parameter: q, numbers: numbers}
}

// stream is one argument of the messages at one address, while all others stay.
type stream struct {
	key     uint64
	address string
	index   int
	// arguments are those of its first message; the one at index is the first value.
	arguments []any
	values    []any
	// at is where in the move each value came.
	at []int
}

const (
	maxStreams = 200_000
	// maxArguments is the most that a message about one control has, and maxAddress the
	// longest address, in bytes.
	maxArguments = 80
	maxAddress   = 500
)

var seed = maphash.MakeSeed()

// streams sorts what was heard in a move by what stays and what varies.
func (m *move) streams() []*stream {
	var found []*stream
	by := make(map[uint64]*stream)
	for i, it := range m.items {
		if it.shows != "" || !mayBeOfAControl(it.message) {
			continue
		}
		keys := keysOf(it.message)
		for j, value := range it.message.Arguments {
			if !canHold(value) || len(found) >= maxStreams {
				continue
			}
			s := by[keys[j]]
			if s == nil {
				s = &stream{key: keys[j], address: it.message.Address, index: j, arguments: it.message.Arguments}
				by[keys[j]], found = s, append(found, s)
			}
			s.values, s.at = append(s.values, value), append(s.at, i)
		}
	}
	return found
}

func mayBeOfAControl(m osc.Heard) bool {
	return len(m.Address) <= maxAddress && len(m.Arguments) <= maxArguments && !slices.ContainsFunc(m.Arguments, isList)
}

// isList reports whether an argument is bytes or an array, beside which no control's
// value stands.
func isList(argument any) bool {
	switch argument.(type) {
	case []byte, osc.Array:
		return true
	}
	return false
}

// canHold reports whether a control's value can be of this type.
func canHold(argument any) bool {
	switch argument.(type) {
	case int32, float32, int64, float64, bool, string, osc.Symbol:
		return true
	}
	return false
}

// keysOf gives a key for each argument of a message, which is the same for two messages
// that differ in that argument only.
func keysOf(m osc.Heard) []uint64 {
	type part struct {
		at    int
		value any
	}
	hashes, all := make([]uint64, len(m.Arguments)), uint64(0)
	for j, a := range m.Arguments {
		hashes[j] = maphash.Comparable(seed, part{j, a})
		all += hashes[j]
	}
	type rest struct {
		address  string
		at, many int
		others   uint64
	}
	keys := make([]uint64, len(hashes))
	for j, h := range hashes {
		keys[j] = maphash.Comparable(seed, rest{m.Address, j, len(hashes), all - h})
	}
	return keys
}

// changes lists the values without those that only repeat the one before.
func (s *stream) changes() []any {
	var list []any
	for _, v := range s.values {
		if len(list) == 0 || list[len(list)-1] != v {
			list = append(list, v)
		}
	}
	return list
}

// distinct is how many different values there are.
func (s *stream) distinct() int {
	seen := make(map[any]struct{})
	for _, v := range s.values {
		seen[v] = struct{}{}
	}
	return len(seen)
}
