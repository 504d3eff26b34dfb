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
func (p *Profile) blockQuestions(parameters []Parameter) (questions []osc.Question[Parameter], rest []Parameter) {
	rest = parameters
	for _, b := range p.blocks {
		wanted, places, left := p.wantedOf(b, rest)
		for _, at := range places {
			of := wanted[at]
			if !p.worth(b, of) {
				left = append(left, of...)
				continue
			}
			questions = append(questions, osc.Question[Parameter]{Message: b.question(at, p.numbers).message(nil), Keys: of})
		}
		rest = left
	}
	return questions, rest
}

// wantedOf sorts out of the parameters those that a block brings, by the place to ask
// about, which it lists in their order.
func (p *Profile) wantedOf(b block, parameters []Parameter) (wanted map[Place][]Parameter, places []Place, left []Parameter) {
	wanted = make(map[Place][]Parameter)
	for _, q := range parameters {
		if !p.inBlock(b, q) {
			left = append(left, q)
			continue
		}
		at := b.place(q)
		if wanted[at] == nil {
			places = append(places, at)
		}
		wanted[at] = append(wanted[at], q)
	}
	return wanted, places, left
}

// inBlock reports whether a block brings an answer about a parameter.
func (p *Profile) inBlock(b block, q Parameter) bool {
	e := p.entries[q]
	return e.unit != nil && e.control.reach == OverOSC && b.covers(q)
}

// worth reports whether a block is to be asked for to learn of these parameters.
func (p *Profile) worth(b block, wanted []Parameter) bool {
	units := make(map[*unit]struct{}, len(wanted))
	for _, q := range wanted {
		u := p.entries[q].unit
		if !u.askable {
			return true
		}
		units[u] = struct{}{}
	}
	return len(units) >= blockWorth && len(units)*blockShare >= b.size
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
	if len(p.blockAsks) == 0 {
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
	all := p.parameters
	if b.part != Console {
		all = p.At(at)
	}
	var found []Parameter
	seen := make(map[*unit]struct{})
	for _, q := range all {
		if !p.inBlock(b, q) {
			continue
		}
		u := p.entries[q].unit
		if _, done := seen[u]; !done {
			seen[u] = struct{}{}
			found = append(found, q)
		}
	}
	return found
}

// bySize orders blocks so that the one that brings most comes first.
func bySize(blocks []block) {
	slices.SortStableFunc(blocks, func(a, b block) int { return cmp.Compare(b.size, a.size) })
}
