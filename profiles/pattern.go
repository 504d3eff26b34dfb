package profiles

import (
	"fmt"
	"slices"
	"strings"

	"deskhand/profiles/source"
)

// The limits of an address map. Together they bound the memory of a profile.
const (
	// maxAddresses bounds what one pattern may expand to. A desk with more of one
	// parameter than that is a slip of the pen.
	maxAddresses = 100_000
	// maxInAll bounds what a whole profile may expand to.
	maxInAll = 250_000
	// maxPattern bounds a pattern, in bytes.
	maxPattern = 200
)

// pattern is an OSC address with places in it: "/lane/{channel}/tone/{band}/hz".
type pattern struct {
	// literals has one text more than counters: they alternate.
	literals []string
	counters []string
	text     string
}

// parsePattern reads an address pattern. The counters that may stand in it are those
// of its parameter; "at" among them is the parameter's own address, which may begin it.
func parsePattern(address string, wanted []string) (pattern, error) {
	if len(address) > maxPattern {
		return pattern{}, fmt.Errorf("an address of %d bytes: at most %d are allowed", len(address), maxPattern)
	}
	if own := slices.Contains(wanted, "at") && strings.HasPrefix(address, "{at}"); !own && !strings.HasPrefix(address, "/") {
		return pattern{}, fmt.Errorf("address %q: an OSC address begins with /", address)
	}
	if strings.HasSuffix(address, "/") || strings.Contains(address, "//") {
		return pattern{}, fmt.Errorf("address %q: there is nothing after a /", address)
	}
	p := pattern{text: address}
	rest := address
	for {
		literal, after, found := strings.Cut(rest, "{")
		if err := checkLiteral(address, literal); err != nil {
			return pattern{}, err
		}
		p.literals = append(p.literals, literal)
		if !found {
			break
		}
		counter, tail, closed := strings.Cut(after, "}")
		if !closed {
			return pattern{}, fmt.Errorf("address %q: a { is not closed", address)
		}
		if !slices.Contains(wanted, counter) {
			return pattern{}, fmt.Errorf("address %q: there is no {%s} here%s", address, counter, source.DidYouMean(counter, wanted))
		}
		p.counters = append(p.counters, counter)
		rest = tail
	}
	return p, nil
}

// checkLiteral refuses what OSC 1.0 doesn't allow in an address.
func checkLiteral(address, literal string) error {
	for _, r := range literal {
		if r <= ' ' || r > '~' || strings.ContainsRune("#*,?[]{}", r) {
			return fmt.Errorf("address %q: %q can't be part of an OSC address", address, r)
		}
	}
	return nil
}

// fill gives the address for the numbers of its counters.
func (p pattern) fill(numbers map[string]int, written map[string]numbering) string {
	return p.fillAround("", numbers, written)
}

// fillAround gives the address around another one, which {at} stands for.
func (p pattern) fillAround(own string, numbers map[string]int, written map[string]numbering) string {
	filled := make([]byte, 0, len(p.text)+len(own)+8)
	for i, counter := range p.counters {
		filled = append(filled, p.literals[i]...)
		switch counter {
		case "at":
			// After something else it stands without its slash: "/get{at}" and "/get/{at}" are one.
			if before := len(filled); before > 0 && filled[before-1] == '/' {
				own = strings.TrimPrefix(own, "/")
			}
			filled = append(filled, own...)
		default:
			filled = written[counter].appendWord(filled, numbers[counter])
		}
	}
	return string(append(filled, p.literals[len(p.literals)-1]...))
}

// size is how many addresses the counters expand to, or uncounted where it is more.
func size(counters []string, counts map[string]int) int {
	n := 1
	for _, counter := range counters {
		n = min(n*counts[counter], uncounted)
	}
	return n
}

// uncounted is where size stops counting, so far below the largest int that neither
// another counter nor a sum over a whole profile can overflow.
const uncounted = 1_000_000_000_000
