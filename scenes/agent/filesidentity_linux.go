package agent

import (
	"io/fs"
	"syscall"
)

// errNoFolder is how the system says that a path leads through what is no folder.
const errNoFolder = syscall.ENOTDIR

// identity is when a file's contents or attributes changed, in ns since 1970, and its
// number in the file system.
func identity(info fs.FileInfo) (changed int64, inode uint64) {
	s, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, 0
	}
	return s.Ctim.Nano(), s.Ino
}
