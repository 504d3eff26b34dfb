package scenes

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"strings"
	"time"

	"deskhand/profiles/source"
)

// lockDir is where the locks are, in the book.
const lockDir = memoryDir + "/locks"

// maxNote bounds the note of a lock in bytes, well above the longest command in it.
const maxNote = 4 << 10

// maxCommand is how many letters of a command are noted.
const maxCommand = 120

// Holder is a process that has a desk's lock, or had it last.
type Holder struct {
	Process int
	// Command is what it was started with, as "swap lectern poet".
	Command string
	Since   time.Time

	held bool
	turn string // no other one's
}

func newHolder(command string) Holder {
	letters := []rune(strings.ToValidUTF8(command, "?"))
	return Holder{
		Process: os.Getpid(), Command: string(letters[:min(len(letters), maxCommand)]), Since: time.Now(),
		held: true, turn: rand.Text(),
	}
}

func (h Holder) String() string {
	if h.Process == 0 {
		return "another deskhand"
	}
	return fmt.Sprintf("deskhand %s (process %d, since %s)", h.Command, h.Process, h.Since.Local().Format("15:04:05"))
}

// write notes the holder. The text is short and needs no place on the disk for good:
// where the power fails, the holder is gone, too.
func (h Holder) write(file string) error {
	var b strings.Builder
	b.WriteString("# Who sends to the desk, or did last: the lock itself is the file beside this one.\n")
	fmt.Fprintf(&b, "turn = %s\nprocess = %d\ncommand = %s\nsince = %s\nheld = %t\n", // held last: without it the note is not whole
		source.Quote(h.turn), h.Process, source.Quote(h.Command), h.Since.Format(time.RFC3339), h.held)
	return os.WriteFile(file, []byte(b.String()), 0o666)
}

// readHolder reads who holds a lock. Of one that nobody has had yet it gives the zero
// holder. What is being written, or was not written to its end, counts as held by
// somebody unknown.
func readHolder(file string) (Holder, error) {
	unknown := Holder{held: true}
	text, err := source.ReadFile(file, maxNote)
	if errors.Is(err, fs.ErrNotExist) {
		return Holder{}, nil
	}
	if err != nil {
		return unknown, err
	}
	d, err := source.Parse(path.Base(file), text)
	if err != nil {
		return unknown, err
	}
	root := d.Root()
	var h Holder
	h.turn, _ = root.Text("turn")
	h.Process, _ = root.Integer("process")
	h.Command, _ = root.Text("command")
	h.Since, _ = root.Time("since")
	held, whole := root.Bool("held")
	h.held = held
	if err := d.Faults().Err(); err != nil || h.turn == "" || !whole {
		return unknown, errors.Join(err, errors.New("the note is not whole"))
	}
	return h, nil
}

// Turn tells whether anybody has had a lock between two moments. Two turns that are
// free and equal have nobody between them.
type Turn struct {
	last [locks]string
	free bool
}

// Free reports whether nobody had the lock, by the notes: one that died with it counts
// as having it until the next.
func (t Turn) Free() bool { return t.free }

// Since reports whether nobody has had the lock from an earlier turn up to this one.
func (t Turn) Since(earlier Turn) bool { return t.free && t == earlier }

// Elsewhere reports whether those who had the lock since an earlier turn all had it from
// other books, with memories of their own.
func (t Turn) Elsewhere(earlier Turn) bool {
	return t.last[0] != earlier.last[0] && [2]string(t.last[1:]) == [2]string(earlier.last[1:])
}

func (t *Turn) add(i int, h Holder) {
	t.last[i] = h.turn
	t.free = t.free && !h.held
}

// Turn reads whose turn it is at a venue's desk. It never waits, and takes nothing.
func (b *Book) Turn(v *Venue) Turn {
	t := Turn{free: true}
	for i, f := range b.lockFiles(v) {
		if f != nil {
			holder, _ := readHolder(f.note) // what can't be read counts as held
			t.add(i, holder)
		}
	}
	return t
}
