package agent

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/fsnotify/fsnotify"
)

// ErrNoEvents says that the file system tells of no changes, or not of all, so that
// they are only found by looking.
var ErrNoEvents = errors.New("the file system tells of no changes")

var errWatchEnded = errors.New("the watch ended by itself")

// FileOptions says how the files of a book are watched. The zero value is the usual.
type FileOptions struct {
	// Settle is how long nothing must happen until a burst of saves is told as one
	// batch; 50 ms if 0. A burst that goes on is told after five times that.
	Settle time.Duration
	// Poll is 0 to be told of changes by the file system. Else no events are asked for,
	// and the files are looked at that often, as for a network drive.
	Poll time.Duration
	// Trouble is told why events fail, as an error that is [ErrNoEvents], or which folder
	// can't be read; each once until it is well again. The watch goes on by looking. It is
	// called by the watch, so it must not wait for it. It may be nil.
	Trouble func(error)
}

// pace is what a test makes faster or slower.
type pace struct {
	// look is how long to wait between two looks at all files.
	look time.Duration
	// ease is how many times as long as a look took to wait after it, while events come.
	ease time.Duration
	// grain is the coarsest clock of a file system: 2 s, of FAT (in its specification the
	// time of writing has five bits for the seconds of a minute).
	grain time.Duration
	// most is how many names are held for a batch before all are looked at instead.
	most int
	// open opens a watch of the file system.
	open func() (*watch, error)
}

// usualPace finds in some seconds what no event tells: a save from another computer on
// a network drive, or one through a mapped file. It takes at most a fiftieth of a
// processor for it.
var usualPace = pace{look: 2 * time.Second, ease: 50, grain: 2 * time.Second, most: 1 << 16, open: openWatch}

// Files is a watch of a book's files: book.toml, and what ends in .toml in the book's
// folders. It keeps size, times and identity of each file, and nothing of what is in it.
type Files struct {
	dir     string
	options FileOptions
	pace    pace

	folders []*folder
	at      map[string]*folder // by path in the file system
	watch   *watch             // nil while there are no events
	barred  bool               // the watch failed, and is not opened anew before the next look
	queue   []*folder          // to be looked at, the one being looked at first
	look    *look              // under way, or nil
	took    time.Duration      // by the looks since the last rest
	burst   burst
	told    map[string]string // troubles by what they are about

	changes chan []string
	anew    chan struct{} // has one in it when all is to be looked at now
	end     context.CancelFunc
	ended   chan struct{}
}

// WatchFiles begins to watch the book in a folder. Whatever changes after it has
// returned will be told, so read the book then. It ends with the context.
//
// Each file may be told once too often, never too seldom: one that was touched without
// change is told, and one found by looking, or gone, again 2 s later, since another save
// in the same tick of the file system's clock may look alike.
func WatchFiles(ctx context.Context, dir string, o FileOptions) (*Files, error) {
	return watchFiles(ctx, dir, o, usualPace)
}

func watchFiles(ctx context.Context, dir string, o FileOptions, p pace) (*Files, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, fmt.Errorf("watch the book: %w", err)
	}
	switch info, err := os.Stat(dir); {
	case err != nil:
		return nil, fmt.Errorf("watch the book: %w", err)
	case !info.IsDir():
		return nil, fmt.Errorf("watch the book: %s is no folder: give the folder that holds book.toml", dir)
	}
	if o.Settle <= 0 {
		o.Settle = 50 * time.Millisecond
	}
	f := &Files{
		dir: dir, options: o, pace: p,
		burst:   burst{settle: o.Settle, names: map[string]grounds{}},
		told:    map[string]string{},
		changes: make(chan []string),
		anew:    make(chan struct{}, 1),
		ended:   make(chan struct{}),
	}
	f.folders, f.at = foldersOf(dir)
	if err := f.first(ctx); err != nil {
		f.look.close()
		f.unwatch()
		return nil, err
	}
	ctx, f.end = context.WithCancel(ctx)
	go f.run(ctx)
	return f, nil
}

// Changes gives the paths, within the book and with slashes, of files that changed,
// came or went: sorted, a batch for each burst. Nothing is lost if they are taken late.
// It is closed when the watch has ended.
func (f *Files) Changes() <-chan []string { return f.changes }

// LookAgain has all files looked at now, as after the computer has slept.
func (f *Files) LookAgain() {
	select {
	case f.anew <- struct{}{}:
	default:
	}
}

// Close ends the watch, and returns when it has ended. It may be called again.
func (f *Files) Close() error {
	f.end()
	<-f.ended
	return nil
}

// first looks at all files, after the watch of each folder has begun.
func (f *Files) first(ctx context.Context) error {
	f.enqueueAll(known)
	for f.looking() {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("watch the book: %w", err)
		}
		f.step()
	}
	return nil
}

// run owns the watch of the file system and everything in Files until it ends. It does
// a little at a time, so that it is never long away from any of what it waits for.
func (f *Files) run(ctx context.Context) {
	defer close(f.ended)
	defer close(f.changes)
	defer f.unwatch()
	defer f.end()
	defer func() { f.look.close() }()

	due := time.NewTimer(0)
	defer due.Stop()
	rest := time.NewTimer(f.rest())
	defer rest.Stop()
	resting := true
	always := make(chan struct{})
	close(always)

	var batch []string // made, and not taken yet
	for {
		var out chan<- []string
		if len(batch) > 0 {
			out = f.changes
		}
		var onward, settled <-chan struct{}
		var dueAt <-chan time.Time
		switch wait, waiting := f.settling(); {
		case !waiting || len(batch) > 0:
		case wait <= 0:
			settled = always
		default:
			due.Reset(wait)
			dueAt = due.C
		}
		if f.looking() {
			onward = always
		}
		select {
		case <-ctx.Done():
			return
		case out <- batch:
			batch = nil
		case <-settled:
			batch = f.settle()
		case <-dueAt:
		case e, ok := <-f.watch.told():
			if !ok {
				f.fail(errWatchEnded)
				continue
			}
			f.hear(e)
		case err, ok := <-f.watch.failed():
			if !ok {
				err = errWatchEnded
			}
			f.fail(err)
		case <-rest.C:
			resting = false
			f.barred = false
			f.enqueueAll(changed)
		case <-f.anew:
			f.barred = false
			f.enqueueAll(changed)
		case <-onward:
			if f.step(); !resting && !f.looking() {
				rest.Reset(f.rest())
				resting = true
			}
		}
	}
}

// rest is how long to wait until all files are looked at again.
func (f *Files) rest() time.Duration {
	took := f.took
	f.took = 0
	switch {
	case f.options.Poll > 0:
		return max(f.options.Poll, took)
	case f.whole():
		f.well("events")
		return max(f.pace.look, f.pace.ease*took)
	default:
		return max(f.pace.look, took)
	}
}

// hear takes an event. It only notes it, so that a flood costs little.
func (f *Files) hear(e fsnotify.Event) {
	const comesOrGoes = fsnotify.Create | fsnotify.Remove | fsnotify.Rename
	name := filepath.Clean(e.Name)
	if d, ok := f.at[name]; ok { // a write in a folder is told of the file, too
		if e.Op&comesOrGoes != 0 {
			f.lost(d)
		}
		return
	}
	d, ok := f.at[filepath.Dir(name)]
	if !ok || !d.holds(filepath.Base(name)) {
		return
	}
	why := heard
	if e.Op == fsnotify.Chmod { // indexers and virus scanners cause many
		why = attributes
	}
	f.note(d.file(filepath.Base(name)), why)
}
