package agent

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/fsnotify/fsnotify"
	"github.com/google/go-cmp/cmp"
)

// played is a watch that tells what a test plays, by the bubble's clock.
type played struct {
	dir    string
	events chan fsnotify.Event
	paths  []string
}

func (p *played) open() (*watch, error) {
	p.events = make(chan fsnotify.Event)
	return &watch{
		events: p.events, errors: make(chan error),
		add:    func(path string) error { p.paths = append(p.paths, path); return nil },
		remove: func(string) error { return nil },
		list:   func() []string { return p.paths },
		close:  func() error { return nil },
	}, nil
}

func (p *played) play(file string, op fsnotify.Op) {
	p.events <- fsnotify.Event{Name: filepath.Join(p.dir, filepath.FromSlash(file)), Op: op}
}

// inBubble runs a test with a watch that is played, on the bubble's clock. That is
// behind the clock of the file system, so that every file counts as just written.
func inBubble(t *testing.T, o FileOptions, test func(t *testing.T, p *played, f *Files)) {
	dir := book(t)
	synctest.Test(t, func(t *testing.T) {
		p := &played{dir: dir}
		usual := usualPace
		usual.open, usual.look = p.open, 24*time.Hour
		f, err := watchFiles(t.Context(), dir, o, usual)
		if err != nil {
			t.Fatal(err)
		}
		test(t, p, f)
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	})
}

func wantBatch(t *testing.T, f *Files, since time.Time, after time.Duration, want ...string) {
	t.Helper()
	got := <-f.Changes()
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("the batch (-want +got):\n%s", diff)
	}
	if took := time.Since(since); took != after {
		t.Errorf("the batch came after %v, want %v", took, after)
	}
}

func TestABurstOfSavesIsOneBatchOnceItHasSettled(t *testing.T) {
	inBubble(t, FileOptions{}, func(t *testing.T, p *played, f *Files) {
		began := time.Now()
		p.play(poet, fsnotify.Write)
		time.Sleep(49 * time.Millisecond)
		p.play(botanist, fsnotify.Write)
		time.Sleep(49 * time.Millisecond)
		p.play(poet, fsnotify.Write)
		wantBatch(t, f, began, 148*time.Millisecond, botanist, poet) // 49 + 49 + 50
		p.play(poet, fsnotify.Write)
		wantBatch(t, f, began, 198*time.Millisecond, poet)
	})
}

func TestABurstWithoutEndIsToldAfterAQuarterOfASecond(t *testing.T) {
	inBubble(t, FileOptions{}, func(t *testing.T, p *played, f *Files) {
		began := time.Now()
		stop := make(chan struct{})
		stopped := make(chan struct{})
		go func() {
			defer close(stopped)
			for {
				p.play(poet, fsnotify.Write)
				select {
				case <-stop:
					return
				case <-time.After(7 * time.Millisecond):
				}
			}
		}()
		wantBatch(t, f, began, 250*time.Millisecond, poet)
		close(stop)
		<-stopped
	})
}

// A look comes every two seconds, and would put off what is saved just then.
func TestALookThatMeetsASavedFileDoesNotPutOffTheTelling(t *testing.T) {
	dir := book(t)
	synctest.Test(t, func(t *testing.T) {
		p := &played{dir: dir}
		usual := usualPace
		usual.open, usual.look = p.open, 30*time.Millisecond
		f, err := watchFiles(t.Context(), dir, FileOptions{}, usual)
		must(t, err)
		began := time.Now()
		must(t, os.WriteFile(filepath.Join(dir, filepath.FromSlash(poet)), []byte("label = \"POET\"\n"), 0o644))
		p.play(poet, fsnotify.Write)
		wantBatch(t, f, began, 50*time.Millisecond, poet)
		must(t, f.Close())
	})
}

func TestAttributesAreToldOnlyIfSomethingShows(t *testing.T) {
	inBubble(t, FileOptions{}, func(t *testing.T, p *played, f *Files) {
		began := time.Now()
		p.play(botanist, fsnotify.Chmod) // nothing about it changed
		p.play(poet, fsnotify.Write)     // nothing shows, but it may have
		wantBatch(t, f, began, 50*time.Millisecond, poet)
	})
}

