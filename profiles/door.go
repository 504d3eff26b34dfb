package profiles

import (
	"fmt"
	"math"
	"strconv"

	"deskhand/osc"
)

// unit is what one message is about: one parameter, or several that the desk takes
// and gives together.
type unit struct {
	// members, their ordinals and their controls are by slot.
	members           []Parameter
	ordinals          []Ordinal
	controls          []*Control
	tell, ask, answer layout
	askable           bool
}

// first is the first member that there is.
func (u *unit) first() Parameter {
	for _, q := range u.members {
		if q != (Parameter{}) {
			return q
		}
	}
	return Parameter{}
}

// doors finds the unit that a message is about, by its address and by the arguments
// that tell units with one address apart.
type doors map[string][]door

// door is all units whose messages have one address and one shape.
type door struct {
	// hole is where the values begin, or -1; values is how many there are, arguments
	// how many a message has in all.
	hole, values, arguments int
	// only is the unit of a door whose messages hold nothing but values; the others are
	// by their other arguments.
	only  *unit
	units map[string]*unit
}

// add enters a unit under a layout. It gives the unit that stands there already, if
// one does; the error says that the layout can't share its address.
func (d doors) add(s layout, u *unit) (*unit, error) {
	n := door{hole: s.hole, arguments: len(s.args)}
	if s.hole >= 0 {
		n.values = len(u.members)
		n.arguments += n.values - 1
	}
	at := d[s.address]
	for i := range at {
		if at[i].arguments != n.arguments {
			continue
		}
		if at[i].hole != n.hole || at[i].values != n.values {
			return nil, fmt.Errorf("messages at %s with %d arguments can't be told apart", s.address, n.arguments)
		}
		return at[i].put(s, u), nil
	}
	n.put(s, u)
	d[s.address] = append(at, n)
	return nil, nil
}

// put enters a unit, unless another one stands there.
func (at *door) put(s layout, u *unit) (other *unit) {
	if at.arguments == at.values {
		if at.only == nil {
			at.only = u
			return nil
		}
		return at.only
	}
	if at.units == nil {
		at.units = make(map[string]*unit)
	}
	key := string(s.key())
	if other, taken := at.units[key]; taken {
		return other
	}
	at.units[key] = u
	return nil
}

// find gives the unit that a message is about, and its values. Where all messages of
// an address have one shape, one with values may have further arguments, which are
// ignored; a question has none.
func (d doors) find(h osc.Heard) (*unit, []any) {
	shapes := d[h.Address]
	for i := range shapes {
		at := &shapes[i]
		switch given := len(h.Arguments); {
		case given < at.arguments:
			continue
		case given > at.arguments && (at.hole < 0 || len(shapes) > 1):
			continue
		}
		u := at.only
		if u == nil {
			u = at.units[string(at.keyOf(h.Arguments))]
		}
		switch {
		case u == nil:
			return nil, nil
		case at.hole < 0:
			return u, nil
		}
		return u, h.Arguments[at.hole : at.hole+at.values]
	}
	return nil, nil
}

// keyOf is the key of a message with the door's shape.
func (at *door) keyOf(arguments []any) []byte {
	var key []byte
	for i, a := range arguments[:at.arguments] {
		if at.hole < 0 || i < at.hole || i >= at.hole+at.values {
			key = appendKey(key, a)
		}
	}
	return key
}

// key writes the arguments that are no values in a form to look up.
func (s layout) key() []byte {
	var key []byte
	for i, a := range s.args {
		if i != s.hole {
			key = appendKey(key, a)
		}
	}
	return key
}

// appendKey writes an argument so that a number is the same whichever of its types a
// desk takes for it.
func appendKey(key []byte, argument any) []byte {
	if n, ok := osc.Number(argument); ok {
		if n == math.Trunc(n) && math.Abs(n) < 1<<53 {
			key = strconv.AppendInt(key, int64(n), 10)
		} else {
			key = strconv.AppendFloat(key, n, 'g', -1, 32)
		}
		return append(key, '|')
	}
	text, isText := osc.Text(argument)
	on, isSwitch := argument.(bool)
	switch {
	case isText && len(text) <= longestArgument:
		key = strconv.AppendQuote(key, text)
	case isSwitch:
		key = strconv.AppendBool(key, on)
	default:
		key = fmt.Appendf(key, "%T", argument) // stands in no profile
	}
	return append(key, '|')
}

// longestArgument is more than a text in a profile's arguments has, of which the longest are
// addresses.
const longestArgument = 2 * maxPattern
