package main

import (
	"bufio"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
)

var killSeed = flag.Uint64("kill.seed", 1, "which random moments the program is killed in")

// killing is the example event in a folder, and a mock desk that counts what happens to it.
type killing struct {
	t    *testing.T
	dir  string
	mock *mockdesk.Desk
	// events counts what the desk saw; at has what is done at a count.
	events atomic.Int64
	// sets counts the settings among them, and slept is how far the desk's clock is ahead.
	sets, slept atomic.Int64
	at          atomic.Pointer[moment]
	atQuestion  atomic.Pointer[moment] // the first question from a count of settings on
	book        *scenes.Book
	venue       *scenes.Venue
	// strips are all that the scenes want at each place.
	strips map[profiles.Place][]*scenes.Resolved
	// fades says that levels move over a time: those of an open position may be on their way,
	// below where a scene wants them.
	fades bool
	// halves counts the rounds that were killed in the middle of a recall.
	halves int
}

// moment is when something is done, and what.
type moment struct {
	count int64
	do    func()
}

// newKilling sets it up; with a fade, all scenes fade.
func newKilling(t *testing.T, fade string) *killing {
	k := &killing{t: t, dir: exampleDir(t), strips: make(map[profiles.Place][]*scenes.Resolved), fades: fade != ""}
	if k.fades {
		file := filepath.Join(k.dir, "running-orders", "winter-talks.toml")
		order, err := os.ReadFile(file)
		k.must(err)
		faded := strings.ReplaceAll(string(order), "[[scenes]]\n", "[[scenes]]\nfade = \""+fade+"\"\n")
		k.must(os.WriteFile(file, []byte(faded), 0o666))
	}
	smallDesk(t, k.dir)
	var err error
	k.book, err = scenes.Open(k.dir)
	k.must(err)
	order, err := k.book.RunningOrder("winter-talks")
	k.must(err)
	for n := range order.Items {
		v, strips, err := k.book.ResolveItem(order, n+1)
		k.must(err)
		k.venue = v
		for _, s := range strips {
			k.strips[s.Position.Place()] = append(k.strips[s.Position.Place()], s)
		}
	}
	k.mock, err = mockdesk.Start(k.venue.Desk.Profile, mockdesk.Options{Watch: k.watch, Now: k.now})
	k.must(err)
	t.Cleanup(func() { k.mock.Close() })
	return k
}

func (k *killing) must(err error) {
	k.t.Helper()
	if err != nil {
		k.t.Fatal(err)
	}
}

func (k *killing) watch(e mockdesk.Event) {
	switch e.What {
	case mockdesk.Set:
		k.sets.Add(1)
	case mockdesk.Asked:
		done(&k.atQuestion, k.sets.Load())
	}
	done(&k.at, k.events.Add(1))
}

// done does what is to be done at a count, once.
func done(at *atomic.Pointer[moment], n int64) {
	if m := at.Load(); m != nil && n >= m.count && at.CompareAndSwap(m, nil) {
		m.do()
	}
}

// now is the desk's clock.
func (k *killing) now() time.Time { return time.Now().Add(time.Duration(k.slept.Load())) }

// event is a running deskhand run.
type event struct {
	k       *killing
	command *exec.Cmd
	in      io.WriteCloser
	lines   chan string
	said    []string // since something was typed
}

// begin starts the event, and waits until it says what is on.
func (k *killing) begin() *event {
	k.t.Helper()
	e := k.start("run", "winter-talks", "--plain")
	e.await("on: ")
	return e
}

// start starts a command on the book and the desk.
func (k *killing) start(words ...string) *event {
	k.t.Helper()
	e := &event{k: k, lines: make(chan string, 1000)}
	e.command = exec.Command("deskhand", append(words, "--book", k.dir, "--desk", k.mock.Addr())...)
	var err error
	e.in, err = e.command.StdinPipe()
	k.must(err)
	out, err := e.command.StdoutPipe()
	k.must(err)
	e.command.Stderr = e.command.Stdout
	k.must(e.command.Start())
	go func() { // it ends with the output of the process
		defer close(e.lines)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			e.lines <- lines.Text()
		}
	}()
	k.t.Cleanup(func() { _ = e.command.Process.Kill() })
	return e
}

func (e *event) types(line string) {
	e.said = nil
	_, err := io.WriteString(e.in, line+"\n")
	e.k.must(err)
}

// await waits for a line that begins so.
func (e *event) await(begins string) string {
	e.k.t.Helper()
	late := time.After(scriptPatience)
	for {
		select {
		case line, more := <-e.lines:
			if !more {
				e.k.t.Fatalf("it ended before it said %q", begins)
			}
			e.said = append(e.said, line)
			if strings.HasPrefix(line, begins) {
				return line
			}
		case <-late:
			e.k.t.Fatalf("it does not say %q", begins)
		}
	}
}

// ended waits for the end.
func (e *event) ended() {
	for range e.lines {
	}
	_ = e.command.Wait() // killed, which is an error
}

// put puts a scene on, and waits until all of it is confirmed.
func (e *event) put(number int) {
	e.k.t.Helper()
	e.types(fmt.Sprintf("scene %d", number))
	want := fmt.Sprintf("on: %d of 4", number)
	if line := e.await("on: "); !strings.HasPrefix(line, want) {
		e.k.t.Fatalf("scene %d was not put on: %s\n%s", number, line, strings.Join(e.said, "\n"))
	}
}

