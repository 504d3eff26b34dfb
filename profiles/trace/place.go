package trace

import (
	"fmt"
	"slices"
	"strings"
)

// place is where a control's numbers stand in its messages.
type place struct {
	// pattern is the address with its counters in it: "/lane/{channel}/out/level".
	pattern string
	// slot is which of several values the control's is, from 1, and slots how many
	// there are.
	slot, slots int
}

// placing works out where the numbers of one control stand.
type placing struct {
	*learner
	// counters are all numbers of the control, in the order in which places are told;
	// varied are those that were moved at several.
	counters, varied []string
	seen             []sighting // the first is the base
}

// along gives the sightings that differ from the base in one number only, by it.
func (p *placing) along(counter string) map[int]sighting {
	base := p.seen[0]
	found := map[int]sighting{base.numbers[counter]: base}
	for _, s := range p.seen[1:] {
		same := true
		for _, other := range p.counters {
			same = same && (other == counter || s.numbers[other] == base.numbers[other])
		}
		if same {
			found[s.numbers[counter]] = s
		}
	}
	return found
}

// work finds the pattern, how the desk counts, and the arguments.
func (p *placing) work() (place, error) {
	for _, c := range p.varied {
		if len(p.along(c)) < 2 {
			other := 2
			if p.seen[0].numbers[c] == 2 {
				other = 1
			}
			return place{}, wanted{c, other}
		}
	}
	pattern, missing, err := p.address()
	if err != nil {
		return place{}, err
	}
	slot, slots, err := p.placeArguments(missing)
	return place{pattern: pattern, slot: slot, slots: slots}, err
}

// gap is where a number stands in the base's address.
type gap struct {
	from, to int
	counter  string
}

// address finds the numbers in the address, and those that are not there.
func (p *placing) address() (pattern string, missing []string, err error) {
	own := p.seen[0].own
	var gaps []gap
	for _, c := range p.counters {
		texts := make(map[int]string)
		for n, s := range p.along(c) {
			texts[n] = s.own
		}
		if !slices.Contains(p.varied, c) || allSame(texts) {
			missing = append(missing, c)
			continue
		}
		g, err := p.gap(c, texts)
		if err != nil {
			return "", nil, err
		}
		gaps = append(gaps, g)
	}
	slices.SortFunc(gaps, func(a, b gap) int { return a.from - b.from })
	at := 0
	for _, g := range gaps {
		if g.from < at {
			return "", nil, fmt.Errorf("%s: two numbers stand in one place of the address", own)
		}
		pattern += own[at:g.from] + "{" + g.counter + "}"
		at = g.to
	}
	return pattern + own[at:], missing, nil
}

func allSame(texts map[int]string) bool {
	first := ""
	for _, text := range texts {
		first = text
	}
	for _, text := range texts {
		if text != first {
			return false
		}
	}
	return true
}

// gap finds where a number stands in an address, by how the desk counts, which it may
// have to work out first.
func (p *placing) gap(counter string, texts map[int]string) (gap, error) {
	if _, known := p.counts[counter]; !known {
		_, _, words := varying(texts)
		c, err := learnCounting(counter, words, p.sizes[counter])
		if err != nil {
			return gap{}, err
		}
		if len(c) == 1 { // what stands around all of them belongs to the address
			c[0].before, c[0].after = "", ""
		}
		p.counts[counter] = c
	}
	n := p.seen[0].numbers[counter]
	for from := range texts[n] {
		if g := (gap{from: from, counter: counter}); p.fits(&g, texts, n) {
			return g, nil
		}
	}
	return gap{}, fmt.Errorf("%s: the desk counts its %s in another way here than elsewhere, which no profile can say", texts[n], plurals[counter])
}

// fits reports whether a number stands at a place of the address, and notes where it
// ends.
func (p *placing) fits(g *gap, texts map[int]string, base int) bool {
	word, ok := p.counts[g.counter].word(base)
	if !ok || !strings.HasPrefix(texts[base][g.from:], word) {
		return false
	}
	g.to = g.from + len(word)
	for n, text := range texts {
		word, ok := p.counts[g.counter].word(n)
		if !ok || text != texts[base][:g.from]+word+texts[base][g.to:] {
			return false
		}
	}
	return true
}
