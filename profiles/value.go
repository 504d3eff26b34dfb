package profiles

import (
	"errors"
	"fmt"
	"math"
	"strconv"
)

// Value is a value in trade units: a number in the parameter's unit, a switch, or
// a word (of a choice, or free text). It is comparable. The zero Value is no value
// at all, as when a desk has not told what it holds.
type Value struct {
	form   valueForm
	number float64
	on     bool
	word   string
}

type valueForm uint8

const (
	noValue valueForm = iota
	numberValue
	switchValue
	wordValue
)

// Silence is the level of no sound at all, -inf dB.
var Silence = Number(math.Inf(-1))

// Number is a value with a unit, such as dB or Hz; the unit is the parameter's. What
// is no number (NaN) gives no value.
func Number(v float64) Value {
	if math.IsNaN(v) {
		return Value{} // a NaN would not even be equal to itself
	}
	if v == 0 {
		v = 0 // there is no -0 dB
	}
	return Value{form: numberValue, number: v}
}

// Switch is a value that is on or off.
func Switch(on bool) Value { return Value{form: switchValue, on: on} }

// Word is a value out of a list of choices, or a text.
func Word(text string) Value { return Value{form: wordValue, word: text} }

// IsZero reports whether v is no value at all.
func (v Value) IsZero() bool { return v.form == noValue }

// Number gives the number in v, and whether it holds one.
func (v Value) Number() (float64, bool) { return v.number, v.form == numberValue }

// On gives the switch in v, and whether it holds one.
func (v Value) On() (on, ok bool) { return v.on, v.form == switchValue }

// Word gives the word in v, and whether it holds one.
func (v Value) Word() (string, bool) { return v.word, v.form == wordValue }

// Any gives v as a plain float64, bool or string, or nil for no value.
func (v Value) Any() any {
	switch v.form {
	case numberValue:
		return v.number
	case switchValue:
		return v.on
	case wordValue:
		return v.word
	}
	return nil
}

// String gives v without its unit, for logs and messages about faulty input.
func (v Value) String() string {
	switch v.form {
	case numberValue:
		return strconv.FormatFloat(v.number, 'g', -1, 64)
	case switchValue:
		return onOff(v.on)
	case wordValue:
		return strconv.Quote(v.word)
	}
	return "nothing"
}

func onOff(on bool) string {
	if on {
		return "on"
	}
	return "off"
}

// ValueOf takes a value as TOML and JSON hold it: a number, a switch or a text.
func ValueOf(v any) (Value, error) {
	switch v := v.(type) {
	case float64:
		if math.IsNaN(v) {
			return Value{}, errors.New("nan is not a value")
		}
		return Number(v), nil
	case int64:
		return Number(float64(v)), nil
	case bool:
		return Switch(v), nil
	case string:
		return Word(v), nil
	}
	return Value{}, fmt.Errorf("a value is a number, true or false, or a text, not %T", v)
}
