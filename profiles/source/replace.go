package source

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// newFileMode is the mode of a file that Replace makes, before the user's mask.
const newFileMode fs.FileMode = 0o666

// Replace puts text in place of a file, whole or not at all. When the file no longer holds old, because
// someone saved it meanwhile, that is an error and nothing is written; with old nil the file must not
// exist yet. The file keeps its mode. A symbolic link stays a link, and the file that it points to is
// replaced. A reader sees the old text or the new one at any moment; a writer that saves between the check and
// the replacement, which is a matter of microseconds, is not seen.
func Replace(path string, old, text []byte) error {
	if old == nil {
		return create(path, text)
	}
	target, err := filepath.EvalSymlinks(path)
	if err != nil {
		return fmt.Errorf("find the file to replace: %w", err)
	}
	info, err := os.Stat(target)
	if err != nil {
		return fmt.Errorf("find the file to replace: %w", err)
	}
	if !info.Mode().IsRegular() {
		return fmt.Errorf("%s: this is not a plain file; nothing was written", path)
	}
	prepared, err := prepare(target, info.Mode().Perm(), true, text)
	if err != nil {
		return fmt.Errorf("write beside %s: %w", path, err)
	}
	defer prepared.discard()
	now, err := os.ReadFile(target)
	if err != nil {
		return fmt.Errorf("read %s again before replacing it: %w", path, err)
	}
	if !bytes.Equal(now, old) {
		return fmt.Errorf("%s: %w", path, ErrChanged)
	}
	if err := prepared.commit(); err != nil {
		return fmt.Errorf("replace %s: %w", path, err)
	}
	return nil
}

// ErrChanged is the error of Replace when the file holds something else than it was read with.
var ErrChanged = errors.New("the file was changed by someone else meanwhile; nothing was written, so read it again and repeat")

// create makes a file that must not exist. The text is complete under another name before it gets this
// one, and the name is given by a link, which fails when the name is taken.
func create(path string, text []byte) error {
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("%s: %w; nothing was written", path, fs.ErrExist)
	}
	prepared, err := prepare(path, newFileMode, false, text)
	if err != nil {
		return fmt.Errorf("write beside %s: %w", path, err)
	}
	defer prepared.discard()
	err = os.Link(prepared.name(), path)
	if err != nil && !errors.Is(err, fs.ErrExist) {
		err = prepared.commit() // a file system without links; the check above has to do
	}
	if err != nil {
		return fmt.Errorf("create %s: %w", path, err)
	}
	return nil
}
