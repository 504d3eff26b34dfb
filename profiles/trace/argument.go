package trace

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"deskhand/osc"
)

// argument is one argument of the messages of a desk.
type argument struct {
	what argumentKind
	// counter is the number that stands there.
	counter string
	// base and strides make a flat number.
	base    int
	strides map[string]int
	// constant is what always stands there.
	constant any
}

type argumentKind uint8

const (
	valueArgument argumentKind = iota
	placeArgument              // all numbers that the address does not hold
	numberArgument
	flatArgument
	constantArgument
)

// placeArguments finds the numbers among the arguments, and which of the others is the
// control's value.
func (p *placing) placeArguments(missing []string) (slot, slots int, err error) {
	base := p.seen[0]
	items := p.arguments
	if items == nil {
		if items, err = p.newArguments(missing); err != nil {
			return 0, 0, err
		}
	}
	roles, first, err := p.lay(items, missing, len(base.stream.arguments))
	if err != nil {
		return 0, 0, err
	}
	if p.arguments == nil {
		if err := p.sayable(items); err != nil {
			return 0, 0, err
		}
	}
	for j, r := range roles {
		if r.what == valueArgument {
			slots++
			if j == base.index {
				slot = j - first + 1
			}
			continue
		}
		if err := p.holds(j, r); err != nil {
			return 0, 0, err
		}
	}
	if slot == 0 {
		return 0, 0, errors.New("the value that changes stands where the messages of this desk have a number of the place")
	}
	for _, c := range missing {
		if !slices.ContainsFunc(roles, func(r argument) bool { return r.counter == c || r.strides[c] > 0 }) {
			if slices.Contains(p.varied, c) {
				return 0, 0, fmt.Errorf("nothing in its messages says which %s it is", c)
			}
		}
	}
	if p.arguments == nil && (len(items) != 1 || items[0].what != valueArgument) {
		p.arguments = items
	}
	return slot, slots, nil
}

// sayable sees to it that a profile can say what always stands beside a value, and that
// a flat number was seen of the last there is, which may be elsewhere.
func (p *placing) sayable(items []argument) error {
	for j, it := range items {
		if it.what == constantArgument && !canHold(it.constant) {
			return fmt.Errorf("argument %d is %s, which no profile can say", j+1, sayArgument(it.constant))
		}
		for _, c := range counters {
			if _, seen := p.along(c)[p.sizes[c]]; it.strides[c] > 0 && p.sizes[c] > 0 && !seen {
				return wanted{c, p.sizes[c]}
			}
		}
	}
	return nil
}

// sayArgument says an argument as people read it.
func sayArgument(argument any) string {
	return strings.TrimPrefix(osc.Message{Address: "/", Arguments: []any{argument}}.String(), "/ ")
}

// lay gives the role of each argument of a message, and where its values begin.
func (p *placing) lay(items []argument, missing []string, n int) (roles []argument, first int, err error) {
	var before, after []argument
	to := &before
	for _, it := range items {
		switch it.what {
		case valueArgument:
			to = &after
		case placeArgument:
			for _, c := range missing {
				*to = append(*to, argument{what: numberArgument, counter: c})
			}
		case numberArgument:
			if slices.Contains(p.counters, it.counter) {
				*to = append(*to, it)
			}
		default:
			*to = append(*to, it)
		}
	}
	values := n - len(before) - len(after)
	if values < 1 {
		return nil, 0, fmt.Errorf("its messages have %s, fewer than those of other controls of this desk", howMany(n, "argument"))
	}
	roles = append(before, make([]argument, values)...)
	return append(roles, after...), len(before), nil
}

// howMany says a number of things: "1 value", "2 values".
func howMany(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}

// holds sees to it that an argument is what its role says, at every place.
func (p *placing) holds(j int, r argument) error {
	switch r.what {
	case constantArgument:
		for _, s := range p.seen {
			if fmt.Sprint(s.stream.arguments[j]) != fmt.Sprint(r.constant) {
				return fmt.Errorf("argument %d is %v, and %v elsewhere", j+1, s.stream.arguments[j], r.constant)
			}
		}
		return nil
	case flatArgument:
		for _, s := range p.seen {
			if v, ok := whole(s.stream.arguments[j]); !ok || v != r.flat(s.numbers) {
				return fmt.Errorf("argument %d is %v, which is not the place in the way of other controls", j+1, s.stream.arguments[j])
			}
		}
		return nil
	}
	return p.counted(j, r.counter)
}

func (a argument) flat(numbers map[string]int) int {
	v := a.base
	for c, stride := range a.strides {
		v += stride * max(numbers[c]-1, 0)
	}
	return v
}

// counted sees to it that an argument is the number of a counter, and works out how the
// desk counts where that is not known.
func (p *placing) counted(j int, counter string) error {
	words := make(map[int]string)
	for n, s := range p.along(counter) {
		words[n] = bare(s.stream.arguments[j])
	}
	if _, known := p.counts[counter]; !known && slices.Contains(p.varied, counter) {
		c, err := learnCounting(counter, words, p.sizes[counter])
		if err != nil {
			return err
		}
		p.counts[counter] = c
	}
	for n, got := range words {
		s, ok := p.counts[counter].of(n)
		s.before, s.after, s.digits, s.upto = "", "", 0, 0
		if want, _ := (counting{s}).word(n); !ok || got != want {
			return fmt.Errorf("argument %d is %s for %s %d, and the desk counts it as %s elsewhere", j+1, got, counter, n, want)
		}
	}
	return nil
}

