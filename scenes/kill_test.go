package scenes_test

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
)

var (
	killSeed  = flag.Uint64("kill.seed", 1, "which random moments writers are killed in")
	killTimes = flag.Int("kill.times", 500, "how often writers are killed")
)

// writesIn names the book that a process of TestWritesForAnotherTest writes into, and its first step.
const writesIn = "DESKHAND_TEST_WRITES_IN"

// writing is a book in which step after step another of its files is written.
type writing struct {
	book   *scenes.Book
	venue  *scenes.Venue
	memory *scenes.Memory
}

func newWriting(dir string) (w writing, err error) {
	if w.book, err = scenes.Open(dir); err != nil {
		return w, err
	}
	if w.venue, err = w.book.Venue("net-loft"); err != nil {
		return w, err
	}
	w.memory, err = w.book.Memory(w.venue)
	return w, err
}

// held is what the desk holds in a step: each level as its number says.
func (w writing) held(step int) scenes.Values {
	values := make(scenes.Values)
	for _, q := range w.venue.Desk.Profile.Parameters() {
		if q.Name == "fader" {
			values[q] = profiles.Number(levelOf(step))
		}
	}
	return values
}

func (w writing) reading(step int) *scenes.Reading {
	return &scenes.Reading{Desk: w.venue.Desk.Profile.Name, Taken: time.Unix(int64(step), 0), Values: w.held(step)}
}

// levelOf is the level that a step writes, in dB.
func levelOf(step int) float64 { return -1 - float64(step%40) }

func performerOf(step int) string { return fmt.Sprintf("performer-%d", step) }

// memoryDir is where the book's memory of the venue is.
const memoryDir = ".deskhand/net-loft/"

// recordedAt has all lines of the record in one evening.
var recordedAt = time.Date(1970, 1, 2, 20, 0, 0, 0, time.Local)

// steps are the kinds of writing, one after the other.
var steps = []func(w writing, step int) error{
	func(w writing, step int) error { // keep: an edit in place
		p, err := w.book.Performer("botanist")
		if err != nil {
			return err
		}
		old, text, err := w.book.KeepText(p, []scenes.Kept{{Path: []string{"strip", "fader"}, To: profiles.Number(levelOf(step))}})
		if err != nil {
			return err
		}
		return w.book.Write("performers/botanist.toml", old, text)
	},
	func(w writing, step int) error { // a new reading
		return w.book.Write(readingOf(step), nil, w.reading(step).Text(w.venue.Desk.Profile))
	},
	func(w writing, step int) error { // who is on, and what the desk holds
		w.memory.Hold(w.held(step))
		w.memory.Put("lectern", performerOf(step), "")
		return w.memory.Save(time.Unix(int64(step), 0))
	},
	func(w writing, step int) error { return w.memory.SaveAgreed(w.held(step), time.Unix(int64(step), 0)) },
	func(w writing, step int) error { return w.memory.PushUndo(w.reading(step)) },
	func(w writing, step int) error {
		return w.memory.AddRecord(scenes.Record{Time: recordedAt, What: scenes.DidMove, By: scenes.ByHand, Text: strings.Repeat(strconv.Itoa(step)+" ", 500)})
	},
	func(w writing, step int) error { // the lock, and the note beside it
		l, err := w.book.Lock(context.Background(), w.venue, "swap lectern "+performerOf(step), nil)
		if err == nil {
			l.Release()
		}
		return err
	},
}

func readingOf(step int) string { return fmt.Sprintf("readings/r-%d.toml", step) }

// TestWritesForAnotherTest is the process that writes and is killed. It says a letter when it begins and
// after each step.
func TestWritesForAnotherTest(t *testing.T) {
	dir, first, isChild := strings.Cut(os.Getenv(writesIn), "|")
	if !isChild {
		return
	}
	w, err := newWriting(dir)
	step, errStep := strconv.Atoi(first)
	if err := errors.Join(err, errStep); err != nil {
		t.Fatal(err)
	}
	for ; ; step++ {
		if _, err := os.Stdout.WriteString("."); err != nil {
			return
		}
		if err := steps[step%len(steps)](w, step); err != nil {
			t.Fatal(err)
		}
	}
}

