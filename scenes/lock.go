package scenes

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/netip"
	"os"
	"path"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"deskhand/profiles/source"

	"github.com/gofrs/flock"
)

const (
	// lockRetry is how long one that waits for a lock rests between two looks at it.
	lockRetry = 20 * time.Millisecond
	// lockUnknown is after how many looks a holder that has left no note is told of.
	lockUnknown = 25
)

// Lock is the right to send to a venue's desk and to write what is remembered of it.
// One holder at a time has it, on this machine or through a shared folder; the system
// takes it back when a process dies. It is two files in .deskhand/locks: the desk's, by its
// address, since two venues may have one desk; and the venue's, since one desk may be
// reached by two addresses. Before them comes the desk's in [Book.Machine], since two books
// may have one desk. They are taken in one order, and never removed: two processes could
// then hold two files of one name.
type Lock struct {
	files       []*lockFile
	found, left Turn
}

// Lock waits for the lock of a venue's desk and takes it. While somebody else has it,
// waiting is told once by whom; it may be nil. command is what others are told of us.
// The error is the context's where that ends first.
func (b *Book) Lock(ctx context.Context, v *Venue, command string, waiting func(Holder)) (*Lock, error) {
	if b.Dir == "" {
		return nil, fmt.Errorf("%w: no desk is locked for it", ErrReadOnly)
	}
	if err := b.hideMemory(); err != nil {
		return nil, fmt.Errorf("lock the desk: %w", err)
	}
	if _, err := b.ownFolder(lockDir); err != nil {
		return nil, fmt.Errorf("lock the desk: %w", err)
	}
	told := waiting == nil
	once := func(h Holder) {
		if !told {
			told = true
			waiting(h)
		}
	}
	us := newHolder(command)
	l := &Lock{found: Turn{free: true}, left: Turn{free: true}}
	if b.Machine != "" {
		_ = os.MkdirAll(b.Machine, 0o700) // a machine may have no place for it
	}
	for i, f := range b.lockFiles(v) {
		if f == nil {
			continue
		}
		if err := b.isOwn(f); err != nil {
			l.Release()
			return nil, fmt.Errorf("lock the desk: %w", err)
		}
		if err := f.take(ctx, us, once); f.machine && err != nil && ctx.Err() == nil {
			continue // nor may it let us write there
		} else if err != nil {
			l.Release()
			return nil, fmt.Errorf("lock the desk: %w", err)
		}
		l.files = append(l.files, f)
		l.found.add(i, f.found)
		l.left.last[i] = us.turn
	}
	return l, nil
}

// Found is the turn as it was when the lock was taken: the same as an earlier one that
// was free, if nobody has had the lock since.
func (l *Lock) Found() Turn { return l.found }

// Turn is what others find once the lock is released.
func (l *Lock) Turn() Turn { return l.left }

// Release gives the lock back. Again it does nothing.
func (l *Lock) Release() {
	for len(l.files) > 0 {
		last := len(l.files) - 1
		l.files[last].release()
		l.files = l.files[:last]
	}
}

// LockedBy asks without waiting whether anybody holds the lock of a venue's desk, and
// who. A holder that can't be told has no process. Its own holder gets true, too.
func (b *Book) LockedBy(v *Venue) (Holder, bool, error) {
	for _, f := range b.lockFiles(v) {
		if f == nil {
			continue
		}
		if held, err := f.isHeld(); err != nil && !f.machine {
			return Holder{}, false, fmt.Errorf("look at the desk's lock: %w", err)
		} else if held {
			holder, _ := readHolder(f.note)
			return holder, true, nil
		}
	}
	return Holder{}, false, nil
}

// locks is how many files a lock is.
const locks = 3

// lockFiles are the files, in the order in which they are taken: the machine's, nil where
// it has no place for it, or none yet, the book's for the desk, and for the venue.
func (b *Book) lockFiles(v *Venue) [locks]*lockFile {
	deskName := "desk-" + fileWord(sameAddress(v.Desk.Address))
	files := [locks]*lockFile{nil, newLockFile(b.Path(lockDir), deskName), newLockFile(b.Path(lockDir), "venue-"+v.Name)}
	if b.hasMachine() {
		files[0] = newLockFile(b.Machine, deskName)
		files[0].machine = true
	}
	return files
}

