package agent

import (
	"errors"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/fsnotify/fsnotify"
)

// troubled is a way whose troubles go to a channel.
func troubled(look time.Duration) (way, chan error) {
	troubles := make(chan error, 64)
	w := eventsOnly
	w.look = look
	w.options.Trouble = func(err error) { troubles <- err }
	return w, troubles
}

func isNoEvents(t *testing.T, err error, cause error) {
	t.Helper()
	if !errors.Is(err, ErrNoEvents) || !errors.Is(err, cause) {
		t.Errorf("told %v, want %v because of %v", err, ErrNoEvents, cause)
	}
}

func TestFilesAreLookedAtWhenWatchingFailsAtTheStart(t *testing.T) {
	w, troubles := troubled(3 * time.Millisecond)
	p := w.pace()
	p.open = func() (*watch, error) { return nil, syscall.EMFILE }
	k := start(t, book(t), w, p)
	isNoEvents(t, <-troubles, syscall.EMFILE)
	for _, label := range []string{"one", "two", "ten"} {
		put(t, k.dir, poet, label)
		k.agree()
	}
	must(t, k.files.Close())
	if len(troubles) > 0 {
		t.Errorf("told again: %v", <-troubles)
	}
}

func TestFilesAreLookedAtWhenAFolderCantBeWatched(t *testing.T) {
	w, troubles := troubled(3 * time.Millisecond)
	p := w.pace()
	p.open = func() (*watch, error) {
		real, err := openWatch()
		if err != nil {
			return nil, err
		}
		add := real.add
		real.add = func(path string) error {
			if filepath.Base(path) == "performers" {
				return syscall.ENOSPC
			}
			return add(path)
		}
		return real, nil
	}
	k := start(t, book(t), w, p)
	isNoEvents(t, <-troubles, syscall.ENOSPC)
	put(t, k.dir, poet, "label = \"Verses\"\n")
	put(t, k.dir, "venues/net-loft.toml", "desk = \"quay-16\"\n")
	k.agree()
	must(t, k.files.Close())
}

// Where each file takes a handle, a large book leaves enough for everything else.
func TestAFolderWithTooManyFilesIsLookedAt(t *testing.T) {
	w, troubles := troubled(3 * time.Millisecond)
	p := w.pace()
	p.open = func() (*watch, error) {
		real, err := openWatch()
		if err == nil {
			real.most = 1
		}
		return real, err
	}
	k := start(t, book(t), w, p)
	for _, folder := range []string{"", "performers"} {
		if err := <-troubles; !errors.Is(err, ErrNoEvents) || !strings.Contains(err.Error(), filepath.Join(k.dir, folder)) {
			t.Errorf("told %v, want %v in %q", err, ErrNoEvents, folder)
		}
	}
	put(t, k.dir, poet, "label = \"Verses\"\n")
	put(t, k.dir, "venues/net-loft.toml", "desk = \"quay-16\"\n")
	k.agree()
	must(t, k.files.Close())
}

// deaf opens a real watch whose events are lost, and which tells what the test says.
func deaf(failures chan error) func() (*watch, error) {
	return func() (*watch, error) {
		real, err := openWatch()
		if err != nil {
			return nil, err
		}
		real.close = deafly(real, func() {})
		real.events, real.errors = make(chan fsnotify.Event), failures
		return real, nil
	}
}

// deafly takes the events of a watch, whose closing it gives, and does something first.
func deafly(w *watch, first func()) func() error {
	heard := make(chan struct{})
	go func(events <-chan fsnotify.Event) {
		defer close(heard)
		for range events {
		}
	}(w.events)
	end := w.close
	return func() error {
		first()
		err := end()
		<-heard
		return err
	}
}

func TestTheFilesAreLookedAtWhenEventsWereLost(t *testing.T) {
	w, troubles := troubled(time.Hour)
	p := w.pace()
	p.grain = time.Hour // so that every file may have changed without its showing
	failures := make(chan error)
	p.open = deaf(failures)
	k := start(t, book(t), w, p)
	put(t, k.dir, poet, "label = \"Verses\"\n")
	failures <- fsnotify.ErrEventOverflow
	k.tells(poet, botanist, "book.toml", "venues/net-loft.toml")
	k.agree()
	must(t, k.files.Close())
	if len(troubles) > 0 {
		t.Errorf("told %v, though nothing is lost", <-troubles)
	}
}

func TestAWatchThatFailsLaterIsOpenedAnew(t *testing.T) {
	for _, c := range []struct {
		name string
		fail func(chan error)
		want error
	}{
		{"an error", func(failures chan error) { failures <- syscall.EIO }, syscall.EIO},
		{"its end", func(failures chan error) { close(failures) }, errWatchEnded},
	} {
		t.Run(c.name, func(t *testing.T) {
			w, troubles := troubled(3 * time.Millisecond)
			p := w.pace()
			failures, opened := make(chan error), make(chan struct{}, 1)
			p.open = deaf(failures)
			first := p.open
			p.open = func() (*watch, error) {
				p, err := first()
				first = openWatch
				opened <- struct{}{}
				return p, err
			}
			k := start(t, book(t), w, p)
			<-opened
			c.fail(failures)
			isNoEvents(t, <-troubles, c.want)
			put(t, k.dir, poet, "label = \"Verses\"\n")
			k.agree()
			<-opened // by a look, after a rest
			put(t, k.dir, poet, "label = \"Rhymes\"\n")
			k.agree()
			must(t, k.files.Close())
		})
	}
}

// A watch may not answer before its event is taken, so that to wait for it without
// taking events would be for ever.
func TestAWatchThatWantsToTellFirstIsHeard(t *testing.T) {
	p := eventsOnly.pace()
	dir := book(t)
	p.open = func() (*watch, error) {
		real, err := openWatch()
		if err != nil {
			return nil, err
		}
		events, failures := make(chan fsnotify.Event), make(chan error)
		add := real.add
		real.add = func(path string) error {
			events <- fsnotify.Event{Name: filepath.Join(dir, filepath.FromSlash(poet)), Op: fsnotify.Write}
			failures <- fsnotify.ErrEventOverflow
			return add(path)
		}
		real.close = deafly(real, func() {
			events <- fsnotify.Event{}
			failures <- syscall.EIO
		})
		real.events, real.errors = events, failures
		return real, nil
	}
	k := start(t, dir, eventsOnly, p)
	k.tells(poet)
	must(t, k.files.Close())
}
