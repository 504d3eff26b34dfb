package agent

import (
	"errors"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"time"
)

// burstLength is how many times the settling time a burst may go on before it is told.
const burstLength = 5

// grounds is why a file is to be told. The highest wins.
type grounds int

const (
	attributes grounds = iota // something about it changed: told if it shows
	heard                     // an event: told even if nothing shows
	found                     // a look found it: told
)

// burst is the names of changed files, until nothing has happened for a while.
type burst struct {
	settle      time.Duration
	names       map[string]grounds
	first, last time.Time
}

// note keeps a file for the next batch. Where there are too many, all names are given
// up for a look that tells every file there is or was. A look that meets what an event has
// told already is no news, and doesn't put off the telling.
func (f *Files) note(file string, why grounds) {
	b := &f.burst
	if why == found && b.names[file] == heard {
		return
	}
	b.last = time.Now()
	if len(b.names) == 0 {
		b.first = b.last
	}
	if old, ok := b.names[file]; !ok || old < why {
		b.names[file] = why
	}
	if len(b.names) > f.pace.most && why != found { // a look is bounded by the book
		clear(b.names)
		f.enqueueAll(everything)
	}
}

// settling is how long it is until the burst is told, if there is one. While folders
// that came or went are looked at, it goes on.
func (f *Files) settling() (time.Duration, bool) {
	b := &f.burst
	if len(b.names) == 0 {
		return 0, false
	}
	end := b.first.Add(burstLength * b.settle)
	if quiet := b.last.Add(b.settle); quiet.Before(end) && !f.doubting() {
		end = quiet
	}
	return time.Until(end), true
}

// settle makes the batch: what is known of each file is brought up to now, before
// whoever takes the batch can read it.
func (f *Files) settle() []string {
	var batch []string
	for file, why := range f.burst.names {
		if f.refresh(file, why) {
			batch = append(batch, file)
		}
	}
	if len(f.burst.names) > 1024 { // a map keeps its size
		f.burst.names = map[string]grounds{}
	}
	clear(f.burst.names)
	slices.Sort(batch)
	return batch
}

// refresh looks at one file, and reports whether it is to be told.
func (f *Files) refresh(file string, why grounds) bool {
	dir, base := path.Split(file)
	d := f.at[filepath.Join(f.dir, filepath.FromSlash(dir))]
	old, known := d.files[base]
	info, err := os.Stat(filepath.Join(d.path, base))
	now, err := markOf(info, err)
	switch {
	case errors.Is(err, fs.ErrNotExist) && !known && info != nil && info.IsDir():
		return false
	case errors.Is(err, fs.ErrNotExist):
		delete(d.files, base)
		if _, ok := d.recent[base]; !ok {
			d.recent[base] = time.Now() // with its folder the watch may have gone, too
		}
		return known || why > attributes
	case err != nil: // it is there, and nobody knows more
		return true
	}
	d.files[base] = entry{now, old.round}
	return why > attributes || !known || old.mark != now
}
