package main

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"
)

const (
	// patience is how long something may take before its progress is shown.
	patience = time.Second
	// refresh is how long a line of progress stands at least.
	refresh = 100 * time.Millisecond
)

// progress shows on a terminal how far something is that takes more than a second.
// It writes to standard error, and leaves nothing behind.
type progress struct {
	out io.Writer

	mu      sync.Mutex
	waiting *time.Timer // until something is shown though no step was made
	waited  bool        // a step was made, or the end
	started time.Time
	last    time.Time // when a line was shown, zero where none stands there
}

// newProgress gives nil where there is no terminal that can take a line back.
func newProgress(out io.Writer) *progress {
	if !isTerminal(out) || os.Getenv("TERM") == "dumb" {
		return nil
	}
	p := &progress{out: out, started: time.Now()}
	p.waiting = time.AfterFunc(patience, p.wait)
	return p
}

// wait shows that nothing has come yet.
func (p *progress) wait() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if !p.waited {
		p.show(time.Now(), "waiting for the desk ...")
	}
}

func (p *progress) show(now time.Time, text string) {
	p.last = now
	fmt.Fprint(p.out, "\r\x1b[K"+text)
}

// step says what is being done, and how many of how many are done; of 0 is not known.
func (p *progress) step(what string, done, of int) {
	if p == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.stopWaiting()
	now := time.Now()
	switch {
	case now.Sub(p.started) < patience || now.Sub(p.last) < refresh:
	case of == 0:
		p.show(now, what+" ...")
	default:
		p.show(now, fmt.Sprintf("%s %d of %d", what, done, of))
	}
}

func (p *progress) stopWaiting() {
	p.waited = true
	p.waiting.Stop()
}

// end takes away what is shown. A later step shows it again.
func (p *progress) end() {
	if p == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.stopWaiting()
	if !p.last.IsZero() {
		fmt.Fprint(p.out, "\r\x1b[K")
		p.last = time.Time{}
	}
}