// bare is an argument as a text.
func bare(argument any) string {
	if v, ok := whole(argument); ok {
		return strconv.Itoa(v)
	}
	return fmt.Sprint(argument)
}

func whole(argument any) (int, bool) {
	switch v := argument.(type) {
	case int32:
		return int(v), true
	case int64:
		return int(v), int64(int(v)) == v
	}
	return 0, false
}

// newArguments works out of one control what the messages of the desk look like. Only
// the numbers that its address does not hold are looked for among the arguments: what
// else differs from place to place is what other controls are set to.
func (p *placing) newArguments(missing []string) ([]argument, error) {
	base := p.seen[0]
	n := len(base.stream.arguments)
	roles := make([]argument, n)
	var found []string
	for j := range roles {
		if j == base.index {
			continue
		}
		open := slices.DeleteFunc(slices.Clone(missing), func(c string) bool { return slices.Contains(found, c) || !slices.Contains(p.varied, c) })
		var err error
		if roles[j], err = p.role(j, open); err != nil {
			return nil, err
		}
		for _, c := range open {
			if roles[j].counter == c || roles[j].strides[c] > 0 {
				found = append(found, c)
			}
		}
	}
	if p.isPlace(roles, missing) {
		return []argument{{what: placeArgument}, {what: valueArgument}}, nil
	}
	// What is no place beside the value are further values of one message.
	from, to := base.index, base.index+1
	for from > 0 && isValue(roles[from-1]) {
		from--
	}
	for to < n && isValue(roles[to]) {
		to++
	}
	return slices.Concat(roles[:from], []argument{{what: valueArgument}}, roles[to:]), nil
}

// isValue reports whether an argument beside the value may be that of another control.
func isValue(a argument) bool {
	text, isText := a.constant.(string)
	return a.what == constantArgument && !(isText && strings.HasPrefix(text, "/"))
}

// isPlace reports whether the first arguments are the numbers that are missing from the
// address, in order, and no other is a number.
func (p *placing) isPlace(roles []argument, missing []string) bool {
	if len(missing) == 0 || p.seen[0].index < len(missing) {
		return false
	}
	for j, r := range roles {
		number := r.what == numberArgument || r.what == flatArgument
		switch {
		case j >= len(missing) && number:
			return false
		case j >= len(missing):
		case number && r.counter != missing[j]:
			return false
		case !number && slices.Contains(p.varied, missing[j]):
			return false
		}
	}
	return true
}

// role works out what an argument is, by which of the numbers still to be found it
// varies with.
func (p *placing) role(j int, open []string) (argument, error) {
	base := p.seen[0]
	value, isWhole := whole(base.stream.arguments[j])
	strides := make(map[string]int)
	var with []string
	for _, c := range open {
		for n, s := range p.along(c) {
			if s.stream.arguments[j] == base.stream.arguments[j] {
				continue
			}
			if v, ok := whole(s.stream.arguments[j]); ok && isWhole {
				strides[c] = (v - value) / (n - base.numbers[c])
			}
			if !slices.Contains(with, c) {
				with = append(with, c)
			}
		}
	}
	if len(with) == 0 {
		return argument{what: constantArgument, constant: base.stream.arguments[j]}, nil
	}
	r := argument{what: flatArgument, base: value, strides: strides}
	for c, stride := range strides {
		r.base -= stride * (base.numbers[c] - 1)
	}
	exact := len(strides) == len(with) && r.base >= 0
	for _, c := range with {
		exact = exact && strides[c] > 0
		for _, s := range p.along(c) {
			v, ok := whole(s.stream.arguments[j])
			exact = exact && ok && v == r.flat(s.numbers)
		}
	}
	switch {
	case len(with) == 1 && !(exact && strides[with[0]] != 1):
		return argument{what: numberArgument, counter: with[0]}, nil
	case exact:
		return r, nil
	}
	return argument{}, fmt.Errorf("what argument %d says of the place can't be made out (%v)", j+1, base.stream.arguments[j])
}

// argumentsTOML gives the arguments as [tell] has them.
func argumentsTOML(items []argument) string {
	var texts []string
	for _, it := range items {
		switch it.what {
		case valueArgument:
			texts = append(texts, `"{value}"`)
		case placeArgument:
			texts = append(texts, `"{place}"`)
		case numberArgument:
			texts = append(texts, `"{`+it.counter+`}"`)
		case flatArgument:
			flat := []string{"base = " + strconv.Itoa(it.base)}
			for _, c := range counters {
				if it.strides[c] > 0 {
					flat = append(flat, c+" = "+strconv.Itoa(it.strides[c]))
				}
			}
			texts = append(texts, "{ "+strings.Join(flat, ", ")+" }")
		default:
			texts = append(texts, tomlValue(it.constant))
		}
	}
	return "[" + strings.Join(texts, ", ") + "]"
}

// tomlValue writes a value of an argument.
func tomlValue(v any) string {
	switch v := v.(type) {
	case string:
		return tomlText(v)
	case osc.Symbol:
		return tomlText(string(v))
	case float32:
		return tomlFloat(float64(v))
	case float64:
		return tomlFloat(v)
	}
	return fmt.Sprint(v)
}
