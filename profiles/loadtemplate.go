package profiles

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"deskhand/profiles/source"
)

// allCounters are what an address may count, in the order in which {place} lists them.
var allCounters = []string{"channel", "mix", "band", "group"}

// sorts of messages, by the key that says what they look like.
const (
	telling   = "tell"
	asking    = "ask"
	answering = "answer"
)

// templates reads [tell], [ask] and [answer].
func (l *loader) templates() {
	if !l.based {
		l.tell = template{at: ownAddress, args: []item{{what: itemValue}}}
		l.ask = template{at: ownAddress}
		l.answer = template{} // all as in [tell]
	}
	for key, made := range map[string]*template{telling: &l.tell, asking: &l.ask, answering: &l.answer} {
		if t, ok := l.root.Table(key); ok {
			readTemplate(t, key, made)
		}
	}
	if t, ok := l.root.Table(answering); ok {
		l.answers(t)
	}
}

// answers reads what [answer] says of the way back.
func (l *loader) answers(t *source.Table) {
	link := &l.profile.Link
	if port, ok := t.Integer("port"); ok {
		link.AnswerPort = port
		if port < 1 || port > 65535 {
			t.Fault("port", "port = %d: a port is a number from 1 to 65535", port)
		}
	}
	if t.Has("port") && link.Over != OverUDP {
		t.Fault("port", "port: over %s a desk answers on the connection that it was asked on", link.Over)
	}
	if bundled, ok := t.Bool("bundled"); ok {
		link.Bundled = bundled
	}
}

// answerTemplate is what answers look like: as settings, but for what the profile says.
func (l *loader) answerTemplate() template {
	answer := l.answer
	if answer.at.literals == nil {
		answer.at = l.tell.at
	}
	if answer.args == nil {
		answer.args = l.tell.args
	}
	return answer
}

// readTemplate reads one of them, the rest of which stays as it is.
func readTemplate(t *source.Table, key string, made *template) {
	if key == asking {
		if never, ok := t.Bool("never"); ok {
			made.never = never
		}
		for _, other := range []string{"at", "arguments"} {
			if made.never && t.Has(other) {
				t.Fault(other, "%s: this desk is never asked, as never = true says", other)
			}
		}
	}
	if at, ok := t.Text("at"); ok {
		p, err := parsePattern(at, append([]string{"at"}, allCounters...))
		if err != nil {
			t.Fault("at", "%s", err)
		} else {
			made.at = p
		}
	}
	list, ok := argumentsOf(t)
	if !ok {
		return
	}
	args, err := readItems(list)
	if err == nil {
		err = checkValues(key, args)
	}
	if err != nil {
		t.Fault("arguments", "%s", err)
		return
	}
	made.args = args
}

// argumentsOf reads the list of arguments, whose elements may be of several kinds.
func argumentsOf(t *source.Table) ([]any, bool) {
	raw, ok := t.Value("arguments")
	if !ok {
		if t.Has("arguments") {
			return t.List("arguments") // under headers, which is told
		}
		return nil, false
	}
	tables, ok := raw.([]map[string]any) // as the decoder gives a list of nothing but tables
	if !ok {
		return t.List("arguments")
	}
	list := make([]any, len(tables))
	for i, table := range tables {
		list[i] = table
	}
	return list, true
}

// maxArguments bounds the arguments of a message beside its values.
const maxArguments = 16

func readItems(list []any) ([]item, error) {
	if len(list) > maxArguments {
		return nil, fmt.Errorf("%d arguments: at most %d are allowed", len(list), maxArguments)
	}
	args := make([]item, len(list))
	for i, raw := range list {
		var err error
		if args[i], err = readItem(raw); err != nil {
			return nil, fmt.Errorf("argument %d: %w", i+1, err)
		}
	}
	return args, nil
}

// checkValues sees to it that a message holds its values once, and a question none.
func checkValues(key string, args []item) error {
	values := 0
	for _, it := range args {
		if it.what == itemValue {
			values++
		}
	}
	switch {
	case key == asking && values > 0:
		return errors.New(`a question holds no "{value}"`)
	case key != asking && values != 1:
		return fmt.Errorf(`"{value}" stands among the arguments once, not %d times`, values)
	}
	return nil
}

// readItem reads one argument: a placeholder, a flat number, or what always stands
// there.
func readItem(raw any) (item, error) {
	switch v := raw.(type) {
	case string:
		return readPlaceholder(v)
	case int64:
		if v < math.MinInt32 || v > math.MaxInt32 {
			return item{}, fmt.Errorf("%d is no 32-bit number", v)
		}
		return item{what: itemConstant, constant: int32(v)}, nil
	case float64:
		if !(math.Abs(v) <= math.MaxFloat32) {
			return item{}, fmt.Errorf("%v is no 32-bit number", v)
		}
		return item{what: itemConstant, constant: float32(v)}, nil
	case bool:
		return item{what: itemConstant, constant: v}, nil
	case map[string]any:
		return readFlat(v)
	}
	return item{}, errors.New(`write a text, a number, true, false, or {base = ..., channel = ...}`)
}

func readPlaceholder(v string) (item, error) {
	inside, begun := strings.CutPrefix(v, "{")
	if !begun {
		if printable(v) != v {
			return item{}, fmt.Errorf("%q has a control character in it", v)
		}
		if len(v) > maxPattern {
			return item{}, fmt.Errorf("a text of %d bytes: at most %d are allowed", len(v), maxPattern)
		}
		return item{what: itemConstant, constant: v}, nil
	}
	switch word, closed := strings.CutSuffix(inside, "}"); {
	case !closed:
		return item{}, fmt.Errorf("%q: a { is not closed", v)
	case word == "value":
		return item{what: itemValue}, nil
	case word == "at":
		return item{what: itemAt}, nil
	case word == "place":
		return item{what: itemPlace}, nil
	case slices.Contains(allCounters, word):
		return item{what: itemNumber, counter: word}, nil
	default:
		return item{}, fmt.Errorf("%q stands for nothing%s", v, source.DidYouMean(word, append([]string{"value", "at", "place"}, allCounters...)))
	}
}

func readFlat(table map[string]any) (item, error) {
	it := item{what: itemFlat, strides: make(map[string]int)}
	keys := append([]string{"base"}, allCounters...)
	for _, key := range slices.Sorted(maps.Keys(table)) {
		n, ok := table[key].(int64)
		switch {
		case !slices.Contains(keys, key):
			return item{}, fmt.Errorf("%q is no part of a flat number%s", key, source.DidYouMean(key, keys))
		case !ok || n < 0 || n > math.MaxInt32:
			return item{}, fmt.Errorf("%s: write a whole number from 0 to %d", key, math.MaxInt32)
		case key == "base":
			it.base = int(n)
		default:
			it.strides[key] = int(n)
		}
	}
	return it, nil
}

// checkFlat sees to it that the flat numbers of the whole desk fit into an argument.
func (t template) checkFlat(counts map[string]int) error {
	for i, it := range t.args {
		if flat := it.flat(counts); it.what == itemFlat && flat > math.MaxInt32 {
			return fmt.Errorf("argument %d: the last place would be %d, which is no 32-bit number", i+1, flat)
		}
	}
	return nil
}
