package scenes_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"deskhand/profiles/source"
	"deskhand/scenes"
)

// outside makes a folder beside the book with one file in it, and a check that nothing there has changed.
func outside(t *testing.T) (dir string, check func()) {
	t.Helper()
	dir = t.TempDir()
	file := filepath.Join(dir, "poet.toml")
	if err := os.WriteFile(file, []byte("fader = -9.0\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	return dir, func() {
		t.Helper()
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if e.Name() != "poet.toml" {
				t.Errorf("%s was made outside the book", e.Name())
			}
		}
		if text, err := os.ReadFile(file); err != nil || string(text) != "fader = -9.0\n" {
			t.Errorf("outside the book, the file holds %q (%v)", text, err)
		}
	}
}

func link(t *testing.T, to, from string) {
	t.Helper()
	if err := errors.Join(os.RemoveAll(from), os.MkdirAll(filepath.Dir(from), 0o777), os.Symlink(to, from)); err != nil {
		t.Fatal(err)
	}
}

func TestNothingIsWrittenThroughALinkThatLeadsOutOfTheBook(t *testing.T) {
	for _, c := range []struct{ name, link, to, file string }{
		{"a file", "performers/poet.toml", "poet.toml", "performers/poet.toml"},
		{"a folder", "performers", "", "performers/poet.toml"},
		{"a new file in a folder", "readings", "", "readings/new.toml"},
		{"a link to nowhere", "readings/new.toml", "new.toml", "readings/new.toml"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := folderOf(t, nil)
			dir, check := outside(t)
			link(t, filepath.Join(dir, c.to), b.Path(c.link))
			old, err := os.ReadFile(b.Path(c.file))
			if err != nil {
				old = nil
			}
			if err := b.Write(c.file, old, []byte("fader = 0.0\n")); err == nil {
				t.Error("it was written")
			} else if c.name != "a link to nowhere" && !errors.Is(err, scenes.ErrOutside) {
				t.Errorf("got %v", err)
			}
			check()
		})
	}
}

