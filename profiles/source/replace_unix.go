//go:build !windows

package source

import (
	"io/fs"
	"path/filepath"
	"syscall"

	"github.com/google/renameio/v2"
)

// dontWait has a pipe opened at once, whoever is at its other end. For a plain file it says nothing.
const dontWait = syscall.O_NONBLOCK

// pending is a complete text on disk that has not got its name yet.
type pending struct {
	file   *renameio.PendingFile
	target string
}

// prepare writes text into a new file in a folder, to become target; like is the file that it replaces, or nil.
func prepare(workshop, target string, like fs.FileInfo, text []byte) (*pending, error) {
	permissions := renameio.WithPermissions(newFileMode)
	if like != nil {
		permissions = renameio.WithStaticPermissions(like.Mode().Perm())
	}
	file, err := renameio.NewPendingFile(target, renameio.WithTempDir(workshop), permissions)
	if err != nil {
		return nil, err
	}
	p := &pending{file, target}
	if err := p.fill(like, text); err != nil {
		p.discard()
		return nil, err
	}
	return p, nil
}

func (p *pending) fill(like fs.FileInfo, text []byte) error {
	if _, err := p.file.Write(text); err != nil {
		return err
	}
	if like != nil {
		p.giveTo(like)
	}
	if info, err := p.file.Stat(); err == nil {
		sweep(filepath.Dir(p.name()), p.target, info.ModTime())
	}
	return p.file.Sync()
}

// giveTo gives the file to the owner of another, where that is somebody else and may be done.
func (p *pending) giveTo(like fs.FileInfo) {
	owner, known := like.Sys().(*syscall.Stat_t)
	if !known {
		return
	}
	if p.file.Chown(int(owner.Uid), int(owner.Gid)) == nil || p.file.Chown(-1, int(owner.Gid)) == nil {
		_ = p.file.Chmod(like.Mode().Perm()) // which a change of owner may have narrowed
	}
}

func (p *pending) name() string { return p.file.Name() }

// commit gives the file its name, in place of the one that has it.
func (p *pending) commit() error { return p.file.CloseAtomicallyReplace() }

// discard removes the file unless it has been committed. What can't be removed is a stray file, and no
// harm to the text.
func (p *pending) discard() { _ = p.file.Cleanup() }
