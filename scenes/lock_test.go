package scenes_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"deskhand/scenes"
)

func lock(t testing.TB, b *scenes.Book, v *scenes.Venue) *scenes.Lock {
	t.Helper()
	l, err := b.Lock(t.Context(), v, "swap lectern poet", func(h scenes.Holder) { t.Error("waited for", h) })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(l.Release)
	return l
}

func isLocked(t testing.TB, b *scenes.Book, v *scenes.Venue) (scenes.Holder, bool) {
	t.Helper()
	holder, held, err := b.LockedBy(v)
	if err != nil {
		t.Fatal(err)
	}
	return holder, held
}

func TestAskingForTheLockTakesAndWritesNothing(t *testing.T) {
	b := folderOf(t, nil)
	v := venueOf(t, b, "net-loft")
	if _, held := isLocked(t, b, v); held || !b.Turn(v).Free() {
		t.Error("locked, and nobody has ever taken it")
	}
	if _, err := os.Stat(b.Path(".deskhand")); !errors.Is(err, os.ErrNotExist) {
		t.Error("something was written:", err)
	}
}

func TestWhoHoldsTheLockCanBeAskedFor(t *testing.T) {
	b := folderOf(t, nil)
	v := venueOf(t, b, "net-loft")
	before := time.Now().Truncate(time.Second)
	l := lock(t, b, v)
	holder, held := isLocked(t, b, v)
	if !held || holder.Process != os.Getpid() || holder.Command != "swap lectern poet" || holder.Since.Before(before) || holder.Since.After(time.Now()) {
		t.Errorf("held %t by %+v", held, holder)
	}
	if say := fmt.Sprint(holder); !strings.HasPrefix(say, fmt.Sprintf("deskhand swap lectern poet (process %d, since ", os.Getpid())) {
		t.Error("it says", say)
	}
	l.Release()
	l.Release() // as a deferred one does after a first
	if _, held := isLocked(t, b, v); held {
		t.Error("still locked")
	}
	if text, err := os.ReadFile(b.Path(".deskhand/.gitignore")); err != nil || string(text) != "*\n" {
		t.Errorf("git would see the locks: %q, %v", text, err)
	}
}

func TestOneThatWaitsForTheLockIsToldOnceByWhomAndGetsIt(t *testing.T) {
	b := folderOf(t, nil)
	v := venueOf(t, b, "net-loft")
	first := lock(t, b, v)
	told := make(chan scenes.Holder, 10)
	got := make(chan error)
	go func() {
		second, err := b.Lock(t.Context(), v, "undo", func(h scenes.Holder) { told <- h })
		if err == nil {
			second.Release()
		}
		got <- err
	}()
	if h := <-told; h.Command != "swap lectern poet" || h.Process != os.Getpid() {
		t.Errorf("told of %+v", h)
	}
	first.Release()
	if err := <-got; err != nil {
		t.Error(err)
	}
	if len(told) > 0 {
		t.Error("told again:", <-told)
	}
}

func TestOneThatWaitsForTheLockEndsWithItsContext(t *testing.T) {
	b := folderOf(t, nil)
	v := venueOf(t, b, "net-loft")
	lock(t, b, v)
	ctx, cancel := context.WithCancel(t.Context())
	l, err := b.Lock(ctx, v, "undo", func(scenes.Holder) { cancel() })
	if l != nil || !errors.Is(err, context.Canceled) {
		t.Error(l, err)
	}
}

func TestTheLockIsOnePersonsAtATime(t *testing.T) {
	b := folderOf(t, nil)
	v := venueOf(t, b, "net-loft")
	inside := 0 // the race detector watches it
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for range 5 {
				l, err := b.Lock(t.Context(), v, "swap", nil)
				if err != nil {
					t.Error(err)
					return
				}
				inside++
				if inside != 1 {
					t.Error("two at a time")
				}
				inside--
				l.Release()
			}
		})
	}
	all.Wait()
}

// Two venues may have one desk, and one desk may be called in two ways.
func TestTheLockIsTheDesksByWhateverNameItGoes(t *testing.T) {
	b := folderOf(t, nil)
	for _, c := range []struct {
		one, other string
		same       bool
	}{
		{"127.0.0.1:47024", "localhost:47024", true},
		{"127.0.0.1:47024", "[::1]:47024", true},
		{"[fe80::0:1]:47024", "[FE80::1]:47024", true},
		{"[::ffff:192.0.2.7]:47024", "192.0.2.7:47024", true},
		{"Quay.Local:47024", "quay.local.:47024", true},
		{"192.0.2.7:47024", "192.0.2.7:47025", false},
		{"192.0.2.7:47024", "192.0.2.8:47024", false},
		{"a_b:1", "a-b:1", false},
	} {
		v, w := venueOf(t, b, "net-loft"), venueOf(t, b, "net-loft")
		w.Name = "boat-shed" // another venue's memory
		v.Desk.Address, w.Desk.Address = c.one, c.other
		l := lock(t, b, v)
		if _, held := isLocked(t, b, w); held != c.same {
			t.Errorf("%s locked: %s locked %t", c.one, c.other, held)
		}
		l.Release()
	}
}

