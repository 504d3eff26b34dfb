package profiles

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"deskhand/osc"
	"deskhand/profiles/source"
)

// template says what the messages of one sort look like, those that set, ask or
// answer: their address and their arguments, around the parameter's own address, its
// place and its values.
type template struct {
	// at is the address; "{at}" in it is the parameter's own.
	at   string
	args []item
	// never says that there are no messages of this sort.
	never bool
}

// item is one argument of a template.
type item struct {
	what itemKind
	// counter is the number that stands there, for itemNumber.
	counter string
	// constant is what always stands there, for itemConstant.
	constant any
	// base and strides make a flat number of a place: base plus the stride of each
	// counter times its number less one.
	base    int
	strides map[string]int
}

type itemKind uint8

const (
	itemValue itemKind = iota
	itemAt
	itemPlace // all numbers that the address does not hold
	itemNumber
	itemFlat
	itemConstant
)

// layout is a template filled in for one unit, but for the values.
type layout struct {
	address string
	args    []any // with a hole where the values go
	hole    int   // where, or -1
}

// hole marks where values go among arguments.
type hole struct{}

// message puts the values in their place.
func (s layout) message(values []any) osc.Message {
	if s.hole < 0 {
		return osc.Message{Address: s.address, Arguments: slices.Clone(s.args)}
	}
	return osc.Message{Address: s.address, Arguments: slices.Concat(s.args[:s.hole], values, s.args[s.hole+1:])}
}

// templates reads [tell], [ask] and [answer].
func (l *loader) templates() {
	tell, answer, ask := template{at: "{at}", args: []item{{what: itemValue}}}, l.answer, template{at: "{at}"}
	if l.based {
		tell, ask = l.tell, l.ask
	}
	l.tell = l.template("tell", tell)
	if !l.based || l.root.Has("tell") {
		answer = l.tell // a desk answers as it is told, unless it says otherwise
	}
	l.answer = l.template("answer", answer)
	l.ask = l.template("ask", ask)
}

// template reads one of them, the rest of which is as it is without.
func (l *loader) template(key string, otherwise template) template {
	made := otherwise
	if !l.root.Has(key) {
		return made
	}
	t, ok := l.root.Table(key)
	if !ok {
		return made
	}
	if key == "ask" {
		if never, _ := t.Bool("never"); never {
			made.never = true
			return made
		}
	}
	if at, ok := t.Text("at"); ok {
		made.at = at
		if err := checkLiteral(at, strings.NewReplacer("{at}", "", "{channel}", "", "{mix}", "", "{band}", "", "{group}", "").Replace(at)); err != nil {
			t.Fault("at", "%s", err)
		}
	}
	if list, ok := t.List("arguments"); ok {
		made.args = nil
		for i, raw := range list {
			it, err := readItem(raw)
			if err != nil {
				t.Fault("arguments", "argument %d: %s", i+1, err)
				continue
			}
			made.args = append(made.args, it)
		}
	}
	checkValues(t, key, made)
	if key == "answer" {
		if port, ok := t.Integer("port"); ok {
			l.profile.Link.AnswerPort = port
			if port < 1 || port > 65535 {
				t.Fault("port", "port = %d: a port is a number from 1 to 65535", port)
			}
		}
	}
	return made
}

// checkValues sees to it that a message holds its values once, and a question none.
func checkValues(t *source.Table, key string, made template) {
	values := 0
	for _, it := range made.args {
		if it.what == itemValue {
			values++
		}
	}
	switch {
	case key == "ask" && values > 0:
		t.Fault("arguments", `[ask]: a question holds no "{value}"`)
	case key != "ask" && values != 1:
		t.Fault("arguments", `[%s]: "{value}" stands among the arguments once, not %d times`, key, values)
	}
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
		return item{what: itemConstant, constant: float32(v)}, nil
	case bool:
		return item{what: itemConstant, constant: v}, nil
	case map[string]any:
		return readFlat(v)
	}
	return item{}, fmt.Errorf(`%v can't be an argument: write a text, a number, or {base = ..., channel = ...}`, raw)
}

func readPlaceholder(v string) (item, error) {
	inside, isPlaceholder := strings.CutPrefix(v, "{")
	if !isPlaceholder {
		return item{what: itemConstant, constant: v}, nil
	}
	switch word := strings.TrimSuffix(inside, "}"); word {
	case "value":
		return item{what: itemValue}, nil
	case "at":
		return item{what: itemAt}, nil
	case "place":
		return item{what: itemPlace}, nil
	case "channel", "mix", "band", "group":
		return item{what: itemNumber, counter: word}, nil
	default:
		return item{}, fmt.Errorf("%q stands for nothing%s", v, source.DidYouMean(word, []string{"value", "at", "place", "channel", "mix", "band", "group"}))
	}
}

func readFlat(table map[string]any) (item, error) {
	it := item{what: itemFlat, strides: make(map[string]int)}
	for key, raw := range table {
		n, ok := raw.(int64)
		if !ok || n < 0 || n > math.MaxInt32 {
			return item{}, fmt.Errorf("%s = %v: write a whole number from 0", key, raw)
		}
		switch key {
		case "base":
			it.base = int(n)
		case "channel", "mix", "band", "group":
			it.strides[key] = int(n)
		default:
			return item{}, fmt.Errorf("%q is no part of a flat number%s", key, source.DidYouMean(key, []string{"base", "channel", "mix", "band", "group"}))
		}
	}
	return it, nil
}

// fill makes the layout of a template for the numbers of one unit. The own address of
// the parameter is given, and which of its counters that does not hold.
func (t template) fill(own string, missing []string, numbers map[string]int, written map[string]numbering) layout {
	s := layout{address: strings.ReplaceAll(t.at, "{at}", own), hole: -1}
	for counter, number := range numbers {
		s.address = strings.ReplaceAll(s.address, "{"+counter+"}", written[counter].word(number))
	}
	for _, it := range t.args {
		switch it.what {
		case itemValue:
			s.hole = len(s.args)
			s.args = append(s.args, hole{})
		case itemAt:
			s.args = append(s.args, own)
		case itemPlace:
			for _, counter := range missing {
				s.args = append(s.args, written[counter].argument(numbers[counter]))
			}
		case itemNumber:
			if number, ok := numbers[it.counter]; ok {
				s.args = append(s.args, written[it.counter].argument(number))
			}
		case itemFlat:
			flat := it.base
			for counter, stride := range it.strides {
				flat += stride * max(numbers[counter]-1, 0)
			}
			s.args = append(s.args, int32(flat))
		case itemConstant:
			s.args = append(s.args, it.constant)
		}
	}
	return s
}

// holds reports whether a counter's number stands anywhere in the messages of a
// parameter whose own address is given.
func (t template) holds(counter string, own pattern) bool {
	inOwn := slices.Contains(own.counters, counter)
	if strings.Contains(t.at, "{"+counter+"}") || (inOwn && strings.Contains(t.at, "{at}")) {
		return true
	}
	return slices.ContainsFunc(t.args, func(it item) bool {
		switch it.what {
		case itemAt:
			return inOwn
		case itemPlace:
			return !inOwn
		case itemNumber:
			return it.counter == counter
		case itemFlat:
			return it.strides[counter] > 0
		}
		return false
	})
}
