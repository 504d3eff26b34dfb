package agent

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// deed is something that a person or a program does to a book's files. What can't be
// done as things are is left undone.
type deed struct {
	name string
	do   func(t *rapid.T, dir string, n int)
}

var (
	anyFile   = rapid.SampledFrom([]string{"book.toml", botanist, poet, "performers/pilot.toml", "scenes/opening.toml", "venues/net-loft.toml"})
	anyFolder = rapid.SampledFrom([]string{"performers", "scenes", "venues"})
)

// text is short and always of the same size, so that only a time can give a change away.
func text(n int) string { return fmt.Sprintf("n = %04d\n", n) }

var deeds = []deed{
	{"write in place", func(t *rapid.T, dir string, n int) {
		put(t, dir, anyFile.Draw(t, "file"), text(n))
	}},
	{"write, and give it the time of before", func(t *rapid.T, dir string, n int) {
		at := filepath.Join(dir, anyFile.Draw(t, "file"))
		if info, err := os.Stat(at); err == nil {
			must(t, os.WriteFile(at, []byte(text(n)), 0o644))
			must(t, os.Chtimes(at, info.ModTime(), info.ModTime()))
		}
	}},
	{"write in two halves", func(t *rapid.T, dir string, n int) {
		file := anyFile.Draw(t, "file")
		put(t, dir, file, text(n)[:4])
		put(t, dir, file, text(n))
	}},
	{"rename over", func(t *rapid.T, dir string, n int) {
		file := anyFile.Draw(t, "file")
		put(t, dir, file+"~", text(n))
		must(t, os.Rename(filepath.Join(dir, file+"~"), filepath.Join(dir, file)))
	}},
	{"move away and write", func(t *rapid.T, dir string, n int) {
		file := anyFile.Draw(t, "file")
		perhaps(t, os.Rename(filepath.Join(dir, file), filepath.Join(dir, file+".bak")))
		put(t, dir, file, text(n))
	}},
	{"bring back what was moved away", func(t *rapid.T, dir string, _ int) {
		file := anyFile.Draw(t, "file")
		perhaps(t, os.Rename(filepath.Join(dir, file+".bak"), filepath.Join(dir, file)))
	}},
	{"touch", func(t *rapid.T, dir string, _ int) {
		now := time.Now()
		perhaps(t, os.Chtimes(filepath.Join(dir, anyFile.Draw(t, "file")), now, now))
	}},
	{"remove", func(t *rapid.T, dir string, _ int) {
		perhaps(t, os.Remove(filepath.Join(dir, anyFile.Draw(t, "file"))))
	}},
	{"rename a file to another", func(t *rapid.T, dir string, _ int) {
		from, to := anyFile.Draw(t, "from"), anyFile.Draw(t, "to")
		perhaps(t, os.Rename(filepath.Join(dir, from), filepath.Join(dir, to)))
	}},
	{"swap a folder with the one that is away", func(t *rapid.T, dir string, _ int) {
		at := filepath.Join(dir, anyFolder.Draw(t, "folder"))
		perhaps(t, os.Rename(at, at+"-between"))
		perhaps(t, os.Rename(at+"-away", at))
		perhaps(t, os.Rename(at+"-between", at+"-away"))
	}},
	{"remove a folder", func(t *rapid.T, dir string, _ int) {
		must(t, os.RemoveAll(filepath.Join(dir, anyFolder.Draw(t, "folder"))))
	}},
	{"save where a folder is that is away", func(t *rapid.T, dir string, n int) {
		at := filepath.Join(dir, anyFolder.Draw(t, "folder")+"-away", "poet.toml")
		perhaps(t, os.WriteFile(at, []byte(text(n)), 0o644))
	}},
}

// perhaps fails unless it worked, or what it was about isn't there.
func perhaps(t *rapid.T, err error) {
	if err != nil && !errors.Is(err, gone) {
		t.Fatal(err)
	}
}

func TestWhateverIsDoneWhoeverReadsWhatIsToldKnowsTheBook(t *testing.T) {
	for _, w := range []way{eventsOnly, looksOnly} {
		t.Run(w.name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				dir, err := os.MkdirTemp("", "book")
				must(t, err)
				defer os.RemoveAll(dir)
				put(t, dir, "book.toml", text(0))
				put(t, dir, poet, text(0))
				ctx, cancel := context.WithCancel(context.Background())
				defer cancel()
				f, err := watchFiles(ctx, dir, w.options, w.pace())
				must(t, err)
				defer f.Close()
				k := newTaker(t, dir, f)
				for n := range rapid.IntRange(1, 12).Draw(t, "deeds") {
					d := deeds[rapid.IntRange(0, len(deeds)-1).Draw(t, "deed")]
					t.Log(d.name)
					d.do(t, dir, n+1)
					if rapid.IntRange(0, 3).Draw(t, "pause") == 0 {
						k.agree()
					}
				}
				k.agree()
			})
		})
	}
}
