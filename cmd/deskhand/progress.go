package main

import (
	"fmt"
	"io"
	"time"
)

// patience is how long something may take before its progress is shown.
const patience = time.Second

// progress shows on a terminal how far something is that takes more than a second.
// It writes to standard error, and leaves nothing behind.
type progress struct {
	out     io.Writer
	started time.Time
	shown   bool
}

// newProgress gives nil where there is no terminal.
func newProgress(out io.Writer) *progress {
	if !isTerminal(out) {
		return nil
	}
	return &progress{out: out, started: time.Now()}
}

func (p *progress) step(what string, done, of int) {
	if p == nil || time.Since(p.started) < patience {
		return
	}
	p.shown = true
	if of == 0 {
		fmt.Fprintf(p.out, "\r\x1b[K%s ...", what)
		return
	}
	fmt.Fprintf(p.out, "\r\x1b[K%s %d of %d", what, done, of)
}

func (p *progress) end() {
	if p != nil && p.shown {
		fmt.Fprint(p.out, "\r\x1b[K")
	}
}
