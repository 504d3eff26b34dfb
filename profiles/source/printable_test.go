package source

import (
	"strings"
	"testing"
	"unicode"
)

func TestNoFaultPrintsWhatATerminalWouldObey(t *testing.T) {
	for _, text := range []string{
		"gain = 0x\x00",
		"label = \"\\\x83\"",
		"label = \"\\\x1b[2J\"",
		"\u202egnitirw = 1",
		"\x1b]0;title\x07 = 1",
	} {
		_, err := Parse("a\x1b.toml", []byte(text))
		if err == nil {
			t.Errorf("%q was taken", text)
			continue
		}
		if i := strings.IndexFunc(err.Error(), func(r rune) bool { return !unicode.IsPrint(r) && r != '\n' }); i >= 0 {
			t.Errorf("%q: the fault is %q", text, err)
		}
	}
}
