package profiles

import (
	"fmt"
	"math"

	"deskhand/osc"
)

// form is how a position of travel stands on the wire: as a number between low
// (position 0) and high (position 1), which may be the other way round.
type form struct {
	integer   bool
	low, high float64
}

// wire gives the argument for a position of 0..1.
func (f form) wire(position float64) any {
	v := f.low + position*(f.high-f.low)
	if f.integer {
		return int32(math.Round(v))
	}
	return float32(v)
}

// position reads an argument back. Beyond the ends it gives less than 0 or more
// than 1, for the caller to refuse or to clamp. OSC's true and false are the greater
// and the lesser of the two numbers of a control that has only two positions.
func (f form) position(argument any, two bool) (float64, error) {
	if on, ok := argument.(bool); ok && two {
		if on == (f.high > f.low) {
			return 1, nil
		}
		return 0, nil
	}
	v, ok := wireNumber(argument)
	if !ok || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%v (%T) is not a number", argument, argument)
	}
	return (v - f.low) / (f.high - f.low), nil
}

// wireNumber takes any number that OSC has: desks answer with another number type
// than they take.
func wireNumber(argument any) (float64, bool) {
	switch v := argument.(type) {
	case float32:
		return float64(v), true
	case int32:
		return float64(v), true
	case float64:
		return v, true
	case int64:
		return float64(v), true
	}
	return 0, false
}

// wireText takes a text of either of OSC's types, with what can't be shown replaced.
func wireText(argument any) (string, bool) {
	switch v := argument.(type) {
	case string:
		return printable(v), true
	case osc.Symbol:
		return printable(string(v)), true
	}
	return "", false
}
