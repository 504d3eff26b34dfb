package source

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"time"
)

// newFileMode is the mode of a file that Replace makes, before the user's mask.
const newFileMode fs.FileMode = 0o666

// Replace puts text in place of a file, whole or not at all. When the file no longer holds old, because
// someone saved it meanwhile, that is [ErrChanged] and nothing is written; with old nil the file must not
// exist yet, else the error is fs.ErrExist. The file keeps its mode, and where it may its owner; one that is
// write-protected is not replaced. A symbolic link stays a link, and the file that it points to is replaced.
// A reader sees the old text or the new one at any moment; a writer that saves between the check and the
// replacement, which is a matter of microseconds, is not seen. Errors don't name the file: the caller knows
// what people call it.
func Replace(path string, old, text []byte) error { return ReplaceFrom("", path, old, text) }

// ReplaceFrom is Replace with a folder in which the new text is made ready, on the same disk as the file. What
// a process leaves half-written there when it is killed is taken away by a later one. Where that can't be done
// there, and without a folder, it is done beside the file, under a name that begins with a dot.
func ReplaceFrom(workshop, path string, old, text []byte) error {
	target := path
	if old != nil {
		var err error
		if target, err = filepath.EvalSymlinks(path); err != nil {
			return Cause(err)
		}
	}
	if workshop != "" {
		err := replace(workshop, target, old, text)
		if err == nil || errors.Is(err, ErrChanged) || errors.Is(err, fs.ErrExist) {
			return err
		}
	}
	return replace(filepath.Dir(target), target, old, text)
}

// replace makes the text ready in a folder, and gives it its name.
func replace(workshop, target string, old, text []byte) error {
	if old == nil {
		return create(workshop, target, text)
	}
	info, err := os.Stat(target)
	if err != nil {
		return Cause(err)
	}
	if !info.Mode().IsRegular() {
		return ErrNotPlain
	}
	if err := mayWrite(target); err != nil {
		return err
	}
	prepared, err := prepare(workshop, target, info, text)
	if err != nil {
		return Cause(err)
	}
	defer prepared.discard()
	now, err := ReadFile(target, int64(len(old)))
	var larger *TooLarge
	if errors.As(err, &larger) || err == nil && !bytes.Equal(now, old) {
		return ErrChanged
	}
	if err != nil {
		return fmt.Errorf("it can't be read again before it is replaced: %w", err)
	}
	return Cause(prepared.commit())
}

// ErrChanged is the error of Replace when the file holds something else than it was read with.
var ErrChanged = errors.New("the file was changed by someone else meanwhile; nothing was written, so read it again and repeat")

// mayWrite is nil for a file that may be written into. To replace it takes no more than the right to its
// folder, but who protects a file doesn't want it replaced.
func mayWrite(target string) error {
	f, err := os.OpenFile(target, os.O_WRONLY|dontWait, 0)
	if err != nil {
		return Cause(err)
	}
	return Cause(f.Close())
}

// create makes a file that must not exist. The text is complete under another name before it gets this
// one, and the name is given by a link, which fails when the name is taken.
func create(workshop, path string, text []byte) error {
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("%w; nothing was written", fs.ErrExist)
	}
	prepared, err := prepare(workshop, path, nil, text)
	if err != nil {
		return Cause(err)
	}
	defer prepared.discard()
	err = os.Link(prepared.name(), path)
	if err != nil && !errors.Is(err, fs.ErrExist) {
		err = prepared.commit() // a file system without links; the check above has to do
	}
	return Cause(err)
}

// strayAfter is how long after its last write a text that was made ready and not put in place is a stray: its
// writer needs a moment only.
const strayAfter = time.Hour

// sweep takes away strays that were for the same file, or that lie in a folder of such texts only. Ages are by
// the clock of the folder's own disk, which has just dated a new file there.
func sweep(workshop, target string, now time.Time) {
	entries, err := os.ReadDir(workshop)
	if err != nil {
		return // a stray does no harm
	}
	of := ".*"
	if workshop == filepath.Dir(target) {
		of = regexp.QuoteMeta(filepath.Base(target))
	}
	ready := regexp.MustCompile(`^\.` + of + `[0-9]+$`)
	for _, e := range entries {
		if !ready.MatchString(e.Name()) {
			continue
		}
		if info, err := e.Info(); err == nil && info.Mode().IsRegular() && now.Sub(info.ModTime()) > strayAfter {
			_ = os.Remove(filepath.Join(workshop, e.Name()))
		}
	}
}
