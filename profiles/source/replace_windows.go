package source

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// dontWait is nothing: a pipe has no name among the files of Windows.
const dontWait = 0

// pending is a complete text on disk that has not got its name yet.
type pending struct {
	temporary string // empty once committed
	target    string
}

// prepare writes text into a new file in a folder, to become target; like is the file that it replaces, or nil.
// Windows knows of a mode only whether one may write.
func prepare(workshop, target string, like fs.FileInfo, text []byte) (*pending, error) {
	file, err := os.CreateTemp(workshop, "."+filepath.Base(target)+"*")
	if err != nil {
		return nil, err
	}
	p := &pending{file.Name(), target}
	_, err = file.Write(text)
	if info, errInfo := file.Stat(); errInfo == nil {
		sweep(workshop, target, info.ModTime())
	}
	if err == nil {
		err = file.Sync()
	}
	if err = errors.Join(err, file.Close()); err == nil && like != nil {
		err = os.Chmod(p.temporary, like.Mode().Perm())
	}
	if err != nil {
		p.discard()
		return nil, err
	}
	return p, nil
}

func (p *pending) name() string { return p.temporary }

// commit gives the file its name, in place of the one that has it.
func (p *pending) commit() error {
	if err := os.Rename(p.temporary, p.target); err != nil {
		return err
	}
	p.temporary = ""
	return nil
}

// discard removes the file unless it has been committed. What can't be removed is a stray file, and no
// harm to the text.
func (p *pending) discard() {
	if p.temporary != "" {
		_ = os.Remove(p.temporary)
	}
}
