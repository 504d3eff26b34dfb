package source

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// checkFolder looks that a folder holds one file with this text, and nothing that was left lying about.
func checkFolder(t *testing.T, dir, name, text string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if e.Name() != name {
			t.Errorf("%s was left behind", e.Name())
		}
	}
	got, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	if string(got) != text {
		t.Errorf("the file holds %q, want %q", got, text)
	}
}

func TestReplacePutsTheNewTextInPlaceOfTheOld(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "poet.toml")
	if err := os.WriteFile(path, []byte("gain = 34\n"), 0o640); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, 0o664); err != nil {
		t.Fatal(err)
	}
	before, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := Replace(path, []byte("gain = 34\n"), []byte("gain = 28\n")); err != nil {
		t.Fatal(err)
	}
	checkFolder(t, dir, "poet.toml", "gain = 28\n")
	after, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	if after.Mode() != before.Mode() {
		t.Errorf("the mode was %v and is %v", before.Mode(), after.Mode())
	}
}

func TestReplaceWritesNothingWhenSomeoneSavedTheFileMeanwhile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "poet.toml")
	if err := os.WriteFile(path, []byte("gain = 30\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := Replace(path, []byte("gain = 34\n"), []byte("gain = 28\n")); !errors.Is(err, ErrChanged) {
		t.Errorf("got %v", err)
	}
	checkFolder(t, dir, "poet.toml", "gain = 30\n")
}

func TestReplaceMakesANewFileOnlyWhereThereIsNone(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "poet.toml")
	if err := Replace(path, nil, []byte("gain = 28\n")); err != nil {
		t.Fatal(err)
	}
	checkFolder(t, dir, "poet.toml", "gain = 28\n")
	if err := Replace(path, nil, []byte("gain = 0\n")); !errors.Is(err, fs.ErrExist) {
		t.Errorf("got %v", err)
	}
	checkFolder(t, dir, "poet.toml", "gain = 28\n")
}

func TestReplaceOfAnEmptyFileIsNotANewFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "poet.toml")
	if err := os.WriteFile(path, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	d, err := Parse(path, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := Replace(path, d.Text(), []byte("gain = 28\n")); err != nil {
		t.Fatal(err)
	}
	checkFolder(t, dir, "poet.toml", "gain = 28\n")
}

func TestReplaceFollowsALinkAndLeavesItOne(t *testing.T) {
	dir, elsewhere := t.TempDir(), t.TempDir()
	target := filepath.Join(elsewhere, "poet.toml")
	if err := os.WriteFile(target, []byte("gain = 34\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(dir, "poet.toml")
	if err := os.Symlink(target, link); err != nil {
		t.Fatal(err)
	}
	if err := Replace(link, []byte("gain = 34\n"), []byte("gain = 28\n")); err != nil {
		t.Fatal(err)
	}
	checkFolder(t, elsewhere, "poet.toml", "gain = 28\n")
	checkFolder(t, dir, "poet.toml", "gain = 28\n")
	if info, err := os.Lstat(link); err != nil || info.Mode()&fs.ModeSymlink == 0 {
		t.Errorf("the link is no link any more: %v, %v", info, err)
	}
}

func TestReplaceOfWhatIsNoFileFails(t *testing.T) {
	dir := t.TempDir()
	if err := Replace(filepath.Join(dir, "none.toml"), []byte{}, nil); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a missing file: got %v", err)
	}
	if err := Replace(filepath.Join(dir, "no", "poet.toml"), nil, nil); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a missing folder: got %v", err)
	}
	if err := Replace(dir, []byte{}, nil); err == nil {
		t.Error("a folder was replaced")
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 0 {
		t.Errorf("left behind: %v, %v", entries, err)
	}
}

func TestWhatAKilledWriterHasLeftIsTakenAwayByALaterOne(t *testing.T) {
	dir, workshop := t.TempDir(), t.TempDir()
	path := filepath.Join(dir, "poet.toml")
	long := time.Now().Add(-2 * strayAfter)
	for name, stays := range map[string]bool{
		filepath.Join(workshop, ".pilot.toml123"): false, // of any file, where only such texts lie
		filepath.Join(workshop, "pilot.toml"):     true,
		filepath.Join(dir, ".poet.toml4567"):      false,
		filepath.Join(dir, ".pilot.toml4567"):     true, // of another file: its writer sees to it
		filepath.Join(dir, ".poet.toml.swp"):      true, // an editor's
		filepath.Join(dir, ".poet.toml89"):        true, // just written
	} {
		if err := os.WriteFile(name, []byte("half"), 0o666); err != nil {
			t.Fatal(err)
		}
		if filepath.Base(name) != ".poet.toml89" {
			if err := os.Chtimes(name, long, long); err != nil {
				t.Fatal(err)
			}
		}
		t.Cleanup(func() {
			if _, err := os.Lstat(name); (err == nil) != stays {
				t.Errorf("%s: %v", name, err)
			}
		})
	}
	if err := ReplaceFrom(workshop, path, nil, []byte("gain = 34\n")); err != nil {
		t.Fatal(err)
	}
	if err := Replace(path, []byte("gain = 34\n"), []byte("gain = 28\n")); err != nil {
		t.Fatal(err)
	}
}

func TestReplaceNeedsNoWorkshop(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "poet.toml")
	gone := filepath.Join(dir, "none")
	if err := ReplaceFrom(gone, path, nil, []byte("gain = 34\n")); err != nil {
		t.Fatal(err)
	}
	if err := ReplaceFrom(gone, path, []byte("gain = 34\n"), []byte("gain = 28\n")); err != nil {
		t.Fatal(err)
	}
	checkFolder(t, dir, "poet.toml", "gain = 28\n")
}

func TestOnlyAPlainFileOfItsSizeIsRead(t *testing.T) {
	path := filepath.Join(t.TempDir(), "poet.toml")
	if err := os.WriteFile(path, []byte("gain"), 0o666); err != nil {
		t.Fatal(err)
	}
	if text, err := ReadFile(path, 4); err != nil || string(text) != "gain" {
		t.Errorf("got %q, %v", text, err)
	}
	var large *TooLarge
	if _, err := ReadFile(path, 3); !errors.As(err, &large) || large.Size != 4 {
		t.Errorf("too large: got %v", err)
	}
	if _, err := ReadFile(filepath.Dir(path), 3); !errors.Is(err, ErrNotPlain) {
		t.Errorf("a folder: got %v", err)
	}
	for n, want := range map[int64]string{1023: "1023 bytes", 4 << 20: "4 MiB", 3 << 29: "1.5 GiB"} {
		if got := Bytes(n); got != want {
			t.Errorf("%d is %s, not %s", n, got, want)
		}
	}
}
