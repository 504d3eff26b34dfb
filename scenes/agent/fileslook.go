package agent

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"

	"deskhand/scenes"
)

// bookFolders are the folders of a book whose files are watched.
var bookFolders = []string{"profiles", "venues", "performers", "scenes", "running-orders", "readings"}

// slice is how many files are looked at before events get their turn: under a
// millisecond on a local drive.
const slice = 256

// rigour is which files a look tells. The highest wins.
type rigour int

const (
	known      rigour = iota // none: the first look
	changed                  // those that are not as they were
	doubtful                 // those too that changed so lately that it may not show
	everything               // each
)

// mark is what is kept of a file, to see that it changed.
type mark struct {
	size     int64
	modified int64 // ns since 1970
	changed  int64 // of contents or attributes, likewise; 0 where it isn't known
	inode    uint64
	mode     fs.FileMode
}

// entry is a file that is there.
type entry struct {
	mark
	round uint32 // the look that saw it last
}

// folder is one folder of the book, which need not be there.
type folder struct {
	name    string // within the book; "" for the book's own folder
	path    string
	only    string // the only file that counts, or "" for all that end in .toml
	files   map[string]entry
	recent  map[string]time.Time // found changed by a look alone, or gone, and when
	watched fs.FileInfo          // as it was when its watch began, or nil
	queued  bool
	rigour  rigour // of the look that is queued
	round   uint32
}

// foldersOf lists the folders of a book, its own first, and where each is.
func foldersOf(dir string) ([]*folder, map[string]*folder) {
	folders := []*folder{{path: dir, only: scenes.SettingsFile}}
	for _, name := range bookFolders {
		folders = append(folders, &folder{name: name, path: filepath.Join(dir, name)})
	}
	at := map[string]*folder{}
	for _, d := range folders {
		d.files = map[string]entry{}
		d.recent = map[string]time.Time{}
		at[d.path] = d
	}
	return folders, at
}

// holds reports whether a file of that name counts in the folder. Editors keep files
// of their own under names that begin with a full stop, which no file of a book may.
func (d *folder) holds(base string) bool {
	if d.only != "" {
		return base == d.only
	}
	return strings.HasSuffix(base, ".toml") && !strings.HasPrefix(base, ".")
}

// file is the path of a file within the book.
func (d *folder) file(base string) string { return path.Join(d.name, base) }

// look is a look at one folder, in slices.
type look struct {
	folder  *folder
	rigour  rigour
	started time.Time
	list    *os.File // nil for a folder of which one file counts
}

func (l *look) close() {
	if l != nil && l.list != nil {
		l.list.Close()
	}
}

// enqueue has a folder looked at.
func (f *Files) enqueue(d *folder, r rigour) {
	if !d.queued {
		d.queued, d.rigour = true, r
		f.queue = append(f.queue, d)
	}
	d.rigour = max(d.rigour, r)
}

func (f *Files) enqueueAll(r rigour) {
	for _, d := range f.folders {
		f.enqueue(d, r)
	}
}

// looking reports whether there is anything to look at.
func (f *Files) looking() bool { return f.look != nil || len(f.queue) > 0 }

// doubting reports whether a look is to come, or under way, because something happened.
func (f *Files) doubting() bool {
	if f.look != nil && f.look.rigour >= doubtful {
		return true
	}
	for _, d := range f.queue {
		if d.rigour >= doubtful {
			return true
		}
	}
	return false
}

// step looks at a slice of a folder.
func (f *Files) step() {
	started := time.Now()
	if f.look == nil {
		f.begin()
	} else if f.slice() {
		f.look.close()
		f.look = nil
	}
	f.took += time.Since(started)
}

// begin starts the look at the next folder, with its watch first, so that nothing is
// missed in between.
func (f *Files) begin() {
	d := f.queue[0]
	f.queue = f.queue[1:]
	if len(f.queue) == 0 {
		f.queue = nil
	}
	d.queued = false
	d.round++
	l := &look{folder: d, rigour: d.rigour}
	if f.rewatch(d) && l.rigour == changed {
		l.rigour = doubtful
	}
	l.started = time.Now()
	if d.only == "" {
		list, err := os.Open(d.path)
		if err != nil {
			f.unlisted(d, l, err)
			return
		}
		l.list = list
	}
	f.look = l
}