// A file that was told as gone, but was back when it was read, and has gone again, is
// told: its reader would know it for ever.
func TestWhatWasBackForAMomentIsTold(t *testing.T) {
	inBubble(t, FileOptions{}, func(t *testing.T, p *played, f *Files) {
		began, at := time.Now(), filepath.Join(p.dir, filepath.FromSlash(poet))
		must(t, os.Remove(at))
		p.play(poet, fsnotify.Remove)
		time.Sleep(60 * time.Millisecond) // the batch is made, and not taken
		must(t, os.WriteFile(at, nil, 0o644))
		p.play(poet, fsnotify.Create)
		wantBatch(t, f, began, 60*time.Millisecond, poet)
		must(t, os.Remove(at))
		p.play(poet, fsnotify.Remove)
		wantBatch(t, f, began, 110*time.Millisecond, poet)
	})
}

// A flood of names takes no more memory than the book has files, and loses nothing.
func TestAFloodOfNamesBecomesALookAtAllFiles(t *testing.T) {
	dir := book(t)
	synctest.Test(t, func(t *testing.T) {
		p := &played{dir: dir}
		usual := usualPace
		usual.open, usual.look, usual.most = p.open, 24*time.Hour, 10
		f, err := watchFiles(t.Context(), dir, FileOptions{}, usual)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.Remove(filepath.Join(dir, filepath.FromSlash(botanist))); err != nil {
			t.Fatal(err)
		}
		p.play(botanist, fsnotify.Remove)
		for i := range 11 {
			p.play("performers/guest-"+string(rune('a'+i))+".toml", fsnotify.Create)
		}
		told := map[string]bool{}
		for len(told) < 4 {
			for _, file := range <-f.Changes() {
				if !strings.HasPrefix(file, "performers/guest-") {
					told[file] = true
				}
			}
		}
		want := map[string]bool{"book.toml": true, botanist: true, poet: true, "venues/net-loft.toml": true}
		if diff := cmp.Diff(want, told); diff != "" {
			t.Errorf("told (-want +got):\n%s", diff)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	})
}

// The watch of a folder that went, or was replaced, begins anew; what was saved in
// between may not show, so that all that is young in it is told.
func TestAFolderWhoseWatchBeginsAnewIsDoubted(t *testing.T) {
	inBubble(t, FileOptions{}, func(t *testing.T, p *played, f *Files) {
		began := time.Now()
		p.play("performers", fsnotify.Rename)
		wantBatch(t, f, began, 50*time.Millisecond, botanist, poet)
		p.play("", fsnotify.Remove) // the book's own: every folder may be another
		wantBatch(t, f, began, 100*time.Millisecond, "book.toml", botanist, poet, "venues/net-loft.toml")
	})
}

func TestAWatchThatEndedUntoldIsBegunAnewByALook(t *testing.T) {
	inBubble(t, FileOptions{}, func(t *testing.T, p *played, f *Files) {
		began := time.Now()
		performers := filepath.Join(p.dir, "performers")
		p.paths = slices.DeleteFunc(p.paths, func(path string) bool { return path == performers })
		p.play("README.md", fsnotify.Write) // is none of the book's, and passes the paths on
		wantBatch(t, f, began, 24*time.Hour+50*time.Millisecond, botanist, poet)
		if !slices.Contains(p.paths, performers) {
			t.Error("the folder isn't watched")
		}
	})
}

// Looks alone can't tell two saves in one tick of the file system's clock apart, so that
// what was young is told once more when the tick is over.
func TestWhatALookFoundIsToldAgainWhenTheClockHasMovedOn(t *testing.T) {
	inBubble(t, FileOptions{Poll: time.Second}, func(t *testing.T, p *played, f *Files) {
		began := time.Now()
		wantBatch(t, f, began, 2050*time.Millisecond, "book.toml", botanist, poet, "venues/net-loft.toml")
		if err := os.WriteFile(filepath.Join(p.dir, filepath.FromSlash(poet)), []byte("x"), 0o644); err != nil {
			t.Fatal(err)
		}
		wantBatch(t, f, began, 3050*time.Millisecond, poet)
		wantBatch(t, f, began, 5050*time.Millisecond, poet)
		must(t, os.Remove(filepath.Join(p.dir, filepath.FromSlash(poet))))
		wantBatch(t, f, began, 6050*time.Millisecond, poet)
		wantBatch(t, f, began, 8050*time.Millisecond, poet)
	})
}
