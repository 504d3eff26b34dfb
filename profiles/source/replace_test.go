package source

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
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
