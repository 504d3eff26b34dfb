//go:build !windows

package agent

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// linked is a book whose performers are elsewhere, and those of two evenings.
func linked(t *testing.T) (dir, elsewhere string) {
	t.Helper()
	dir, elsewhere = book(t), t.TempDir()
	must(t, os.Rename(filepath.Join(dir, "performers"), filepath.Join(elsewhere, "monday")))
	put(t, elsewhere, "friday/poet.toml", "label = \"Friday\"\n")
	must(t, os.Symlink(filepath.Join(elsewhere, "monday"), filepath.Join(dir, "performers")))
	return dir, elsewhere
}

func TestSavesInALinkedFolderAreTold(t *testing.T) {
	for _, w := range []way{eventsOnly, looksOnly} {
		t.Run(w.name, func(t *testing.T) {
			dir, elsewhere := linked(t)
			k := start(t, dir, w, w.pace())
			put(t, elsewhere, "monday/poet.toml", "label = \"Verses\"\n")
			k.agree()
			put(t, dir, botanist, "label = \"Plants\"\n")
			k.agree()
			must(t, os.Remove(filepath.Join(dir, "performers")))
			k.agree()
			must(t, os.Symlink(filepath.Join(elsewhere, "friday"), filepath.Join(dir, "performers")))
			k.agree()
			put(t, elsewhere, "friday/poet.toml", "label = \"At last\"\n")
			k.agree()
			must(t, k.files.Close())
		})
	}
}

// What a link leads to can change without an event where the link is: a look finds it.
func TestALinkedFolderThatIsReplacedIsTold(t *testing.T) {
	dir, elsewhere := linked(t)
	w := eventsOnly
	w.look = 3 * time.Millisecond
	k := start(t, dir, w, w.pace())
	for _, label := range []string{"one", "two", "three"} {
		must(t, os.RemoveAll(filepath.Join(elsewhere, "monday")))
		put(t, elsewhere, "monday/poet.toml", label)
		k.agree()
		must(t, os.Rename(filepath.Join(elsewhere, "monday"), filepath.Join(elsewhere, "away")))
		k.agree()
		must(t, os.Rename(filepath.Join(elsewhere, "away"), filepath.Join(elsewhere, "monday")))
		k.agree()
	}
	must(t, k.files.Close())
}

func TestALinkedFileIsTold(t *testing.T) {
	dir, elsewhere := linked(t)
	w := eventsOnly
	w.look = 3 * time.Millisecond
	put(t, elsewhere, "pilot.toml", "label = \"Flight\"\n")
	must(t, os.Symlink(filepath.Join(elsewhere, "pilot.toml"), filepath.Join(dir, "performers/pilot.toml")))
	k := start(t, dir, w, w.pace())
	put(t, elsewhere, "pilot.toml", "label = \"Planes\"\n")
	k.agree()
	must(t, os.Remove(filepath.Join(elsewhere, "pilot.toml")))
	k.agree()
	put(t, elsewhere, "pilot.toml", "label = \"Flights\"\n")
	k.agree()
	must(t, k.files.Close())
}

func TestTheBooksOwnFolderMayGoAndComeBack(t *testing.T) {
	for _, w := range []way{eventsOnly, looksOnly} {
		t.Run(w.name, func(t *testing.T) {
			w.look = 3 * time.Millisecond
			dir := filepath.Join(t.TempDir(), "talks")
			must(t, os.Rename(book(t), dir))
			k := start(t, dir, w, w.pace())
			must(t, os.Rename(dir, dir+"-away"))
			k.agree()
			put(t, dir, poet, "another book")
			k.agree()
			put(t, dir, poet, "another poet")
			k.agree()
			must(t, os.RemoveAll(dir))
			must(t, os.Rename(dir+"-away", dir))
			k.agree()
			put(t, dir, poet, "label = \"Verses\"\n")
			k.agree()
			must(t, k.files.Close())
		})
	}
}

// A folder that can't be read is told, and its files count as they were; when it can be
// read again, what changed is told.
func TestAFolderThatCantBeReadIsTold(t *testing.T) {
	dir, elsewhere := linked(t)
	w := eventsOnly
	w.look = 3 * time.Millisecond
	troubles := make(chan error, 16)
	w.options.Trouble = func(err error) { troubles <- err }
	k := start(t, dir, w, w.pace())
	link := filepath.Join(dir, "performers")
	must(t, os.Symlink("performers", link+"-new"))
	must(t, os.Rename(link+"-new", link)) // it leads to itself now
	if err := <-troubles; !errors.Is(err, syscall.ELOOP) {
		t.Errorf("told %v, want %v", err, syscall.ELOOP)
	}
	put(t, dir, "venues/net-loft.toml", "desk = \"quay-16\"\n")
	k.tells("venues/net-loft.toml")
	if k.told[poet] > 0 || k.told[botanist] > 0 {
		t.Error("files in a folder that can't be read were told")
	}
	put(t, elsewhere, "monday/poet.toml", "label = \"Verses\"\n")
	must(t, os.Remove(link))
	must(t, os.Symlink(filepath.Join(elsewhere, "monday"), link))
	k.tells(poet)
	k.agree()
	must(t, k.files.Close())
}
