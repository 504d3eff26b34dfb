package profiles

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"deskhand/profiles/source"
)

// maxBlocks bounds the blocks of a profile.
const maxBlocks = 64

// blocks reads [[block]], in place of those of the profile that this one is based on.
func (l *loader) blocks() {
	if !l.root.Has("block") {
		return
	}
	list, ok := l.root.Tables("block")
	if !ok {
		return
	}
	if len(list) > maxBlocks {
		list[maxBlocks].Fault("", "%d blocks: at most %d are allowed", len(list), maxBlocks)
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
	b, ok := readPart(t)
	if !ok {
		t.Known("at", "arguments")
		t.Has("at")
		t.Has("arguments")
		return block{}, false
	}
	at, ok := t.Text("at")
	if !ok {
		if !t.Has("at") {
			t.Fault("", `[[block]] has no address: write at = "/..."`)
		}
		return block{}, false
	}
	var err error
	if b.at, err = parsePattern(at, b.counters()); err != nil {
		t.Fault("at", "%s", err)
		return block{}, false
	}
	if list, ok := argumentsOf(t); ok {
		if b.args, err = readBlockItems(list, b.counters()); err != nil {
			t.Fault("arguments", "%s", err)
			return block{}, false
		}
	}
	for _, counter := range b.counters() {
		if !b.holds(counter, pattern{}) {
			t.Fault("at", "address %q: {%s} is missing, so that it is not clear which %s is asked about", at, counter, counter)
			return block{}, false
		}
	}
	return b, true
}

// readPart reads what a block is about.
func readPart(t *source.Table) (block, bool) {
	of, ok := t.Text("of")
	if !ok {
		if !t.Has("of") {
			t.Fault("", `[[block]] does not say what it is about: write of = "desk", "channel" or "channel.eq"`)
		}
		return block{}, false
	}
	part, prefix, _ := strings.Cut(of, ".")
	i := slices.Index(partNames[:], part)
	if i < 0 || i == int(Console) && prefix != "" || strings.HasSuffix(of, ".") {
		t.Fault("of", `of = %q: write "desk", or a part of it with the beginning of a name, as "channel.eq"%s`, of, source.DidYouMean(part, partNames[:]))
		return block{}, false
	}
	return block{part: Part(i), prefix: prefix, line: t.LineOf("of")}, true
}

// counters are the numbers that the block's question must hold.
func (b block) counters() []string {
	if b.part == Channel || b.part == Mix {
		return []string{b.part.String()}
	}
	return nil
}

func readBlockItems(list []any, counters []string) ([]item, error) {
	args, err := readItems(list)
	for i, it := range args {
		if it.what == itemValue || it.what == itemAt || it.what == itemPlace {
			return nil, fmt.Errorf("argument %d: a block's question holds numbers of places and constants only", i+1)
		}
		if it.what == itemNumber && !slices.Contains(counters, it.counter) {
			return nil, fmt.Errorf("argument %d: there is no {%s} here", i+1, it.counter)
		}
	}
	return args, err
}

// enterBlocks makes the blocks' questions to be found, and drops those that bring
// nothing.
func (x *expansion) enterBlocks() {
	p := x.profile
	p.blockAsks = make(blockAsks)
	var useful []block
	for _, b := range p.blocks {
		questions := size(b.counters(), x.counts())
		if len(p.blockAsks)+questions > maxAddresses {
			x.faultIn("block", "the blocks would expand to more than %d questions", maxAddresses)
			return
		}
		err := x.enterBlock(&b)
		if err != nil && b.line > 0 {
			x.document.AddFault(b.line, "%s", err)
		}
		if err == nil {
			useful = append(useful, b)
		}
	}
	p.blocks = useful
	bySize(p.blocks)
}

func (x *expansion) enterBlock(b *block) error {
	p := x.profile
	places := []Place{{Part: b.part}}
	if counters := b.counters(); len(counters) > 0 {
		places = places[:0]
		for n := range x.counts()[counters[0]] {
			places = append(places, Place{b.part, n + 1})
		}
	}
	if err := b.checkFlat(x.counts()); err != nil {
		return err
	}
	for _, at := range places {
		b.size = max(b.size, len(p.brings(*b, at)))
	}
	if b.size == 0 {
		return errors.New("this block brings nothing: no parameter that can be asked about has a name that begins so")
	}
	for _, at := range places {
		s := b.question(at, x.numbers)
		key := p.blockAsks.keyOf(s.address, s.args)
		if other, taken := p.blockAsks[key]; taken {
			return fmt.Errorf("two blocks share the question %s (line %d)", s.message(nil), other.line)
		}
		if err := x.free(s, "the block's question", p.tells, p.asks); err != nil {
			return err
		}
		p.blockAsks[key] = blockAt{*b, at}
	}
	return nil
}
