package source

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A Fault is one thing that is wrong in a file, said so that a person can mend it.
type Fault struct {
	File string // as the caller named it
	Line int    // 1 is the first line; 0 means the whole file
	What string // in lower case, without a full stop
}

// Error gives the fault as "file:line: what", or "file: what" when it concerns the whole file. It is one
// line that a terminal can show: what can't be printed is written as an escape.
func (f *Fault) Error() string {
	if f.Line == 0 {
		return printable(f.File + ": " + f.What)
	}
	return printable(fmt.Sprintf("%s:%d: %s", f.File, f.Line, f.What))
}

// printable writes each control character, and each byte that is no character, as an escape: a file may
// hold what would move the cursor, and turn the direction of writing.
func printable(text string) string {
	if strings.IndexFunc(text, func(r rune) bool { return !unicode.IsPrint(r) || r == utf8.RuneError }) < 0 {
		return text
	}
	var b strings.Builder
	for _, r := range text {
		if unicode.IsPrint(r) {
			b.WriteRune(r)
			continue
		}
		escape := strconv.QuoteRune(r)
		b.WriteString(escape[1 : len(escape)-1])
	}
	return b.String()
}

// Shortened leaves as many characters of a text as say enough. What it has cut off it says with three dots.
func Shortened(text string, most int) string {
	if letters := []rune(text); len(letters) > most {
		return string(letters[:most]) + "..."
	}
	return text
}

// IsUnseen reports whether a character is one that a screen doesn't show but obeys, or that nobody can see: a
// control character, one that turns the direction of writing, ends a line, or has no width. The two that join or
// part letters, which some scripts can't be written without, are none.
func IsUnseen(r rune) bool {
	const nonJoiner, joiner = '\u200c', '\u200d'
	switch {
	case r == nonJoiner, r == joiner, unicode.Is(unicode.Prepended_Concatenation_Mark, r):
		return false
	}
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp)
}

// Faults is a list of faults that travels as one error.
type Faults []*Fault

// Error gives one fault a line, sorted by file and then by line.
func (fs Faults) Error() string {
	var b strings.Builder
	for i, f := range fs.Sorted() {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(f.Error())
	}
	return b.String()
}

// Unwrap gives each fault to errors.Is and errors.As.
func (fs Faults) Unwrap() []error {
	errs := make([]error, len(fs))
	for i, f := range fs {
		errs[i] = f
	}
	return errs
}

// Err is the list as an error, or nil when it is empty.
func (fs Faults) Err() error {
	if len(fs) == 0 {
		return nil
	}
	return fs
}

// Sorted is a copy in the order of files and lines; faults of one line stay in the order they were found.
func (fs Faults) Sorted() Faults {
	sorted := slices.Clone(fs)
	slices.SortStableFunc(sorted, func(a, b *Fault) int {
		if c := strings.Compare(a.File, b.File); c != 0 {
			return c
		}
		return a.Line - b.Line
	})
	return sorted
}