// killed is a book whose writers are killed, and what is known of it.
type killed struct {
	t       *testing.T
	writing writing
	random  *rand.Rand
	begun   []byte         // the performer's file as it was at first
	step    int            // the step that the last writer was killed in
	last    []int          // by kind, the last step that was done for sure, -1 for none
	torn    int            // lines of the record that were only begun
	texts   map[int][]byte // by step
	pause   time.Duration
	strays  int
}

// kill has a process write, and kills it at a random moment of some step.
func (k *killed) kill() {
	k.t.Helper()
	command := exec.Command(os.Args[0], "-test.run=^TestWritesForAnotherTest$")
	command.Env = append(os.Environ(), fmt.Sprintf("%s=%s|%d", writesIn, k.writing.book.Dir, k.step))
	var complaint bytes.Buffer
	command.Stderr = &complaint
	out, err := command.StdoutPipe()
	if err == nil {
		err = command.Start()
	}
	if err != nil {
		k.t.Fatal(err)
	}
	said := make([]byte, 1+k.random.IntN(3)) // the next one goes on from there, so that all kinds have their turn
	if _, err := io.ReadFull(out, said[:1]); err == nil {
		began := time.Now()
		_, err = io.ReadFull(out, said[1:])
		if n := len(said) - 1; n > 0 && err == nil {
			k.pause = (k.pause + time.Since(began)/time.Duration(n)) / 2 // about what a step takes
		}
	}
	time.Sleep(time.Duration(k.random.Int64N(int64(k.pause) + 1)))
	_ = command.Process.Kill()
	rest, _ := io.ReadAll(out)
	_ = command.Wait()
	if text := string(said) + string(rest); strings.Trim(text, ".") != "" {
		k.t.Fatalf("the writer failed: %s %s", text, complaint.String())
	}
	done := len(said) + len(rest) - 1
	for range done {
		k.last[k.step%len(steps)] = k.step
		k.step++
	}
}

// look sees that each file is the old one or the new one, whole: as after the last step of its kind, or as
// after the one in which the writer was killed.
func (k *killed) look() {
	k.t.Helper()
	w := k.writing
	k.check(0, "performers/botanist.toml", func(step int) []byte {
		return bytes.Replace(k.begun, []byte("fader = -6.0"), fmt.Appendf(nil, "fader = %.1f", levelOf(step)), 1)
	}, k.begun)
	k.check(1, readingOf(k.step), k.textOf, nil)
	k.check(2, memoryDir+"held.toml", k.textOf, nil)
	k.check(2, memoryDir+"state.toml", func(step int) []byte {
		return fmt.Appendf(nil, "\n[on]\nlectern = %q\n\n[unfinished]\n", performerOf(step))
	}, nil)
	k.check(3, memoryDir+"agreed.toml", k.textOf, nil)
	k.checkUndo()
	k.checkRecord()
	if _, held, err := w.book.LockedBy(w.venue); held || err != nil {
		k.t.Errorf("the lock of a process that was killed: held %v, %v", held, err)
	}
	k.checkStrays()
	if err := os.Remove(w.book.Path(readingOf(k.step))); err != nil && !errors.Is(err, fs.ErrNotExist) { // it is made anew
		k.t.Error(err)
	}
}

// isNow reports whether the writer was killed in a step of this kind.
func (k *killed) isNow(kind int) bool { return k.step%len(steps) == kind }

// besideHeld is how what was agreed on names what was held then: that may be of any step before.
var besideHeld = regexp.MustCompile(`(?m)^note = "beside held\.toml [0-9a-f]{64}"\n`)

// check looks at a file that is replaced. At first it may be as it was, nil for not there.
func (k *killed) check(kind int, file string, of func(step int) []byte, first []byte) {
	k.t.Helper()
	text, err := os.ReadFile(k.writing.book.Path(file))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		k.t.Error(err)
	}
	isNew := strings.HasPrefix(file, "readings/") // in each step another
	old := first
	if k.last[kind] >= 0 && !isNew {
		old = of(k.last[kind])
	}
	text = besideHeld.ReplaceAll(text, nil)
	if bytes.Equal(text, old) || k.isNow(kind) && bytes.Equal(text, of(k.step)) {
		return
	}
	k.t.Errorf("%s, killed in step %d (%d of its kind was the last): it is neither the old nor the new one:\n%s", file, k.step, k.last[kind], text)
}

