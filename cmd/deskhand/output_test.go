package main

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"syscall"
	"testing"

	"deskhand/profiles"
)

func TestControlCharactersAreWrittenOut(t *testing.T) {
	for _, c := range []struct {
		name, text, want string
		colours          bool
	}{
		{"plain text stays", "lectern · channel 3\n\tgain\n", "lectern · channel 3\n\tgain\n", false},
		{"no colours where none are wanted", "\x1b[31mred\x1b[0m", `\u001b[31mred\u001b[0m`, false},
		{"our colours pass on a terminal", "\x1b[31mred\x1b[0m", "\x1b[31mred\x1b[0m", true},
		{"no other code passes", "\x1b[2J\x1b]0;title\a", `\u001b[2J\u001b]0;title\u0007`, true},
		{"a code cut short", "\x1b[31", `\u001b[31`, true},
		{"eight-bit codes", "\u009b31m", `\u009b31m`, true},
		{"a carriage return, which would hide what is before it", "a\rb", `a\u000db`, true},
		{"the direction of writing", "a\u202eb", `a\u202eb`, false},
		{"marks of direction", "a\u200eb\u061cc", `a\u200eb\u061cc`, false},
		{"what has no width", "po\u200bet\ufeff", `po\u200bet\ufeff`, false},
		{"a tag that nobody sees, as JSON writes it", "a\U000e0041b", `a\udb40\udc41b`, false},
		{"other ends of lines", "a\u2028b", `a\u2028b`, false},
		{"joiners that scripts are written with", "\u06cc\u200c\u0627", "\u06cc\u200c\u0627", false},
		{"no UTF-8", "a\xffb", `a\xffb`, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := string(shown([]byte(c.text), c.colours)); got != c.want {
				t.Errorf("%q, not %q", got, c.want)
			}
		})
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

func TestOutputThatFailsIsToldUnlessItsReaderWentAway(t *testing.T) {
	for _, c := range []struct {
		err     error
		trouble bool
	}{
		{syscall.ENOSPC, true},
		{io.ErrShortWrite, true},
		{syscall.EPIPE, false},
	} {
		o := &output{to: failing{c.err}}
		if n, err := io.WriteString(o, "all confirmed"); n != len("all confirmed") || err != nil {
			t.Errorf("a command that prints would stop half-way: %d %v", n, err)
		}
		if got := o.trouble(); (got != nil) != c.trouble || c.trouble && !errors.Is(got, c.err) {
			t.Errorf("%v: trouble is %v", c.err, got)
		}
	}
	var text bytes.Buffer
	if o := (&output{to: &text}); o.trouble() != nil {
		t.Error("trouble where nothing failed")
	}
}

func TestTypedNumbersAreReadAsTheTradeWritesThem(t *testing.T) {
	for _, c := range []struct {
		unit, text string
		want       float64
	}{
		{"dB", "-4.5", -4.5}, {"dB", "-4.5 dB", -4.5}, {"dB", "-4.5dB", -4.5},
		{"Hz", "2.5 kHz", 2500}, {"Hz", "120 Hz", 120}, {"Hz", "120", 120},
		{":1", "3:1", 3}, {":1", "3", 3},
		{"pan", "L30", -30}, {"pan", "R100", 100}, {"pan", "centre", 0}, {"pan", "-30", -30},
		{"ms", "12 ms", 12}, {"Q", "1.4", 1.4}, {"", "3", 3},
	} {
		if got, err := typedNumber(profiles.Unit(c.unit), c.text); err != nil || got != c.want {
			t.Errorf("%s in %q: %v %v, not %v", c.text, c.unit, got, err, c.want)
		}
	}
	for _, wrong := range []string{"", "dB", "loud", "4 kHz", "4 5"} {
		if got, err := typedNumber("dB", wrong); err == nil || !strings.Contains(err.Error(), "not a number") {
			t.Errorf("%q was read as %v", wrong, got)
		}
	}
}
