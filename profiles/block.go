package profiles

import (
	"slices"
	"strings"

	"deskhand/osc"
	"deskhand/profiles/source"
)

// block is a question that the desk answers with many answers: for a whole channel, a
// part of it, or the whole desk.
type block struct {
	template
	// part is where it asks, Console for the whole desk; prefix is the beginning of
	// the names it asks about, as words, none for all.
	part   Part
	prefix []string
}

// blockWorth is how many parameters must be wanted of a block for it to be asked,
// rather than each by itself.
const blockWorth = 3

// covers reports whether the block's question is about a parameter.
func (b block) covers(q Parameter) bool {
	if b.part == Console {
		return true
	}
	words := strings.Split(q.Name, ".")
	return q.Place.Part == b.part && len(words) >= len(b.prefix) && slices.Equal(words[:len(b.prefix)], b.prefix)
}

// question is the block's question for the place of a parameter.
func (b block) question(q Parameter, written map[string]numbering) osc.Message {
	numbers := map[string]int{}
	if b.part != Console && b.part != Main {
		numbers[b.part.String()] = q.Place.Number
	}
	return b.fill("", nil, numbers, written).message(nil)
}

// blocks reads [[block]].
func (l *loader) blocks() {
	if !l.root.Has("block") {
		return
	}
	list, ok := l.root.Tables("block")
	if !ok {
		return
	}
	l.profile.blocks = nil
	for _, t := range list {
		if b, ok := l.block(t); ok {
			l.profile.blocks = append(l.profile.blocks, b)
		}
	}
}

func (l *loader) block(t *source.Table) (block, bool) {
	of, ok := t.Text("of")
	if !ok {
		if !t.Has("of") {
			t.Fault("", `[[block]] does not say what it is about: write of = "desk", "channel" or "channel.eq"`)
		}
		return block{}, false
	}
	words := strings.Split(of, ".")
	i := slices.Index(partNames[:], words[0])
	if i < 0 || i == int(Console) && len(words) > 1 {
		t.Fault("of", "of = %q: it begins with a part of the desk%s", of, source.DidYouMean(words[0], partNames[:]))
		return block{}, false
	}
	b := block{part: Part(i), prefix: words[1:]}
	at, ok := t.Text("at")
	if !ok {
		if !t.Has("at") {
			t.Fault("", `[[block]] has no address: write at = "/..."`)
		}
		return block{}, false
	}
	var counters []string
	if b.part == Channel || b.part == Mix {
		counters = []string{b.part.String()}
	}
	p, err := parsePattern(at, counters)
	if err != nil {
		t.Fault("at", "%s", err)
		return block{}, false
	}
	b.at = at
	if list, ok := t.List("arguments"); ok && !b.readArguments(t, list) {
		return block{}, false
	}
	for _, counter := range counters {
		if !b.holds(counter, pattern{}) && !slices.Contains(p.counters, counter) {
			t.Fault("at", "address %q: {%s} is missing, so that it is not clear which %s is asked about", at, counter, counter)
			return block{}, false
		}
	}
	return b, true
}

func (b *block) readArguments(t *source.Table, list []any) bool {
	for i, raw := range list {
		it, err := readItem(raw)
		if err == nil && (it.what == itemValue || it.what == itemAt || it.what == itemPlace) {
			t.Fault("arguments", "argument %d: a block's question holds numbers of places and constants only", i+1)
			return false
		}
		if err != nil {
			t.Fault("arguments", "argument %d: %s", i+1, err)
			return false
		}
		b.args = append(b.args, it)
	}
	return true
}

// blockQuestions takes out of the parameters those that are best asked about together,
// and gives the questions and the rest.
func (p *Profile) blockQuestions(parameters []Parameter) (questions []osc.Question[Parameter], rest []Parameter) {
	rest = parameters
	for _, b := range p.blocks {
		at := make(map[string]int)
		var left []Parameter
		var asked []osc.Question[Parameter]
		for _, q := range rest {
			if e := p.entries[q]; e.unit == nil || e.control.reach != OverOSC || !b.covers(q) {
				left = append(left, q)
				continue
			}
			message := b.question(q, p.numbers)
			key := message.String()
			i, begun := at[key]
			if !begun {
				i = len(asked)
				at[key], asked = i, append(asked, osc.Question[Parameter]{Message: message})
			}
			asked[i].Keys = append(asked[i].Keys, q)
		}
		for _, question := range asked {
			if len(question.Keys) >= blockWorth || !p.askableAlone(question.Keys[0]) {
				questions = append(questions, question)
				continue
			}
			left = append(left, question.Keys...)
		}
		rest = left
	}
	return questions, rest
}

func (p *Profile) askableAlone(q Parameter) bool { return p.entries[q].unit.askable }

// blockAsked gives what a block's question asks about at the desk's end, one parameter
// for each answer that the desk owes.
func (p *Profile) blockAsked(h osc.Heard) []Parameter {
	for _, b := range p.blocks {
		if !strings.HasPrefix(h.Address, b.at[:strings.IndexByte(b.at+"{", '{')]) {
			continue
		}
		var found []Parameter
		var last *unit
		asked := h.Message.String()
		matches := make(map[Place]bool)
		for _, q := range p.parameters {
			u := p.entries[q].unit
			if u == nil || u == last || u.first() != q || !b.covers(q) {
				continue
			}
			match, known := matches[q.Place]
			if !known {
				match = b.question(q, p.numbers).String() == asked
				matches[q.Place] = match
			}
			if match {
				found, last = append(found, q), u
			}
		}
		if len(found) > 0 {
			return found
		}
	}
	return nil
}
