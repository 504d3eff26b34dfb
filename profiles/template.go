package profiles

import (
	"slices"

	"deskhand/osc"
)

// template says what the messages of one sort look like, those that set, ask or
// answer: their address and their arguments, around the parameter's own address, its
// place and its values.
type template struct {
	// at is the address; {at} in it is the parameter's own.
	at   pattern
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
	itemPlace // all numbers that the parameter's own address does not hold
	itemNumber
	itemFlat
	itemConstant
)

// ownAddress is the template of a desk with nothing but an address for each parameter.
var ownAddress = pattern{literals: []string{"", ""}, counters: []string{"at"}, text: "{at}"}

// layout is a template filled in for one unit, but for the values.
type layout struct {
	address string
	args    []any // with a gap where the values go
	hole    int   // where, or -1
}

// justValue are the arguments of a message that holds nothing but its values.
var justValue = []any{nil}

// message puts the values in their place. The values are the message's from now on.
func (s layout) message(values []any) osc.Message {
	switch {
	case s.hole < 0:
		return osc.Message{Address: s.address, Arguments: slices.Clone(s.args)}
	case len(s.args) == 1:
		return osc.Message{Address: s.address, Arguments: values}
	}
	return osc.Message{Address: s.address, Arguments: slices.Concat(s.args[:s.hole], values, s.args[s.hole+1:])}
}

// spot is where one parameter is: its own address, its numbers, and those of them that
// its own address does not hold.
type spot struct {
	own     string
	numbers map[string]int
	missing []string
}

// fill makes the layout of a template for one spot.
func (t template) fill(at spot, written map[string]numbering) layout {
	s := layout{address: at.own, hole: -1}
	if t.at.text != ownAddress.text {
		s.address = t.at.fillAround(at.own, at.numbers, written)
	}
	if len(t.args) == 1 && t.args[0].what == itemValue {
		s.args, s.hole = justValue, 0
		return s
	}
	for _, it := range t.args {
		if it.what == itemValue {
			s.hole = len(s.args)
		}
		s.args = it.appendTo(s.args, at, written)
	}
	return s
}

// appendTo adds an argument, or for a place as many as it takes.
func (it item) appendTo(args []any, at spot, written map[string]numbering) []any {
	switch it.what {
	case itemAt:
		return append(args, at.own)
	case itemPlace:
		for _, counter := range at.missing {
			args = append(args, written[counter].argument(at.numbers[counter]))
		}
		return args
	case itemNumber:
		if number, ok := at.numbers[it.counter]; ok {
			args = append(args, written[it.counter].argument(number))
		}
		return args
	case itemFlat:
		return append(args, int32(it.flat(at.numbers)))
	}
	return append(args, it.constant)
}

// flat is the flat number of a place. What a place has no number of counts as its
// first.
func (it item) flat(numbers map[string]int) int {
	flat := it.base
	for counter, stride := range it.strides {
		flat += stride * max(numbers[counter]-1, 0)
	}
	return flat
}

// holds reports whether a counter's number stands anywhere in the messages of a
// parameter whose own address is given.
func (t template) holds(counter string, own pattern) bool {
	inOwn := slices.Contains(own.counters, counter)
	if slices.Contains(t.at.counters, counter) || inOwn && slices.Contains(t.at.counters, "at") {
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
