package main

import (
	"errors"
	"fmt"
	"io"
	"regexp"
	"sync"
	"syscall"
	"unicode/utf16"
	"unicode/utf8"

	"deskhand/profiles/source"
)

// output is where a command prints. What a terminal would act on rather than show is
// written out, since names come from files and desks that others filled; a failure is
// remembered and told once, in the end.
type output struct {
	to io.Writer
	// colours lets through the codes of our own colours.
	colours bool

	mu     sync.Mutex // what is printed is whole, whoever prints
	failed error
}

// Write never fails: a command goes on to its end though nobody reads it.
func (o *output) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.failed == nil {
		_, o.failed = o.to.Write(shown(p, o.colours))
	}
	return len(p), nil
}

// trouble is why something that was printed did not arrive, or nil. That a reader has
// gone away is no trouble.
func (o *output) trouble() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.failed == nil || errors.Is(o.failed, syscall.EPIPE) {
		return nil
	}
	return fmt.Errorf("what was printed did not arrive whole: %w", o.failed)
}

var colourCode = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^\x1b\[[0-9;]*m`) })

// shown writes out what a terminal doesn't show, or would obey, as \u001b.
func shown(p []byte, colours bool) []byte {
	var out []byte
	for i := 0; i < len(p); {
		if colours && p[i] == 0x1b {
			if code := colourCode().Find(p[i:]); code != nil {
				out = append(out, code...)
				i += len(code)
				continue
			}
		}
		r, size := utf8.DecodeRune(p[i:])
		switch {
		case r == utf8.RuneError && size == 1:
			out = fmt.Appendf(out, `\x%02x`, p[i])
		case source.IsUnseen(r) && r != '\n' && r != '\t':
			for _, unit := range utf16.AppendRune(nil, r) { // two of them where JSON wants two
				out = fmt.Appendf(out, `\u%04x`, unit)
			}
		default:
			out = append(out, p[i:i+size]...)
		}
		i += size
	}
	return out
}
