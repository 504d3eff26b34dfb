//go:build !windows

package source

import (
	"io/fs"
	"path/filepath"

	"github.com/google/renameio/v2"
)

// pending is a complete text on disk that has not got its name yet.
type pending struct {
	file   *renameio.PendingFile
	target string
}

// prepare writes text into a new file in the folder of target.
func prepare(target string, mode fs.FileMode, exactMode bool, text []byte) (*pending, error) {
	permissions := renameio.WithPermissions(mode)
	if exactMode {
		permissions = renameio.WithStaticPermissions(mode)
	}
	file, err := renameio.NewPendingFile(target, renameio.WithTempDir(filepath.Dir(target)), permissions)
	if err != nil {
		return nil, err
	}
	p := &pending{file, target}
	if _, err := file.Write(text); err != nil {
		p.discard()
		return nil, err
	}
	if err := file.Sync(); err != nil {
		p.discard()
		return nil, err
	}
	return p, nil
}

func (p *pending) name() string { return p.file.Name() }

// commit gives the file its name, in place of the one that has it.
func (p *pending) commit() error { return p.file.CloseAtomicallyReplace() }

// discard removes the file unless it has been committed. What can't be removed is a stray file, and no
// harm to the text.
func (p *pending) discard() { _ = p.file.Cleanup() }
