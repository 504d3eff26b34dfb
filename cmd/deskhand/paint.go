package main

import (
	"io"
	"os"

	"golang.org/x/term"
)

// paint colours words on a terminal. Nothing is said by colour alone. The zero paint
// colours nothing.
type paint struct{ on bool }

// paintFor honours NO_COLOR, and paints on a terminal only.
func paintFor(out io.Writer) paint {
	return paint{on: isTerminal(out) && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"}
}

func isTerminal(out io.Writer) bool {
	f, ok := out.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// isKeyboard reports whether somebody types into it.
func isKeyboard(in io.Reader) bool {
	f, ok := in.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

func (p paint) wrap(code, text string) string {
	if !p.on {
		return text
	}
	return "\x1b[" + code + "m" + text + "\x1b[0m"
}

func (p paint) head(text string) string { return p.wrap("1", text) }
func (p paint) dim(text string) string  { return p.wrap("2", text) }
func (p paint) good(text string) string { return p.wrap("32", text) }
func (p paint) bad(text string) string  { return p.wrap("31", text) }
func (p paint) warn(text string) string { return p.wrap("33", text) }
