package profiles

import (
	"cmp"
	"slices"
	"strings"

	"deskhand/osc"
)

// block is a question that the desk answers with many answers: for a whole channel, a
// part of it, or the whole desk.
type block struct {
	template
	// part is where it asks, Console for the whole desk; prefix is the beginning of
	// the names it asks about, "" for all.
	part   Part
	prefix string
	// size is how many answers it brings at one place.
	size int
	// line is where the profile says so, 0 where the one it is based on does.
	line int
}

// A block is asked for, rather than each parameter by itself, if enough of its answers
// are wanted: some in any case, and not too small a share of what would come.
const (
	blockWorth = 3
	blockShare = 8 // one in so many
)

// covers reports whether the block's question is about a parameter.
func (b block) covers(q Parameter) bool {
	if b.part != Console && q.Place.Part != b.part {
		return false
	}
	rest, ok := strings.CutPrefix(q.Name, b.prefix)
	return ok && (b.prefix == "" || rest == "" || rest[0] == '.')
}

// place is the place that the block asks about to learn of a parameter.
func (b block) place(q Parameter) Place {
	if b.part == Console {
		return Place{}
	}
	return q.Place
}

// question is the block's question about a place.
func (b block) question(at Place, written map[string]numbering) layout {
	numbers := map[string]int{}
	if at.Number > 0 {
		numbers[at.Part.String()] = at.Number
	}
	return b.fill(spot{numbers: numbers}, written)
}

// blockQuestions takes out of the parameters those that are best asked about together,
// and gives the questions and the rest. The blocks that bring most come first.
func (p *Profile) blockQuestions(ordinals []Ordinal) (questions []osc.Question[Ordinal], rest []Ordinal) {
	rest = ordinals
	for _, b := range p.blocks {
		wanted, left := p.wantedOf(b, rest)
		for _, w := range wanted {
			if !p.worth(b, w.of) {
				left = append(left, w.of...)
				continue
			}
			questions = append(questions, osc.Question[Ordinal]{Message: b.question(w.at, p.numbers).message(nil), Keys: w.of})
		}
		rest = left
	}
	return questions, rest
}

// wanted are the parameters that a block brings at one place.
type wanted struct {
	at Place
	of []Ordinal
}

// wantedOf sorts out of the parameters those that a block brings, by the place to ask
// about, in the order of the places.
func (p *Profile) wantedOf(b block, ordinals []Ordinal) (all []wanted, left []Ordinal) {
	known := make(map[Place]int)
	at := -1 // the place of the last one: most come place by place
	for _, o := range ordinals {
		q := p.Parameter(o)
		if !inBlock(b, q, p.entry(o)) {
			left = append(left, o)
			continue
		}
		place := b.place(q)
		if at < 0 || all[at].at != place {
			i, begun := known[place]
			if !begun {
				i = len(all)
				known[place], all = i, append(all, wanted{at: place})
			}
			at = i
		}
		all[at].of = append(all[at].of, o)
	}
	return all, left
}

// inBlock reports whether a block brings an answer about a parameter.
func inBlock(b block, q Parameter, e *entry) bool {
	return e.unit != nil && e.control.reach == OverOSC && b.covers(q)
}

// worth reports whether a block is to be asked for to learn of these parameters.
func (p *Profile) worth(b block, of []Ordinal) bool {
	units := make(map[*unit]struct{})
	for _, o := range of {
		u := p.entry(o).unit
		if !u.askable {
			return true
		}
		units[u] = struct{}{}
		if len(units) >= blockWorth && len(units)*blockShare >= b.size {
			return true
		}
	}
	return false
}

// blockAsks finds the block and the place that a question is about.
type blockAsks map[string]blockAt

type blockAt struct {
	block
	at Place
}

// keyOf is the key of a question with these arguments.
func (blockAsks) keyOf(address string, arguments []any) string {
	key := append([]byte(address), 0)
	for _, a := range arguments {
		key = appendKey(key, a)
	}
	return string(key)
}

// blockAsked gives what a block's question asks about at the desk's end, one parameter
// for each answer that the desk owes.
func (p *Profile) blockAsked(h osc.Heard) []Parameter {
	if len(p.blockAsks) == 0 || len(h.Arguments) > maxArguments {
		return nil
	}
	asked, ok := p.blockAsks[p.blockAsks.keyOf(h.Address, h.Arguments)]
	if !ok {
		return nil
	}
	return p.brings(asked.block, asked.at)
}

// brings lists the first parameter of each answer of a block.
func (p *Profile) brings(b block, at Place) []Parameter {
	first, end := 0, len(p.parameters)
	if b.part != Console {
		first, end = p.span(at)
	}
	var found []Parameter
	seen := make(map[*unit]struct{})
	for i := first; i < end; i++ {
		q, e := p.parameters[i], &p.listed[i]
		if !inBlock(b, q, e) {
			continue
		}
		if _, done := seen[e.unit]; !done {
			seen[e.unit] = struct{}{}
			found = append(found, q)
		}
	}
	return found
}

// bySize orders blocks so that the one that brings most comes first.
func bySize(blocks []block) {
	slices.SortStableFunc(blocks, func(a, b block) int { return cmp.Compare(b.size, a.size) })
}
