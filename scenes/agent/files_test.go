package agent

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

const botanist, poet = "performers/botanist.toml", "performers/poet.toml"

// saves are the ways in which editors, people and git save.
var saves = map[string]func(k *taker, at func(string) string){
	"written in place": func(k *taker, at func(string) string) {
		put(k, k.dir, botanist, "label = \"Plants\"\n")
		k.agree()
	},
	"in place, of the same size, twice in a moment": func(k *taker, at func(string) string) {
		put(k, k.dir, botanist, "label = \"Botana\"\n")
		put(k, k.dir, botanist, "label = \"Botanb\"\n")
		k.agree()
		put(k, k.dir, botanist, "label = \"Botanc\"\n")
		k.agree()
	},
	"of the same size and with the time of before": func(k *taker, at func(string) string) {
		info, err := os.Stat(at(botanist))
		must(k, err)
		put(k, k.dir, botanist, "label = \"Botanz\"\n")
		must(k, os.Chtimes(at(botanist), info.ModTime(), info.ModTime()))
		k.agree()
	},
	"to a new file, renamed over": func(k *taker, at func(string) string) {
		put(k, k.dir, "performers/botanist.toml~new", "label = \"Plants\"\n")
		must(k, os.Rename(at("performers/botanist.toml~new"), at(botanist)))
		k.agree()
	},
	"the old one moved away first": func(k *taker, at func(string) string) {
		must(k, os.Rename(at(botanist), at(botanist)+".bak"))
		put(k, k.dir, botanist, "label = \"Plants\"\n")
		k.agree()
	},
	"in two halves a moment apart": func(k *taker, at func(string) string) {
		file, err := os.OpenFile(at(botanist), os.O_TRUNC|os.O_WRONLY, 0)
		must(k, err)
		defer file.Close()
		_, err = file.WriteString("label = \"Pla")
		must(k, err)
		k.agree()
		_, err = file.WriteString("nts\"\n")
		must(k, err)
		k.agree()
	},
	"touched without change": func(k *taker, at func(string) string) {
		now := time.Now().Add(time.Minute)
		must(k, os.Chtimes(at(botanist), now, now))
		k.tells(botanist)
	},
	"removed and brought back": func(k *taker, at func(string) string) {
		must(k, os.Remove(at(botanist)))
		k.agree()
		put(k, k.dir, botanist, "label = \"Botany\"\n")
		k.agree()
	},
	"removed and brought back at once": func(k *taker, at func(string) string) {
		must(k, os.Remove(at(botanist)))
		put(k, k.dir, botanist, "label = \"Botanx\"\n")
		k.agree()
	},
	"one renamed to another": func(k *taker, at func(string) string) {
		must(k, os.Rename(at(botanist), at(poet)))
		k.agree()
	},
	"a folder renamed and brought back": func(k *taker, at func(string) string) {
		must(k, os.Rename(at("performers"), at("performers-old")))
		k.agree()
		put(k, k.dir, "performers-old/poet.toml", "label = \"Verses\"\n")
		must(k, os.Rename(at("performers-old"), at("performers")))
		k.agree()
		put(k, k.dir, botanist, "label = \"Plants\"\n")
		k.agree()
	},
	"a folder renamed, changed and brought back at once": func(k *taker, at func(string) string) {
		for _, label := range []string{"Verse", "Lines", "Rhyme"} {
			must(k, os.Rename(at("performers"), at("performers-old")))
			put(k, k.dir, "performers-old/poet.toml", label)
			must(k, os.Rename(at("performers-old"), at("performers")))
		}
		k.agree()
		put(k, k.dir, botanist, "label = \"Plants\"\n")
		k.agree()
	},
	"a folder replaced by another": func(k *taker, at func(string) string) {
		put(k, k.dir, "performers-new/pilot.toml", "label = \"Flight\"\n")
		must(k, os.Rename(at("performers"), at("performers-old")))
		must(k, os.Rename(at("performers-new"), at("performers")))
		k.agree()
		put(k, k.dir, "performers/pilot.toml", "label = \"Planes\"\n")
		k.agree()
	},
	"a folder removed and made again": func(k *taker, at func(string) string) {
		for _, label := range []string{"Verse", "Lines", "Rhyme"} {
			must(k, os.RemoveAll(at("performers")))
			put(k, k.dir, poet, label)
		}
		k.agree()
		put(k, k.dir, poet, "rhyme")
		k.agree()
	},
	"a folder made later": func(k *taker, at func(string) string) {
		put(k, k.dir, "running-orders/winter-talks.toml", "scenes = []\n")
		k.agree()
		put(k, k.dir, "running-orders/winter-talks.toml", "scenes = [\"opening\"]\n")
		k.agree()
	},
	"the settings of the book": func(k *taker, at func(string) string) {
		put(k, k.dir, "book.toml", "title = \"Summer talks\"\n")
		k.agree()
		must(k, os.Remove(at("book.toml")))
		k.agree()
	},
	"a branch switched by git": func(k *taker, at func(string) string) {
		git(k, "init", "-q", "-b", "winter")
		git(k, "add", ".")
		git(k, "commit", "-q", "-m", "winter")
		git(k, "checkout", "-q", "-b", "summer")
		must(k, os.RemoveAll(at("venues")))
		put(k, k.dir, poet, "label = \"Summer\"\n")
		put(k, k.dir, "scenes/opening.toml", "positions = {}\n")
		git(k, "add", "-A")
		git(k, "commit", "-q", "-m", "summer")
		k.agree()
		for _, branch := range []string{"winter", "summer", "winter"} {
			git(k, "checkout", "-q", branch)
			k.agree()
		}
		git(k, "checkout", "-q", "summer")
		git(k, "checkout", "-q", "winter")
		k.agree()
	},
}

