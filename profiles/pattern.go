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
// of its parameter.
func parsePattern(address string, wanted []string) (pattern, error) {
	if len(address) > maxPattern {
		return pattern{}, fmt.Errorf("an address of %d bytes: at most %d are allowed", len(address), maxPattern)
	}
	if !strings.HasPrefix(address, "/") {
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
	var b strings.Builder
	for i, counter := range p.counters {
		b.WriteString(p.literals[i])
		b.WriteString(written[counter].word(numbers[counter]))
	}
	b.WriteString(p.literals[len(p.literals)-1])
	return b.String()
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