// slice looks at some files of the folder, and reports whether it was the last.
func (f *Files) slice() bool {
	l, d := f.look, f.look.folder
	if l.list == nil {
		info, err := os.Stat(filepath.Join(d.path, d.only))
		f.visit(l, d.only, info, err)
		f.sweep(l)
		return true
	}
	entries, err := l.list.ReadDir(slice)
	for _, e := range entries {
		if d.holds(e.Name()) && !e.IsDir() {
			info, err := infoOf(e, filepath.Join(d.path, e.Name()))
			f.visit(l, e.Name(), info, err)
		}
	}
	switch {
	case err == nil:
		return false
	case errors.Is(err, io.EOF):
		f.well(d.path)
		f.sweep(l)
	default:
		f.unlisted(d, l, err)
	}
	return true
}

// infoOf is what a name leads to: a book's file may be a link.
func infoOf(e fs.DirEntry, at string) (fs.FileInfo, error) {
	if e.Type().IsRegular() {
		return e.Info()
	}
	return os.Stat(at)
}

// unlisted is a folder that can't be read. If it is not there, its files went; else
// they may be as they were.
func (f *Files) unlisted(d *folder, l *look, err error) {
	if isGone(err) {
		f.well(d.path)
		f.sweep(l)
		return
	}
	f.trouble(d.path, fmt.Errorf("watch the book: can't read %s, so that changes in it may be missed: %w", d.path, err))
}

// isGone reports whether a folder isn't there, or is something else.
func isGone(err error) bool {
	return errors.Is(err, fs.ErrNotExist) || errors.Is(err, errNoFolder)
}

// visit holds a file against what is known of it.
func (f *Files) visit(l *look, base string, info fs.FileInfo, err error) {
	d := l.folder
	now, err := markOf(info, err)
	old, was := d.files[base]
	if err != nil {
		if was && !errors.Is(err, fs.ErrNotExist) { // it is there, and nobody knows more
			d.files[base] = entry{old.mark, d.round}
		}
		return
	}
	d.files[base] = entry{now, d.round}
	file := d.file(base)
	seen, again := d.recent[base]
	switch {
	case l.rigour == known:
		if d.watched == nil && now.within(f.pace.grain, l.started) {
			d.recent[base] = l.started
		}
	case !was || old.mark != now:
		if f.burst.names[file] < heard {
			d.recent[base] = l.started
		}
		f.note(file, found)
	case again && l.started.Sub(seen) >= f.pace.grain:
		delete(d.recent, base)
		f.note(file, found)
	case l.rigour == everything, l.rigour == doubtful && now.within(f.pace.grain, l.started):
		f.note(file, found)
	}
}

// sweep tells the files that the look at their folder didn't meet and that are gone.
func (f *Files) sweep(l *look) {
	d := l.folder
	for base, e := range d.files {
		if e.round == d.round {
			continue
		}
		info, err := os.Stat(filepath.Join(d.path, base))
		if err == nil && !info.IsDir() { // it came meanwhile
			f.visit(l, base, info, nil)
			continue
		}
		delete(d.files, base)
		d.recent[base] = l.started
		f.note(d.file(base), found)
	}
	f.again(l)
}

// again tells once more, when the clock has moved on, what was told as gone: it may have
// been back for a moment, just when it was read.
func (f *Files) again(l *look) {
	d := l.folder
	for base, seen := range d.recent {
		if _, there := d.files[base]; !there && l.started.Sub(seen) >= f.pace.grain {
			delete(d.recent, base)
			f.note(d.file(base), found)
		}
	}
}

// markOf is what is kept of a file. A folder is no file.
func markOf(info fs.FileInfo, err error) (mark, error) {
	switch {
	case isGone(err):
		return mark{}, fs.ErrNotExist
	case err != nil:
		return mark{}, err
	case info.IsDir():
		return mark{}, fs.ErrNotExist
	}
	changed, inode := identity(info)
	return mark{info.Size(), info.ModTime().UnixNano(), changed, inode, info.Mode()}, nil
}

// within reports whether the file changed so shortly before a time that another change
// could have the same times, or after it.
func (m mark) within(grain time.Duration, now time.Time) bool {
	return now.UnixNano()-max(m.modified, m.changed) < int64(grain)
}
