package profiles

import (
	"fmt"
	"math"
	"strings"

	"deskhand/osc"
)

// unit is what one message is about: one parameter, or several that the desk takes
// and gives together.
type unit struct {
	// members are by slot.
	members           []Parameter
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
type doors map[string]*door

// door is all units that share an address.
type door struct {
	// hole is where the values begin, or -1; values is how many there are, arguments
	// how many a message has in all.
	hole, values, arguments int
	units                   map[string]*unit // by the other arguments
}

// add enters a unit under a layout. It gives the unit that stands there already, if
// one does; the error says that the layout can't share its address.
func (d doors) add(s layout, u *unit) (*unit, error) {
	n := door{hole: s.hole, arguments: len(s.args)}
	if s.hole >= 0 {
		n.values = len(u.members)
		n.arguments += n.values - 1
	}
	at, ok := d[s.address]
	if !ok {
		at = &n
		at.units = make(map[string]*unit, 1)
		d[s.address] = at
	}
	if at.hole != n.hole || at.values != n.values || at.arguments != n.arguments {
		return nil, fmt.Errorf("the messages at %s have not all the same arguments", s.address)
	}
	key := at.keyOf(s.message(make([]any, n.values)).Arguments)
	if other, taken := at.units[key]; taken {
		return other, nil
	}
	at.units[key] = u
	return nil, nil
}

// find gives the unit that a message is about, and its values. A message with values
// may have further arguments, which are ignored; a question has none.
func (d doors) find(h osc.Heard) (*unit, []any) {
	at, ok := d[h.Address]
	if !ok || len(h.Arguments) < at.arguments || (at.hole < 0 && len(h.Arguments) > at.arguments) {
		return nil, nil
	}
	u, ok := at.units[at.keyOf(h.Arguments[:at.arguments])]
	if !ok || at.hole < 0 {
		return u, nil
	}
	return u, h.Arguments[at.hole : at.hole+at.values]
}

// keyOf writes the arguments that are no values in a form to look up.
func (at *door) keyOf(arguments []any) string {
	var b strings.Builder
	for i, a := range arguments {
		if at.hole >= 0 && i >= at.hole && i < at.hole+at.values {
			continue
		}
		if n, ok := wireNumber(a); ok && n == math.Trunc(n) {
			fmt.Fprintf(&b, "%.0f|", n)
			continue
		}
		fmt.Fprintf(&b, "%q|", fmt.Sprint(a))
	}
	return b.String()
}