func TestALinkWithinTheBookIsFollowedAndStaysOne(t *testing.T) {
	b := folderOf(t, nil)
	old, err := os.ReadFile(b.Path("performers/poet.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(b.Path("performers/poet.toml"), b.Path("shared.toml")); err != nil {
		t.Fatal(err)
	}
	link(t, "../shared.toml", b.Path("performers/poet.toml"))
	if err := b.Write("performers/poet.toml", old, []byte("fader = 0.0\n")); err != nil {
		t.Fatal(err)
	}
	if text, err := os.ReadFile(b.Path("shared.toml")); err != nil || string(text) != "fader = 0.0\n" {
		t.Errorf("the file holds %q (%v)", text, err)
	}
	if info, err := os.Lstat(b.Path("performers/poet.toml")); err != nil || info.Mode()&fs.ModeSymlink == 0 {
		t.Errorf("the link is none any more: %v %v", info, err)
	}
}

func TestTheToolsOwnFilesAreNeverWrittenThroughALink(t *testing.T) {
	for _, at := range []string{
		".deskhand", ".deskhand/net-loft", ".deskhand/net-loft/held.toml", ".deskhand/net-loft/record",
		".deskhand/locks", ".deskhand/locks/venue-net-loft.lock", ".deskhand/locks/venue-net-loft.toml", ".deskhand/new",
	} {
		t.Run(at, func(t *testing.T) {
			b := folderOf(t, nil)
			v := venueOf(t, b, "net-loft")
			dir, check := outside(t)
			to := dir
			if strings.Contains(filepath.Base(at)[1:], ".") {
				to = filepath.Join(dir, "poet.toml")
			}
			link(t, to, b.Path(at))
			m, err := b.Memory(v)
			if err == nil {
				err = errors.Join(m.Save(time.Now()), m.PushUndo(m.Held), m.AddRecord(scenes.Record{What: scenes.DidMove, By: scenes.ByHand}))
			}
			l, errLock := b.Lock(t.Context(), v, "swap lectern poet", nil)
			if errLock == nil {
				l.Release()
			}
			if at != ".deskhand/new" && err == nil && errLock == nil { // where it can be done without that folder
				t.Error("all of it was written")
			}
			check()
		})
	}
}

func TestAMemoryThatIsALinkToAnotherFileOfTheBookDoesNotOverwriteIt(t *testing.T) {
	b := folderOf(t, nil)
	m := memoryOf(t, b)
	link(t, "../../performers/poet.toml", b.Path(".deskhand/net-loft/held.toml"))
	before, err := os.ReadFile(b.Path("performers/poet.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if err := m.Save(time.Now()); err == nil {
		t.Error("it was written")
	}
	if now, _ := os.ReadFile(b.Path("performers/poet.toml")); string(now) != string(before) {
		t.Error("the performer's file is gone")
	}
}

func TestALinkThatLeadsNowhereIsNoMissingFile(t *testing.T) {
	b := folderOf(t, nil)
	link(t, "nowhere", b.Path("profiles/quay-24.toml"))
	link(t, "nowhere", b.Path("performers/poet.toml"))
	for _, read := range []func() error{
		func() error { _, err := b.Profile("quay-24"); return err }, // not the shipped one in its place
		func() error { _, err := b.Performer("poet"); return err },
	} {
		if err := read(); err == nil || !strings.Contains(err.Error(), "link that leads nowhere") {
			t.Errorf("got %v", err)
		}
	}
}

func TestAFileTooLargeToBeOneIsToldWithItsSizeAndNotRead(t *testing.T) {
	b := folderOf(t, nil)
	v, m := venueOf(t, b, "net-loft"), memoryOf(t, b)
	day := scenes.Evening(time.Now())
	files := map[string]func() error{
		"performers/poet.toml":           func() error { _, err := b.Performer("poet"); return err },
		"readings/big.toml":              func() error { _, err := b.Reading("big"); return err },
		".deskhand/net-loft/held.toml":   func() error { _, err := b.Memory(v); return err },
		".deskhand/net-loft/agreed.toml": func() error { _, err := m.Agreed(); return err },
		".deskhand/net-loft/record/" + day + ".jsonl": func() error {
			_, _, err := m.Record(day)
			if again := m.AddRecord(scenes.Record{What: scenes.DidMove}); again == nil {
				t.Error("a line was added that nobody could read")
			}
			return err
		},
	}
	for file, read := range files {
		at := b.Path(file)
		if err := os.MkdirAll(filepath.Dir(at), 0o777); err != nil {
			t.Fatal(err)
		}
		f, err := os.Create(at)
		if err == nil {
			err = errors.Join(f.Truncate(1<<30), f.Close()) // which takes no room
		}
		if err != nil {
			t.Fatal(err)
		}
		err = read()
		var large *source.TooLarge
		if !errors.As(err, &large) || large.Size != 1<<30 || !strings.Contains(err.Error(), "it has 1 GiB, and ") || !strings.Contains(err.Error(), filepath.Base(file)) {
			t.Errorf("%s: got %v", file, err)
		}
		if err := os.Remove(at); err != nil {
			t.Fatal(err)
		}
	}
}

func TestWhatIsKeptGoesOnlyIntoTheFileThatItWasJudgedBy(t *testing.T) {
	b := folderOf(t, nil)
	d, kept := faderMoved(t, b)
	theirs := changed(t, "performers/botanist.toml", "fader = -6.0", "fader = -3.0")
	if err := os.WriteFile(b.Path("performers/botanist.toml"), []byte(theirs), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, _, err := b.KeepText(d.strip.Performer, kept); !errors.Is(err, source.ErrChanged) {
		t.Errorf("got %v", err)
	}
	d.strip.Performer.Wrote([]byte(theirs))
	if _, _, err := b.KeepText(d.strip.Performer, kept); err != nil {
		t.Error(err)
	}
}
