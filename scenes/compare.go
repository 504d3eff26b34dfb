package scenes

import (
	"deskhand/profiles"
)

// Values are values by parameter, such as a desk reported them.
type Values map[profiles.Parameter]profiles.Value

// Change is one setting that differs: what to print, to rehearse, to send and to
// confirm. A list of them is in the desk's order.
type Change struct {
	Parameter profiles.Parameter
	Spec      profiles.Spec
	// From is what the desk holds, no value where it is not known. To is what it
	// will hold, on its grid; Asked is what the file says, which may lie between
	// two steps.
	From, To, Asked profiles.Value
	Origin          Origin
	Note            string
	// Hand says what a hand has to do, where OSC does not reach the parameter; Bank is
	// how many channels its switch is for.
	Hand string
	Bank int
	// OnDesk is To as the desk itself shows it, for that hand.
	OnDesk string
	// Again says that the desk holds this already, as far as is known, and can't be
	// asked: nothing differs, and it is only sent again.
	Again bool
	// Safe is set where the venue never sends this parameter.
	Safe *Safe
}

// Rounded reports whether the desk will hold another value than was asked for, in
// the figures that people read.
func (c Change) Rounded() bool {
	return c.Spec.Say(c.To) != c.Spec.Say(c.Asked)
}

// Compare lists what is wanted and not held, on the grid of the desk. A parameter
// whose value is not known counts as not held.
func (v *Venue) Compare(holds Values, wanted []Wanted) []Change {
	var changes []Change
	for _, w := range wanted {
		control, ok := v.Desk.Profile.Control(w.Parameter)
		if !ok || v.holds(control, w, holds[w.Parameter]) {
			continue
		}
		c := Change{
			Parameter: w.Parameter, Spec: control.Spec,
			From: holds[w.Parameter], To: w.Value, Asked: w.Asked,
			Origin: w.Origin, Note: w.Note, Hand: control.Hand, Bank: control.Bank,
			Again: control.Same(holds[w.Parameter], w.Value),
		}
		if c.Hand != "" {
			c.OnDesk = control.SayOnDesk(w.Value)
		}
		if safe, ok := v.SafeFor(w.Parameter); ok {
			c.Safe = &safe
		}
		changes = append(changes, c)
	}
	return changes
}

// holds reports whether there is nothing to do for a wanted value. What can't be moved
// is as it is; what can be told but not asked may have been moved by anyone since.
func (v *Venue) holds(control *profiles.Control, w Wanted, held profiles.Value) bool {
	switch control.Reach() {
	case profiles.Fixed:
		return true
	case profiles.ByHand:
		return control.Same(held, w.Value)
	}
	return v.Desk.Profile.Askable(w.Parameter) && control.Same(held, w.Value)
}

// Moves lists what differs between what was remembered and what is held now: the
// moves of a hand. What was not known before, or is not now, is no move.
func (v *Venue) Moves(before, now Values) []Change {
	var moves []Change
	for _, q := range v.Desk.Profile.Parameters() {
		was, is := before[q], now[q]
		control, _ := v.Desk.Profile.Control(q)
		if was.IsZero() || is.IsZero() || control.Same(was, is) {
			continue
		}
		moves = append(moves, Change{Parameter: q, Spec: control.Spec, From: was, To: is, Asked: is})
	}
	return moves
}
