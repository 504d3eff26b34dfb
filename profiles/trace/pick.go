package trace

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// sighting is the stream of a control at one place.
type sighting struct {
	*move
	*stream
	// own is the control's own address, without what a desk's answers have around it.
	own string
}

// pick finds, of all that was heard while a control was moved, the stream that is the
// control itself, at the first place and at the others.
func (s *session) pick(first *move, others []*move) ([]sighting, error) {
	elsewhere := make(map[uint64]bool)
	all := make(map[*move][]*stream)
	for _, m := range others {
		all[m] = slices.DeleteFunc(m.streams(), func(q *stream) bool { return s.noisy[q.key] })
		for _, q := range all[m] {
			elsewhere[q.key] = true
		}
	}
	base, err := pickFirst(first, s.noisy, elsewhere)
	if err != nil {
		return nil, err
	}
	found := []sighting{{move: first, stream: base}}
	for _, m := range others {
		like := pickLike(base, all[m])
		if like == nil {
			return nil, fmt.Errorf("nothing like %s was heard while %s: move it again there", base.address, m.say())
		}
		found = append(found, sighting{move: m, stream: like})
	}
	return found, nil
}

// pickFirst finds the stream with as many values as there were words, or else with the
// most; at best one that came at no other place.
func pickFirst(m *move, noisy, elsewhere map[uint64]bool) (*stream, error) {
	wanted := 0
	if len(m.words) > 0 {
		wanted = countDistinct(m.words)
	}
	var best *stream
	var bestRank [3]int
	for _, q := range m.streams() {
		n := q.distinct()
		if noisy[q.key] || n < 2 {
			continue
		}
		rank := [3]int{0, 0, n}
		if n == wanted {
			rank[0] = 1
		}
		if !elsewhere[q.key] {
			rank[1] = 1
		}
		if best == nil || slices.Compare(rank[:], bestRank[:]) > 0 {
			best, bestRank = q, rank
		}
	}
	switch {
	case best == nil && m.unread > 0:
		return nil, fmt.Errorf("%s that came while it was moved can't be read: no OSC, or arguments without types", howMany(m.unread, "message"))
	case best == nil:
		return nil, errors.New("no message with a value that changes was heard while it was moved: move it again, and see that the desk tells its changes")
	case wanted > 0 && bestRank[0] == 0:
		return nil, fmt.Errorf("%d positions were named and %d values came (%s): put it into each position in turn", wanted, bestRank[2], best.address)
	}
	return best, nil
}

func countDistinct(words []string) int {
	sorted := slices.Sorted(slices.Values(words))
	return len(slices.Compact(sorted))
}

// pickLike finds the stream at another place that is most like one, but not the same.
func pickLike(base *stream, streams []*stream) *stream {
	var best *stream
	var bestRank [2]int
	for _, q := range streams {
		if q.index != base.index || len(q.arguments) != len(base.arguments) || q.key == base.key || !sameType(q.values[0], base.values[0]) {
			continue
		}
		rank := [2]int{-differences(q, base), q.distinct()}
		if best == nil || slices.Compare(rank[:], bestRank[:]) > 0 {
			best, bestRank = q, rank
		}
	}
	return best
}

func sameType(a, b any) bool { return fmt.Sprintf("%T", a) == fmt.Sprintf("%T", b) }

// differences counts the parts of the address and the arguments in which two differ.
// Another number of parts counts as many.
func differences(a, b *stream) int {
	x, y := strings.Split(a.address, "/"), strings.Split(b.address, "/")
	n := 100 * max(cmp.Compare(len(x), len(y)), cmp.Compare(len(y), len(x)))
	for i := range min(len(x), len(y)) {
		if x[i] != y[i] {
			n++
		}
	}
	for i := range a.arguments {
		if i != a.index && a.arguments[i] != b.arguments[i] {
			n++
		}
	}
	return n
}