// hasMachine reports whether there is a folder of the machine's that we may look into.
func (b *Book) hasMachine() bool {
	if b.Machine == "" {
		return false
	}
	info, err := os.Stat(b.Machine + "/.")
	return err == nil && info.IsDir()
}

// sameAddress writes a HOST:PORT in one way: of this machine there is one, and hosts are
// in lower case.
func sameAddress(address string) string {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return strings.ToLower(address)
	}
	host = strings.TrimSuffix(strings.ToLower(host), ".")
	ip, err := netip.ParseAddr(host)
	switch {
	case host == "localhost", err == nil && ip.Unmap().IsLoopback():
		host = "127.0.0.1"
	case err == nil:
		host = ip.Unmap().String()
	}
	return net.JoinHostPort(host, port)
}

// fileWord writes a text so that it can be in a file's name on every system.
func fileWord(text string) string {
	var b strings.Builder
	for _, c := range []byte(text) {
		if c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '.' || c == '-' {
			b.WriteByte(c)
		} else {
			fmt.Fprintf(&b, "_%02x", c)
		}
	}
	return b.String()
}

// lockFile is one of them. Who holds it stands in a note beside it: Windows lets
// nobody read a file that is locked.
type lockFile struct {
	lock, note string
	machine    bool // outside all books
	held       *flock.Flock
	us         Holder
	found      Holder // as the note was when it was taken
}

func newLockFile(dir, name string) *lockFile {
	at := filepath.Join(dir, name)
	return &lockFile{lock: at + ".lock", note: at + ".toml"}
}

// isOwn is nil where both files are plain ones of our own, or not there yet.
func (b *Book) isOwn(f *lockFile) error {
	for _, at := range []string{f.lock, f.note} {
		file := path.Join(lockDir, filepath.Base(at))
		if f.machine {
			file = at
		} else if _, err := b.own(file); err != nil {
			return err
		}
		if err := isPlain(at); err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
	}
	return nil
}

// isPlain is nil for a plain file, and for none: to open a pipe could wait for ever.
func isPlain(at string) error {
	if info, err := os.Lstat(at); err == nil && !info.Mode().IsRegular() {
		return fmt.Errorf("%w: remove it", source.ErrNotPlain)
	}
	return nil
}

// take waits for the lock.
func (f *lockFile) take(ctx context.Context, us Holder, waiting func(Holder)) error {
	// Network drives lock only what is open for writing.
	f.held = flock.New(f.lock, flock.SetFlag(os.O_CREATE|os.O_RDWR), flock.SetPermissions(0o666))
	for look := 0; ; look++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		locked, err := f.held.TryLock()
		if err != nil {
			return explainLock(err)
		}
		if locked {
			break
		}
		if look > 0 { // one that only asked has it for no longer than a moment
			f.tell(look, waiting)
		}
		select {
		case <-time.After(lockRetry):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	f.us = us
	f.found, _ = readHolder(f.note)
	if err := us.write(f.note); err != nil {
		err = fmt.Errorf("%s can't be written: %w", path.Join(lockDir, filepath.Base(f.note)), source.Cause(err))
		return errors.Join(err, f.held.Unlock())
	}
	return nil
}

// tell tells who has the lock, as soon as that is known.
func (f *lockFile) tell(look int, waiting func(Holder)) {
	if holder, _ := readHolder(f.note); holder.held {
		waiting(holder)
	} else if look >= lockUnknown {
		waiting(Holder{})
	}
}

// release notes that we have gone. A note that can't be written says that we died, and
// who comes next looks at the desk again.
func (f *lockFile) release() {
	us := f.us
	us.held = false
	_ = us.write(f.note)
	_ = f.held.Unlock() // the system unlocks it with the process at the latest
}

// isHeld asks by taking it for a moment, shared with others that ask.
func (f *lockFile) isHeld() (bool, error) {
	if err := isPlain(f.lock); err != nil {
		return false, fmt.Errorf("%s: %w", path.Join(lockDir, filepath.Base(f.lock)), err)
	}
	probe := flock.New(f.lock, flock.SetFlag(os.O_RDONLY))
	free, err := probe.TryRLock()
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return !free, errors.Join(explainLock(err), probe.Close())
}

// explainLock says what to do about a drive without locks.
func explainLock(err error) error {
	if errors.Is(err, syscall.ENOLCK) || errors.Is(err, errors.ErrUnsupported) {
		return fmt.Errorf("%w: keep the book on a drive that can lock files, as those of this machine can", err)
	}
	return err
}
