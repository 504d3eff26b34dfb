package agent

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/fsnotify/fsnotify"
)

// The kernel's own queue runs over: nobody takes its events while more saves come than
// it holds, and the last ones are lost.
func TestSavesAreToldThoughTheKernelsQueueRanOver(t *testing.T) {
	limit, err := os.ReadFile("/proc/sys/fs/inotify/max_queued_events")
	must(t, err)
	queue, err := strconv.Atoi(strings.TrimSpace(string(limit)))
	must(t, err)

	gate := &gate{open: make(chan struct{}), ended: make(chan struct{})}
	p := eventsOnly.pace()
	p.open = gate.watch
	k := start(t, book(t), eventsOnly, p)
	two := []*os.File{opened(t, k.dir, botanist), opened(t, k.dir, poet)}
	for i := range queue + 10_000 { // some of them are under way, and not in the queue
		_, err := two[i%2].WriteAt(fmt.Appendf(nil, "n = %06d\n", i), 0)
		must(t, err)
	}
	put(t, k.dir, "venues/net-loft.toml", "desk = \"quay-16\"\n")
	close(gate.open)
	k.agree()
	must(t, k.files.Close())
	if !gate.ranOver {
		t.Error("the queue didn't run over, so that nothing was shown")
	}
}

// opened opens a file to be written in place, until the test ends.
func opened(t *testing.T, dir, file string) *os.File {
	t.Helper()
	f, err := os.OpenFile(filepath.Join(dir, filepath.FromSlash(file)), os.O_WRONLY|os.O_TRUNC, 0)
	must(t, err)
	t.Cleanup(func() { f.Close() })
	return f
}

// gate keeps the events of a real watch back until it opens.
type gate struct {
	open, ended chan struct{}
	ranOver     bool // to be read once the watch has ended
}

func (g *gate) watch() (*watch, error) {
	real, err := openWatch()
	if err != nil {
		return nil, err
	}
	events, failures := make(chan fsnotify.Event), make(chan error)
	passed := make(chan struct{})
	go func(from <-chan fsnotify.Event, wrong <-chan error) {
		defer close(passed)
		<-g.open
		for from != nil {
			select {
			case e, ok := <-from:
				if !ok {
					from = nil
					break
				}
				pass(events, e, g.ended)
			case err, ok := <-wrong:
				if !ok {
					wrong = nil
					break
				}
				g.ranOver = g.ranOver || errors.Is(err, fsnotify.ErrEventOverflow)
				pass(failures, err, g.ended)
			}
		}
	}(real.events, real.errors)
	end := real.close
	real.close = func() error {
		close(g.ended)
		err := end()
		<-passed
		return err
	}
	real.events, real.errors = events, failures
	return real, nil
}

// pass passes something on, unless it has ended.
func pass[T any](to chan<- T, what T, ended <-chan struct{}) {
	select {
	case to <- what:
	case <-ended:
	}
}
