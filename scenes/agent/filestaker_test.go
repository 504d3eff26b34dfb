package agent

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// patience bounds a wait for what must come; a test that waits that long has failed.
const patience = 30 * time.Second

// The ways in which changes can be found, each alone, so that neither hides a fault of
// the other.
var (
	eventsOnly = way{name: "events", options: FileOptions{Settle: 2 * time.Millisecond}, look: time.Hour}
	looksOnly  = way{name: "looks", options: FileOptions{Settle: 2 * time.Millisecond, Poll: 3 * time.Millisecond}}
)

type way struct {
	name    string
	options FileOptions
	look    time.Duration
}

// pace is the usual one, with the looks of this way. The grain is coarser than the
// clock of the file systems that the tests run on: ten milliseconds at most on Linux.
func (w way) pace() pace {
	p := usualPace
	p.look, p.grain = w.look, 20*time.Millisecond
	return p
}

// tester is what testing.T and rapid.T have in common.
type tester interface {
	Helper()
	Fatal(...any)
	Fatalf(string, ...any)
}

// taker reads each file that it is told of, and so knows what is in the book as well as
// it is told.
type taker struct {
	tester
	dir   string
	files *Files
	knows map[string]string
	told  map[string]int
}

// start watches a book, and then reads all of it.
func start(t *testing.T, dir string, w way, p pace) *taker {
	t.Helper()
	f, err := watchFiles(t.Context(), dir, w.options, p)
	must(t, err)
	return newTaker(t, dir, f)
}

// newTaker reads all of a book that is watched.
func newTaker(t tester, dir string, f *Files) *taker {
	k := &taker{tester: t, dir: dir, files: f, told: map[string]int{}}
	k.knows = k.there()
	return k
}

// there reads every file of the book that is there, as the book does.
func (k *taker) there() map[string]string {
	all := map[string]string{}
	for _, d := range append([]string{"."}, bookFolders...) {
		entries, err := os.ReadDir(filepath.Join(k.dir, d))
		if err != nil {
			continue
		}
		for _, e := range entries {
			name := e.Name()
			if !strings.HasSuffix(name, ".toml") || strings.HasPrefix(name, ".") || d == "." && name != "book.toml" {
				continue
			}
			file := filepath.ToSlash(filepath.Join(d, name))
			if text, err := os.ReadFile(filepath.Join(k.dir, d, name)); err == nil {
				all[file] = string(text)
			}
		}
	}
	return all
}

// take takes a batch, and reads what it names.
func (k *taker) take() []string {
	k.Helper()
	select {
	case batch, ok := <-k.files.Changes():
		if !ok {
			k.Fatal("the watch ended")
		}
		for _, file := range batch {
			k.told[file]++
			text, err := os.ReadFile(filepath.Join(k.dir, filepath.FromSlash(file)))
			if err != nil {
				delete(k.knows, file)
				continue
			}
			k.knows[file] = string(text)
		}
		return batch
	case <-time.After(patience):
		k.Fatalf("nothing was told; what is there and what is known (+) differ:\n%s\ntold: %v", cmp.Diff(k.there(), k.knows), k.told)
	}
	return nil
}

// agree takes batches until the taker knows what is there.
func (k *taker) agree() {
	k.Helper()
	for !cmp.Equal(k.there(), k.knows) {
		k.take()
	}
}

// tells takes batches until each of the files was told.
func (k *taker) tells(files ...string) {
	k.Helper()
	for _, file := range files {
		for k.told[file] == 0 {
			k.take()
		}
	}
}

// book writes a book of four files.
func book(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for file, text := range map[string]string{
		"book.toml":                "title = \"Winter talks\"\n",
		"venues/net-loft.toml":     "desk = \"quay-24\"\n",
		"performers/botanist.toml": "label = \"Botany\"\n",
		"performers/poet.toml":     "label = \"Poetry\"\n",
	} {
		put(t, dir, file, text)
	}
	return dir
}

// put writes a file in place, and its folder if need be.
func put(t tester, dir, file, text string) {
	t.Helper()
	at := filepath.Join(dir, filepath.FromSlash(file))
	must(t, os.MkdirAll(filepath.Dir(at), 0o755))
	must(t, os.WriteFile(at, []byte(text), 0o644))
}

func must(t tester, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// gone is the error of what isn't there.
var gone = fs.ErrNotExist