// judge holds the files and the desk against what may be after a kill.
func (k *killing) judge(round int) {
	k.t.Helper()
	book, err := scenes.Open(k.dir)
	k.must(err)
	if report := book.Check(nil); len(report.Faults) > 0 {
		k.t.Fatalf("round %d: the book has faults: %v", round, report.Faults)
	}
	memory, err := book.Memory(k.venue)
	k.must(err)
	if len(memory.Unfinished) > 0 {
		k.halves++
	}
	if _, _, err := memory.Undo(); err != nil {
		k.t.Fatalf("round %d: the undo: %v", round, err)
	}
	evening := memory.Evenings()
	if lines, unread, err := memory.Record(evening[len(evening)-1]); err != nil || unread > 0 || len(lines) == 0 {
		k.t.Fatalf("round %d: the record has %d whole lines and %d that are not, %v", round, len(lines), unread, err)
	}
	for place, strips := range k.strips {
		k.judgePlace(round, place, strips)
	}
}

// judgePlace sees that a place that is open holds, whole, what a scene that has it open wants
// there.
func (k *killing) judgePlace(round int, place profiles.Place, strips []*scenes.Resolved) {
	k.t.Helper()
	mute, _ := k.mock.Holds(profiles.Parameter{Place: place, Name: "mute"})
	if muted, _ := mute.On(); muted {
		return
	}
	var differs []string
	for _, s := range strips {
		if s.Open != nil && !*s.Open {
			continue
		}
		other := k.differs(s)
		if other == "" {
			return
		}
		differs = append(differs, s.PerformerName()+": "+other)
	}
	k.t.Fatalf("round %d: %s is open with what no scene wants there: %v", round, place, differs)
}

// differs gives a parameter that the desk holds otherwise, "" for none.
func (k *killing) differs(s *scenes.Resolved) string {
	for _, w := range s.Wanted {
		if held, _ := k.mock.Holds(w.Parameter); !k.venue.Same(w.Parameter, held, w.Value) {
			_, safe := k.venue.SafeFor(w.Parameter)
			if !safe && !(k.fades && isBelow(w, held)) {
				return w.Parameter.String()
			}
		}
	}
	return ""
}

// isBelow reports whether a fader or a send is lower than a scene wants it.
func isBelow(w scenes.Wanted, held profiles.Value) bool {
	name := w.Parameter.Name
	wanted, _ := w.Value.Number()
	is, ok := held.Number()
	return ok && is < wanted && (name == "fader" || strings.HasPrefix(name, "send.") && strings.HasSuffix(name, ".level"))
}

// Killed at any moment, the event leaves no position open that is half set, nor a file that is
// half written, and goes on when it is started again.
func TestAnEventThatIsKilledAtAnyMomentIsSafeAndGoesOn(t *testing.T) {
	t.Parallel()
	newKilling(t, "").play(100)
}

// The same while levels fade: an open position is at most too low.
func TestAnEventThatIsKilledInTheMiddleOfAFadeIsSafeAndGoesOn(t *testing.T) {
	t.Parallel()
	newKilling(t, "300ms").play(30)
}

// play goes from scene to scene and is killed so many times.
func (k *killing) play(kills int) {
	t := k.t
	t.Helper()
	random := rand.New(rand.NewPCG(*killSeed, 0))
	first := k.begin()
	first.put(2) // which sets every position
	before := k.events.Load()
	first.put(1)
	whole := k.events.Load() - before // how much a scene is, more or less
	k.must(first.in.Close())
	first.ended()
	for round := range kills {
		e := k.begin()
		if round%10 == 9 {
			e.put(1 + round/10%4)
			k.judge(round)
		}
		killed := make(chan struct{})
		k.at.Store(&moment{k.events.Load() + 1 + random.Int64N(whole+whole/5), func() {
			_ = e.command.Process.Kill()
			close(killed)
		}})
		scene := 1 + random.IntN(4)
		// What the program asks by itself counts, too: it may be killed before it reads this.
		if _, err := fmt.Fprintf(e.in, "scene %d\n", scene); err != nil && !errors.Is(err, syscall.EPIPE) {
			t.Fatal(err)
		}
		if again := e.awaitKill(killed); again {
			k.at.Store(nil)
			_ = e.command.Process.Kill() // it was faster: killed while it rests
		}
		e.ended()
		k.judge(round)
	}
	if k.halves < kills/4 {
		t.Errorf("only %d of %d kills came in the middle of a recall: the moments are chosen badly", k.halves, kills)
	}
	last := k.begin()
	last.put(2) // which speaks of every position, so that nothing is left half done
	last.put(3)
	k.judge(kills)
	k.must(last.in.Close())
	last.ended()
	memory, err := k.book.Memory(k.venue)
	k.must(err)
	lines, unread, err := memory.Record(scenes.Evening(time.Now()))
	k.must(err)
	if len(lines) < kills || unread > 0 { // each round at least begins
		t.Errorf("the record has %d lines of %d rounds, and %d that can't be read", len(lines), kills, unread)
	}
	if len(memory.Unfinished) > 0 || memory.Running.Number != 3 {
		t.Errorf("in the end %v is unfinished, and scene %d on", memory.Unfinished, memory.Running.Number)
	}
}

// awaitKill waits until it was killed, or has done what it was asked for.
func (e *event) awaitKill(killed <-chan struct{}) (done bool) {
	for {
		select {
		case <-killed:
			return false
		case line, more := <-e.lines:
			if !more {
				return false
			}
			if strings.HasPrefix(line, "on: ") {
				return true
			}
		}
	}
}
