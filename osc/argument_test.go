package osc_test

import (
	"testing"

	"deskhand/osc"
)

func TestAnArgumentIsANumberOrATextWhateverItsType(t *testing.T) {
	for _, c := range []struct {
		argument any
		number   float64
		text     string
	}{
		{int32(-3), -3, ""}, {int64(1 << 40), 1 << 40, ""}, {float32(0.5), 0.5, ""}, {0.25, 0.25, ""},
		{"lectern", 0, "lectern"}, {osc.Symbol("lectern"), 0, "lectern"},
		{true, 0, ""}, {nil, 0, ""}, {[]byte("3"), 0, ""}, {[]any{int32(3)}, 0, ""},
	} {
		number, isNumber := osc.Number(c.argument)
		text, isText := osc.Text(c.argument)
		if number != c.number || isNumber != (c.number != 0) || text != c.text || isText != (c.text != "") {
			t.Errorf("%T %v: number %v %v, text %q %v", c.argument, c.argument, number, isNumber, text, isText)
		}
	}
}
