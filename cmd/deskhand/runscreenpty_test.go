//go:build !windows

package main

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"deskhand/profiles"

	"github.com/charmbracelet/x/ansi"
	"github.com/creack/pty"
)

// terminal is the real program on a pseudo-terminal.
type terminal struct {
	t       *testing.T
	command *exec.Cmd
	tty     *os.File
	mu      sync.Mutex
	written bytes.Buffer
	// more has one in it when more was written; ended is closed with the program's output.
	more  chan struct{}
	ended chan struct{}
}

func (k *killing) onTerminal(t *testing.T) *terminal {
	t.Helper()
	term := &terminal{t: t, more: make(chan struct{}, 1), ended: make(chan struct{})}
	term.command = exec.Command("deskhand", "run", "winter-talks", "--book", k.dir, "--desk", k.mock.Addr())
	term.command.Env = append(os.Environ(), "TERM=xterm", "NO_COLOR=1")
	var err error
	term.tty, err = pty.StartWithSize(term.command, &pty.Winsize{Rows: 24, Cols: 80})
	k.must(err)
	go func() { // it ends with the program
		defer close(term.ended)
		_, _ = io.Copy(term, term.tty) // ends with an error when the program has gone
	}()
	t.Cleanup(func() {
		_ = term.command.Process.Kill()
		<-term.ended
		_ = term.tty.Close()
	})
	return term
}

// Write takes what the program writes.
func (term *terminal) Write(p []byte) (int, error) {
	term.mu.Lock()
	defer term.mu.Unlock()
	term.written.Write(p)
	select {
	case term.more <- struct{}{}:
	default:
	}
	return len(p), nil
}

func (term *terminal) text() string {
	term.mu.Lock()
	defer term.mu.Unlock()
	return term.written.String()
}

// await waits until something is so, as the program goes on writing.
func (term *terminal) await(what string, is func() bool) {
	term.t.Helper()
	late := time.After(scriptPatience)
	for !is() {
		select {
		case <-term.more:
		case <-time.After(20 * time.Millisecond): // a mock desk and a memory tell nobody
		case <-late:
			term.t.Fatalf("waited in vain for: %s; written: %q", what, ansi.Strip(term.text()))
		}
	}
}

func (term *terminal) press(key string) {
	if _, err := io.WriteString(term.tty, key); err != nil {
		term.t.Fatal(err)
	}
}

// leaves waits for the end, and sees that the terminal is as it was before.
func (term *terminal) leaves(code int) {
	term.t.Helper()
	select {
	case <-term.ended:
	case <-time.After(scriptPatience):
		term.t.Fatal("it does not end")
	}
	_ = term.command.Wait() // its code is looked at
	if got := term.command.ProcessState.ExitCode(); got != code {
		term.t.Errorf("it ended with %d, not %d", got, code)
	}
	text := term.text()
	for on, off := range map[string]string{"\x1b[?1049h": "\x1b[?1049l", "\x1b[?25l": "\x1b[?25h", "\x1b[?2004h": "\x1b[?2004l"} {
		if strings.Count(text, on) > 0 && strings.LastIndex(text, off) < strings.LastIndex(text, on) {
			term.t.Errorf("%q was not taken back by %q", on, off)
		}
	}
	if !strings.Contains(text, "\x1b[?1049h") {
		term.t.Error("it did not take the whole screen")
	}
}

// isOn waits until the book remembers that a scene is on, which it does once all is confirmed.
func (term *terminal) isOn(k *killing, number int) {
	term.t.Helper()
	term.await("the scene to be on", func() bool {
		m, err := k.book.Memory(k.venue)
		return err == nil && m.Running.Number == number && len(m.Unfinished) == 0
	})
}

// isAtRest waits until the screen, drawn anew, shows the answer to the last key.
func (term *terminal) isAtRest() {
	term.t.Helper()
	drawn := ""
	term.await("the answer", func() bool {
		if from := len(drawn); strings.Contains(ansi.Strip(term.text()[from:]), "quit") {
			rest := ansi.Strip(term.text()[from:])
			if strings.Contains(rest, "> next scene: all confirmed") {
				return true
			}
			drawn = term.text()
			term.press("\x0c")
		}
		return false
	})
}

func TestTheWholeEventAtTheKeysOfATerminal(t *testing.T) {
	t.Parallel()
	k := newKilling(t, "")
	term := k.onTerminal(t)
	term.await("the next scene", func() bool { return strings.Contains(ansi.Strip(term.text()), "settings differ") })
	for number := range 4 {
		term.press("n")
		term.isOn(k, number+1)
		term.isAtRest()
		if number > 0 { // from then on every position is set
			k.judge(number)
		}
		time.Sleep(twice) // a key that comes sooner is the same press
	}
	for _, p := range []struct {
		position string
		muted    bool
	}{{"bench", true}, {"roving", false}} {
		at, err := k.venue.Position(p.position)
		k.must(err)
		held, _ := k.mock.Holds(profiles.Parameter{Place: at.Place(), Name: "mute"})
		if muted, _ := held.On(); muted != p.muted {
			t.Errorf("in the end %s is muted: %t", p.position, muted)
		}
	}
	term.press("q")
	term.await("the question", func() bool { return strings.Contains(ansi.Strip(term.text()), "LEAVE?") })
	term.press("y")
	term.leaves(0)
}

func TestToldToEndItRestoresTheTerminal(t *testing.T) {
	k := newKilling(t, "")
	term := k.onTerminal(t)
	term.await("the next scene", func() bool { return strings.Contains(ansi.Strip(term.text()), "settings differ") })
	k.must(term.command.Process.Signal(syscall.SIGTERM))
	term.leaves(0)
}