// What is remembered of a venue is one, whatever desk --desk says.
func TestTheLockIsTheMemorysWhateverTheDesk(t *testing.T) {
	b := folderOf(t, nil)
	v, w := venueOf(t, b, "net-loft"), venueOf(t, b, "net-loft")
	w.Desk.Address = "192.0.2.9:1"
	lock(t, b, v)
	if _, held := isLocked(t, b, w); !held {
		t.Error("two processes could write the memory at once")
	}
}

func TestATurnTellsWhetherAnybodyHadTheLockSince(t *testing.T) {
	b := folderOf(t, nil)
	v := venueOf(t, b, "net-loft")
	before := b.Turn(v)
	if !b.Turn(v).Since(before) {
		t.Error("nobody had it, and the turns differ")
	}
	l := lock(t, b, v)
	if !l.Found().Since(before) {
		t.Error("nobody had it before the first")
	}
	during := b.Turn(v)
	if during.Free() || during.Since(before) {
		t.Error("the turn does not tell of its holder")
	}
	l.Release()
	after := b.Turn(v)
	if !after.Free() || after.Since(before) || after.Since(during) || !after.Since(l.Turn()) {
		t.Error("the turn after it does not tell that it was had, or by whom")
	}
	if next := lock(t, b, v); !next.Found().Since(after) || next.Found().Since(during) {
		t.Error("the next one does not find the turn as it was left")
	}
}

func TestANoteThatIsTornCountsAsHeldAndIsMendedByTheNext(t *testing.T) {
	b := folderOf(t, nil)
	v := venueOf(t, b, "net-loft")
	lock(t, b, v).Release()
	notes, err := filepath.Glob(b.Path(".deskhand/locks/desk-*.toml"))
	if err != nil || len(notes) != 1 {
		t.Fatal(notes, err)
	}
	whole, err := os.ReadFile(notes[0])
	if err != nil {
		t.Fatal(err)
	}
	for n := range whole[:len(whole)-1] { // without the last line's end it is whole
		if err := os.WriteFile(notes[0], whole[:n], 0o666); err != nil {
			t.Fatal(err)
		}
		if b.Turn(v).Free() {
			t.Errorf("of %d bytes, %d tell of a free turn: %q", len(whole), n, whole[:n])
		}
	}
	lock(t, b, v).Release()
	if !b.Turn(v).Free() {
		t.Error("the next did not mend it")
	}
}

func TestAMachineWithNoPlaceForTheLockKeepsThoseApartWhoShareABook(t *testing.T) {
	b := folderOf(t, nil)
	v := venueOf(t, b, "net-loft")
	b.Machine = filepath.Join(b.Path("book.toml"), "locks")
	if holder, is := isLocked(t, b, v); is || !b.Turn(v).Free() {
		t.Errorf("before anybody had it: %+v, free %t", holder, b.Turn(v).Free())
	}
	l := lock(t, b, v)
	if _, is := isLocked(t, b, v); !is || b.Turn(v).Free() {
		t.Errorf("held: locked %t, free %t", is, b.Turn(v).Free())
	}
	l.Release()
	if turn := b.Turn(v); turn != l.Turn() || !turn.Free() {
		t.Errorf("released: %+v, not %+v", turn, l.Turn())
	}
}

func TestNoDeskIsLockedForABookOfThePast(t *testing.T) {
	b := folderOf(t, nil)
	past, err := scenes.OpenFS(os.DirFS(b.Dir), "HEAD~1")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := past.Lock(t.Context(), venueOf(t, b, "net-loft"), "swap", nil); !errors.Is(err, scenes.ErrReadOnly) {
		t.Error(err)
	}
}

// holdsLockIn names the book in which a process of this test takes the lock, for another.
const holdsLockIn = "DESKHAND_TEST_HOLDS_LOCK_IN"

func TestHoldsTheLockForAnotherTest(t *testing.T) {
	dir := os.Getenv(holdsLockIn)
	if dir == "" {
		return // it is none by itself: see below
	}
	b, err := scenes.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	lock(t, b, venueOf(t, b, "net-loft"))
	fmt.Println("locked")
	_, _ = io.Copy(io.Discard, os.Stdin) // until it is killed
}

func TestAProcessThatIsKilledLeavesNoLock(t *testing.T) {
	b := folderOf(t, nil)
	v := venueOf(t, b, "net-loft")
	before := b.Turn(v)
	command := exec.Command(os.Args[0], "-test.run=^TestHoldsTheLockForAnotherTest$")
	command.Env = append(os.Environ(), holdsLockIn+"="+b.Dir)
	in, err := command.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	out, err := command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	if line != "locked\n" {
		t.Errorf("%q, %v", line, err)
	}
	if holder, held := isLocked(t, b, v); !held || holder.Process != command.Process.Pid {
		t.Errorf("held %t by %v, and not by process %d", held, holder, command.Process.Pid)
	}
	_ = command.Process.Kill()
	_ = command.Wait()
	if _, held := isLocked(t, b, v); held {
		t.Error("a dead process has it")
	}
	if b.Turn(v).Free() {
		t.Error("nothing tells that it did not come to its end")
	}
	if l := lock(t, b, v); l.Found().Since(before) {
		t.Error("nothing tells that somebody had it")
	}
}