// git runs git in the book, with nothing of the machine's own settings.
func git(k *taker, args ...string) {
	k.Helper()
	c := exec.Command("git", append([]string{"-C", k.dir, "-c", "user.name=desk", "-c", "user.email=desk@localhost"}, args...)...)
	c.Env = append(os.Environ(), "GIT_CONFIG_GLOBAL="+os.DevNull, "GIT_CONFIG_SYSTEM="+os.DevNull)
	if out, err := c.CombinedOutput(); err != nil {
		k.Fatalf("git %v: %v\n%s", args, err, out)
	}
}

func TestEveryWayOfSavingIsTold(t *testing.T) {
	for _, w := range []way{eventsOnly, looksOnly} {
		for name, save := range saves {
			t.Run(w.name+"/"+name, func(t *testing.T) {
				dir := book(t)
				k := start(t, dir, w, w.pace())
				save(k, func(file string) string { return filepath.Join(dir, filepath.FromSlash(file)) })
				must(t, k.files.Close())
			})
		}
	}
}

func TestOnlyFilesOfTheBookAreTold(t *testing.T) {
	for _, w := range []way{eventsOnly, looksOnly} {
		t.Run(w.name, func(t *testing.T) {
			k := start(t, book(t), w, w.pace())
			for _, file := range []string{
				"README.toml", ".deskhand/memory.toml", ".git/index.toml", "pictures/stage.toml",
				"performers/.botanist.toml", "performers/botanist.toml.swp", "performers/notes.md", "performers/guests/pilot.toml",
			} {
				put(t, k.dir, file, "x")
			}
			must(t, os.Mkdir(filepath.Join(k.dir, "performers/folder.toml"), 0o755))
			before := k.there()
			put(t, k.dir, poet, "last")
			for k.knows[poet] != "last" {
				for _, file := range k.take() {
					if _, ok := before[file]; !ok {
						t.Errorf("%s was told", file)
					}
				}
			}
			must(t, k.files.Close())
		})
	}
}

func TestWhatHappensWhileTheWatchBeginsIsTold(t *testing.T) {
	for _, w := range []way{eventsOnly, looksOnly} {
		t.Run(w.name, func(t *testing.T) {
			dir := book(t)
			stop, begun, stopped := make(chan struct{}), make(chan struct{}), make(chan struct{})
			go func() {
				defer close(stopped)
				for i := 0; ; i++ {
					select {
					case <-stop:
						return
					default:
						_ = os.WriteFile(filepath.Join(dir, "performers/poet.toml"), fmt.Appendf(nil, "%c\n", 'a'+i%26), 0o644)
					}
					if i == 0 {
						close(begun)
					}
				}
			}()
			<-begun
			k := start(t, dir, w, w.pace())
			close(stop)
			<-stopped
			k.agree()
			must(t, k.files.Close())
		})
	}
}

func TestNothingIsLostWhenABatchIsTakenLate(t *testing.T) {
	w := eventsOnly
	w.options.Settle = time.Nanosecond // so that batches are made in between
	k := start(t, book(t), w, w.pace())
	for _, label := range []string{"one", "two", "three"} {
		put(t, k.dir, botanist, label)
		put(t, k.dir, poet, label)
		put(t, k.dir, "scenes/"+label+".toml", label)
	}
	k.agree()
	must(t, k.files.Close())
}

func TestWatchEndsWithItsContextWhetherBatchesAreTakenOrNot(t *testing.T) {
	dir := book(t)
	ctx, cancel := context.WithCancel(t.Context())
	f, err := WatchFiles(ctx, dir, FileOptions{Settle: time.Nanosecond})
	must(t, err)
	put(t, dir, poet, "not taken")
	cancel()
	<-f.ended
	for range f.Changes() { // ends, since it is closed
	}
	must(t, f.Close())
	must(t, f.Close())
}

func TestWatchRefusesWhatIsNoFolder(t *testing.T) {
	dir := book(t)
	if _, err := WatchFiles(t.Context(), filepath.Join(dir, "nowhere"), FileOptions{}); !errors.Is(err, gone) {
		t.Errorf("a folder that isn't there: %v", err)
	}
	if _, err := WatchFiles(t.Context(), filepath.Join(dir, "book.toml"), FileOptions{}); err == nil {
		t.Error("a file was watched as a book")
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := WatchFiles(ended, dir, FileOptions{}); !errors.Is(err, context.Canceled) {
		t.Errorf("with an ended context: %v", err)
	}
}
