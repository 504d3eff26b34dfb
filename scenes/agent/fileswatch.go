package agent

import (
	"errors"
	"fmt"
	"os"
	"runtime"
	"slices"

	"github.com/fsnotify/fsnotify"
)

// watch is a watch of folders by the file system.
type watch struct {
	events      <-chan fsnotify.Event
	errors      <-chan error
	add, remove func(path string) error
	list        func() []string // the paths that are watched
	close       func() error
	// most is how many names a folder may have to be watched, 0 for any number.
	most int
}

// kqueueMost bounds the handles that a watch takes where the system wants one for each
// file: more would leave none for links to a desk.
const kqueueMost = 1000

func openWatch() (*watch, error) {
	w, err := fsnotify.NewWatcher()
	if err != nil {
		return nil, err
	}
	most := 0
	if runtime.GOOS != "linux" && runtime.GOOS != "windows" {
		most = kqueueMost
	}
	return &watch{events: w.Events, errors: w.Errors, add: w.Add, remove: w.Remove, list: w.WatchList, close: w.Close, most: most}, nil
}

// told gives the events; none come while there is no watch.
func (w *watch) told() <-chan fsnotify.Event {
	if w == nil {
		return nil
	}
	return w.events
}

// failed gives the errors of the watch.
func (w *watch) failed() <-chan error {
	if w == nil {
		return nil
	}
	return w.errors
}

// call calls the watch and takes what it tells meanwhile: on some systems it doesn't
// answer while an event waits to be taken.
func (w *watch) call(do func() error, event func(fsnotify.Event), failure func(error)) error {
	answer := make(chan error, 1)
	go func() { answer <- do() }()
	events, failures := w.events, w.errors
	for {
		select {
		case err := <-answer:
			return err
		case e, ok := <-events:
			if !ok {
				events = nil
				continue
			}
			event(e)
		case err, ok := <-failures:
			if !ok {
				failures = nil
				continue
			}
			failure(err)
		}
	}
}

// end ends the watch, whatever it still had to tell.
func (w *watch) end() {
	// Of an error nothing would follow: the watch isn't used any more.
	_ = w.call(w.close, func(fsnotify.Event) {}, func(error) {})
}

// begin starts the watch of a folder, anew if there was one under the same path, which
// may be another folder by now. It reports whether it did: a folder that is as it was
// then, and watched still, is left alone.
func (w *watch) begin(path string, same bool) (bool, error) {
	if same && slices.Contains(w.list(), path) {
		return false, nil
	}
	if w.most > 0 && crowded(path, w.most) {
		return false, fmt.Errorf("it has more than %d files, and this system would need a handle for each", w.most)
	}
	_ = w.remove(path) // there may be none
	return true, w.add(path)
}

// crowded reports whether a folder has more names than that.
func crowded(path string, most int) bool {
	list, err := os.Open(path)
	if err != nil {
		return false
	}
	defer list.Close()
	names, _ := list.Readdirnames(most + 1)
	return len(names) > most
}

// rewatch sees to it that a folder is watched, and reports whether its watch began just
// now. A folder under the same path that is another one than before (a link led
// elsewhere, a drive was mounted) needs a watch of its own, and no event tells that.
// Nor does one tell of each watch that the system ends.
func (f *Files) rewatch(d *folder) bool {
	if f.options.Poll > 0 || !f.open() {
		return false
	}
	info, err := os.Stat(d.path)
	if err != nil || !info.IsDir() {
		d.watched = nil
		return false
	}
	same := d.watched != nil && os.SameFile(d.watched, info)
	d.watched = info // until an event tells otherwise
	anew, err := f.beginWatch(d.path, same)
	switch {
	case err == nil:
		f.well("events of " + d.path)
		return anew
	case !isGone(err):
		f.trouble("events of "+d.path, fmt.Errorf("watch the book: %w in %s, which is looked at every %v instead: %w", ErrNoEvents, d.path, f.pace.look, err))
	}
	d.watched = nil
	return false
}

// beginWatch starts the watch of a folder, and takes what is told meanwhile.
func (f *Files) beginWatch(path string, same bool) (anew bool, err error) {
	w := f.watch
	var failure error
	err = w.call(func() (err error) {
		anew, err = w.begin(path, same)
		return err
	}, f.hear, func(err error) { failure = worse(failure, err) })
	if failure != nil {
		f.fail(failure)
	}
	return anew, err
}

// worse is the graver of two errors of a watch: the queue that ran over is the least.
func worse(a, b error) error {
	if a == nil || errors.Is(a, fsnotify.ErrEventOverflow) {
		return b
	}
	return a
}

// open opens the watch of the file system if there is none, and reports whether there is.
func (f *Files) open() bool {
	if f.watch != nil {
		return true
	}
	if f.barred {
		return false
	}
	w, err := f.pace.open()
	if err != nil {
		f.noEvents(err)
		return false
	}
	f.watch = w
	return true
}

// whole reports whether every folder that is there is watched.
func (f *Files) whole() bool {
	if f.watch == nil {
		return false
	}
	for _, d := range f.folders {
		if d.watched == nil && len(d.files) > 0 {
			return false
		}
	}
	return true
}

// lost is told when a folder came or went: its watch is none any more, and begins anew
// with a look. With the book's own folder all may have gone.
func (f *Files) lost(d *folder) {
	d.watched = nil
	if d.name == "" {
		f.enqueueAll(doubtful)
		return
	}
	f.enqueue(d, doubtful)
}

// fail takes an error of the watch. When the kernel's queue ran over, events are lost
// and the watch is well; after any other error it is opened anew at the next look.
func (f *Files) fail(err error) {
	if errors.Is(err, fsnotify.ErrEventOverflow) {
		f.enqueueAll(doubtful)
		return
	}
	f.unwatch()
	f.barred = true
	f.noEvents(err)
	f.enqueueAll(doubtful)
}

// noEvents tells that there is no watch.
func (f *Files) noEvents(err error) {
	f.trouble("events", fmt.Errorf("watch the book: %w in %s, which is looked at every %v instead: %w", ErrNoEvents, f.dir, f.pace.look, err))
}

// unwatch ends the watch of the file system.
func (f *Files) unwatch() {
	if f.watch == nil {
		return
	}
	f.watch.end()
	f.watch = nil
	for _, d := range f.folders {
		d.watched = nil
	}
}

// trouble tells of a trouble, once.
func (f *Files) trouble(about string, err error) {
	if f.told[about] == err.Error() {
		return
	}
	f.told[about] = err.Error()
	if f.options.Trouble != nil {
		f.options.Trouble(err)
	}
}

// well is told when a trouble is over.
func (f *Files) well(about string) { delete(f.told, about) }