// checkUndo looks at the newest undo, which is that of the last step, or of the one that was killed; those
// before it were the newest once.
func (k *killed) checkUndo() {
	const kind = 4
	files, err := filepath.Glob(k.writing.book.Path(memoryDir + "undo-*.toml"))
	if err != nil {
		k.t.Error(err)
	}
	if len(files) == 0 {
		if k.last[kind] >= 0 {
			k.t.Error("there is no undo")
		}
		return
	}
	k.check(kind, memoryDir+filepath.Base(files[len(files)-1]), k.textOf, nil)
}

// textOf is the reading of a step as a file has it.
func (k *killed) textOf(step int) []byte {
	if k.texts[step] == nil {
		k.texts[step] = k.writing.reading(step).Text(k.writing.venue.Desk.Profile)
	}
	return k.texts[step]
}

// checkRecord looks at the lines of the record: all are there, and each time a writer is killed one more may
// have been begun only.
func (k *killed) checkRecord() {
	const kind = 5
	lines, torn, err := k.writing.memory.Record("1970-01-02")
	if err != nil {
		k.t.Error(err)
	}
	want := 0
	for step := kind; step <= k.last[kind]; step += len(steps) {
		want++
	}
	if more := torn - k.torn; more < 0 || more > 1 || more == 1 && !k.isNow(kind) {
		k.t.Errorf("%d lines of the record were only begun, and %d before", torn, k.torn)
	}
	k.torn = torn
	if len(lines) < want {
		k.t.Errorf("the record has %d lines of %d", len(lines), want)
	}
}

// checkStrays sees that nothing half-made lies among the user's files, and counts what lies where git doesn't
// look.
func (k *killed) checkStrays() {
	dir := k.writing.book.Dir
	err := filepath.WalkDir(dir, func(at string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		inside, _ := filepath.Rel(dir, at)
		switch isHidden := strings.HasPrefix(e.Name(), ".") && e.Name() != ".gitignore"; {
		case isHidden && filepath.Dir(inside) == filepath.Join(".deskhand", "new"):
			k.strays++
			return os.Chtimes(at, time.Now().Add(-2*time.Hour), time.Now().Add(-2*time.Hour)) // the next writer takes it away
		case isHidden && inside != filepath.Join(".deskhand", ".gitignore"):
			k.t.Errorf("%s was left behind", inside)
		}
		return nil
	})
	if err != nil {
		k.t.Error(err)
	}
}

func TestAWriterThatIsKilledLeavesEachFileOldOrNewAndWhole(t *testing.T) {
	const books = 4
	strays := make(chan int, books)
	t.Run("books", func(t *testing.T) {
		for n := range books {
			t.Run(strconv.Itoa(n), func(t *testing.T) {
				t.Parallel()
				k := newKilled(t, *killSeed+uint64(n))
				for range *killTimes / books {
					if k.kill(); !t.Failed() {
						k.look()
					}
					if t.Failed() {
						break
					}
				}
				strays <- k.strays
			})
		}
	})
	close(strays)
	total := 0
	for n := range strays {
		total += n
	}
	t.Logf("%d kills left a text half-made", total)
	if total == 0 && !t.Failed() {
		t.Error("no writer was killed while it wrote: this has shown nothing")
	}
}

func newKilled(t *testing.T, seed uint64) *killed {
	t.Helper()
	dir := folderOf(t, files{"venues/net-loft.toml": "[desk]\nprofile = \"raft-8\"\naddress = \"127.0.0.1:9\"\n[mixes]\nwedge = 1\nstream = 2\n"}).Dir // a small desk, soon read
	w, err := newWriting(dir)
	if err != nil {
		t.Fatal(err)
	}
	begun, err := os.ReadFile(w.book.Path("performers/botanist.toml"))
	if err != nil {
		t.Fatal(err)
	}
	k := &killed{t: t, writing: w, random: rand.New(rand.NewPCG(seed, 0)), begun: begun, texts: make(map[int][]byte), pause: time.Millisecond}
	for range steps {
		k.last = append(k.last, -1)
	}
	return k
}
