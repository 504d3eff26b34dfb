package trace

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"

	"github.com/BurntSushi/toml"
)

// Known is what a profile says already, without its entries.
type Known struct {
	// sizes are how many channels, mixes, bands and groups there are.
	sizes map[string]int
	// counts says how the desk counts, where that is said.
	counts map[string]counting
	// arguments are those of what the desk reports, nil where nothing is said.
	arguments []argument
	// answer is the address of what the desk reports around a control's own, {at}.
	answer string
	// answerAt and answerArguments say that [answer] says it, and not [tell] alone.
	answerAt, answerArguments bool
	// values are what is said of all of a kind.
	values map[string]map[string]any
	// asks and answers say that the profile says how values are asked for, and from which
	// addresses they are reported.
	asks, answers bool
	entries       bool
}

const ownAddress = "{at}"

// ReadKnown takes what a profile says of its desk, and those that it is based on. That
// there is no text is a profile that says nothing yet.
func ReadKnown(library profiles.Library, text []byte) (*Known, error) {
	k := &Known{
		sizes: make(map[string]int), counts: make(map[string]counting), answer: ownAddress,
		values: make(map[string]map[string]any),
	}
	return k, k.read(library, text, 0)
}

// read takes what a profile says, after what the one says that it is based on.
func (k *Known) read(library profiles.Library, text []byte, depth int) error {
	if _, err := source.Parse("profile", text); err != nil {
		return err
	}
	var root map[string]any
	if err := toml.Unmarshal(text, &root); err != nil {
		return err
	}
	if name, ok := root["based"].(string); ok && depth < 4 {
		_, base, err := library(name)
		if err != nil {
			return err
		}
		if err := k.read(library, base, depth+1); err != nil {
			return err
		}
	}
	for _, c := range counters {
		if n, ok := root[plurals[c]].(int64); ok {
			k.sizes[c] = int(min(max(n, 0), maxCount))
		}
	}
	k.countings(tableOf(root, "numbers"))
	k.messages(root)
	for _, part := range []string{"channel", "mix", "main"} {
		k.entries = k.entries || len(tableOf(root, part)) > 0
	}
	for kind, says := range tableOf(root, "values") {
		if says, ok := says.(map[string]any); ok {
			k.values[kind] = says
		}
	}
	return nil
}

func tableOf(t map[string]any, key string) map[string]any {
	inner, _ := t[key].(map[string]any)
	return inner
}

// tablesOf gives a list of tables, in whichever way the decoder has it.
func tablesOf(v any) []map[string]any {
	switch v := v.(type) {
	case []map[string]any:
		return v
	case []any:
		var list []map[string]any
		for _, x := range v {
			if t, ok := x.(map[string]any); ok {
				list = append(list, t)
			}
		}
		return list
	}
	return nil
}

func (k *Known) countings(numbers map[string]any) {
	for _, c := range counters {
		list := tablesOf(numbers[c])
		if list == nil {
			continue
		}
		var all counting
		from := 1
		for _, t := range list {
			s := stretch{from: from, first: from, words: textsOf(t["words"])}
			if n, ok := t["upto"].(int64); ok {
				s.upto = int(n)
			}
			if n, ok := t["first"].(int64); ok {
				s.first = int(n)
			}
			if n, ok := t["digits"].(int64); ok {
				s.digits = int(min(max(n, 0), 6))
			}
			if write, ok := t["write"].(string); ok {
				s.before, s.after, _ = strings.Cut(write, "{}")
			}
			if len(s.words) > 0 {
				s.upto = from + len(s.words) - 1
			}
			all, from = append(all, s), s.upto+1
		}
		k.counts[c] = all
	}
}

func textsOf(v any) []string {
	list, _ := v.([]any)
	var texts []string
	for _, x := range list {
		if text, ok := x.(string); ok {
			texts = append(texts, text)
		}
	}
	return texts
}

// messages takes what [tell], [ask] and [answer] say.
func (k *Known) messages(root map[string]any) {
	tell, ask, answer := tableOf(root, "tell"), tableOf(root, "ask"), tableOf(root, "answer")
	if at, ok := tell["at"].(string); ok && !k.answerAt {
		k.answer, k.answers = at, true
	}
	if at, ok := answer["at"].(string); ok {
		k.answer, k.answers, k.answerAt = at, true, true
	}
	if list, ok := tell["arguments"]; ok && !k.answerArguments {
		k.arguments = readArguments(list)
	}
	if list, ok := answer["arguments"]; ok {
		k.arguments, k.answerArguments = readArguments(list), true
	}
	k.asks = k.asks || len(ask) > 0
}

func readArguments(v any) []argument {
	items := make([]argument, 0, 4)
	list, _ := v.([]any)
	for _, t := range tablesOf(v) {
		if list == nil {
			items = append(items, readFlat(t))
		}
	}
	for _, x := range list {
		switch x := x.(type) {
		case string:
			items = append(items, readPlaceholder(x))
		case map[string]any:
			items = append(items, readFlat(x))
		default:
			items = append(items, argument{what: constantArgument, constant: x})
		}
	}
	return items
}

func readPlaceholder(text string) argument {
	word := strings.TrimSuffix(strings.TrimPrefix(text, "{"), "}")
	switch {
	case text == "{value}":
		return argument{what: valueArgument}
	case text == "{place}":
		return argument{what: placeArgument}
	case text == "{"+word+"}" && slices.Contains(counters, word):
		return argument{what: numberArgument, counter: word}
	}
	return argument{what: constantArgument, constant: text}
}

func readFlat(t map[string]any) argument {
	it := argument{what: flatArgument, strides: make(map[string]int)}
	for key, v := range t {
		n, _ := v.(int64)
		if n = min(max(n, 0), math.MaxInt32); key == "base" {
			it.base = int(n)
		} else {
			it.strides[key] = int(n)
		}
	}
	return it
}

// Size is how many there are of a counter, such as "channel"; 0 is not known.
func (k *Known) Size(counter string) int { return k.sizes[counter] }

// Empty reports whether the profile has no entries yet.
func (k *Known) Empty() bool { return !k.entries }

// SaysAnswer reports whether the profile says from which addresses the desk reports.
func (k *Known) SaysAnswer() bool { return k.answers }

// clone is a copy that may be added to.
func (k *Known) clone() *Known {
	c := *k
	c.sizes, c.counts = maps.Clone(k.sizes), maps.Clone(k.counts)
	return &c
}

// own takes a control's own address out of one from which the desk reports.
func (k *Known) own(address string) (string, error) {
	before, after, _ := strings.Cut(k.answer, ownAddress)
	inner, okBefore := strings.CutPrefix(address, before)
	inner, okAfter := strings.CutSuffix(inner, after)
	if !okBefore || !okAfter || inner == "" {
		return "", fmt.Errorf("the desk reports it at %s, which is not as [answer] at = %q has it", address, k.answer)
	}
	if !strings.HasPrefix(inner, "/") {
		inner = "/" + inner
	}
	return inner, nil
}

// learnAnswer works out what the desk's reports have around a control's own address.
func (k *Known) learnAnswer(address, own string) error {
	if got, err := k.own(address); err == nil && got == own {
		return nil
	}
	if k.answer != ownAddress {
		return fmt.Errorf("it is set at %s and reported at %s, which is not as [answer] at = %q has it", own, address, k.answer)
	}
	if before, after, ok := strings.Cut(address, own); ok {
		k.answer = before + ownAddress + after
		return nil
	}
	return fmt.Errorf("it is set at %s and reported at %s: the one must be in the other", own, address)
}
