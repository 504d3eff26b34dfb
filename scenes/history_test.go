package scenes_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"deskhand/scenes"
)

// history is a repository with a book in a sub-folder, and two commits in which the
// botanist's fader differs; the second is on the branch harbour, the first tagged
// soundcheck.
func history(t *testing.T) *scenes.Book {
	t.Helper()
	repository := t.TempDir()
	dir := filepath.Join(repository, "talks", "winter")
	if err := os.CopyFS(dir, over(t, nil)); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(repository, "poster.toml"), []byte("not = \"of the book\"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	g := gitIn(t, repository)
	g("init", "--quiet", "--initial-branch", "harbour")
	g("add", "--all")
	g("commit", "--quiet", "--message", "soundcheck")
	g("tag", "soundcheck")
	text := changed(t, "performers/botanist.toml", "fader = -6.0", "fader = -3.0")
	if err := os.WriteFile(filepath.Join(dir, "performers", "botanist.toml"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	g("commit", "--quiet", "--all", "--message", "louder")
	b, err := scenes.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func faderOf(t *testing.T, b *scenes.Book) string {
	t.Helper()
	return said(resolve(t, b, "lectern", "botanist"), "fader")
}

func TestABookIsReadAsItWasAtARevision(t *testing.T) {
	b := history(t)
	for revision, want := range map[string]string{"HEAD": "-3", "HEAD~1": "-6", "soundcheck": "-6", "harbour": "-3"} {
		then, err := b.At(t.Context(), revision)
		if err != nil {
			t.Fatal(err)
		}
		if got := faderOf(t, then); got != want {
			t.Errorf("%s: fader %s, want %s", revision, got, want)
		}
		if n, err := then.Locate(".", "botanist"); err != nil || n.Kind != scenes.Performers {
			t.Errorf("%s: %v, %v", revision, n, err)
		}
		if len(then.Names(scenes.Scenes)) != 2 {
			t.Errorf("%s: scenes %v", revision, then.Names(scenes.Scenes))
		}
	}
}

func TestFaultsOfTheRevisionSayWhichItIs(t *testing.T) {
	b := history(t)
	then, err := b.At(t.Context(), "HEAD~1")
	if err != nil {
		t.Fatal(err)
	}
	r := resolve(t, then, "lectern", "botanist")
	if w, _ := asked(r, "fader"); w.Origin.String() != "performers/botanist.toml@HEAD~1:13" {
		t.Errorf("origin %s", w.Origin)
	}
	if err := then.Write("performers/botanist.toml", nil, nil); !errors.Is(err, scenes.ErrReadOnly) {
		t.Errorf("write: %v", err)
	}
	if _, err := then.At(t.Context(), "HEAD"); !errors.Is(err, scenes.ErrRevision) {
		t.Errorf("a revision of a revision: %v", err)
	}
}

func TestAnUnknownRevisionFindsTheNearest(t *testing.T) {
	b := history(t)
	for revision, want := range map[string]string{
		"soundchek": `no such revision: git has no "soundchek": did you mean "soundcheck"?`,
		"harbor":    `no such revision: git has no "harbor": did you mean "harbour"?`,
		"HAED":      `no such revision: git has no "HAED": did you mean "HEAD"?`,
		"0000000":   `no such revision: git has no "0000000": it is one of harbour, soundcheck, HEAD`,
		"":          `no such revision: "": write a commit, tag or branch, as HEAD~1`,
		"--help":    `no such revision: "--help": write a commit, tag or branch, as HEAD~1`,
	} {
		_, err := b.At(t.Context(), revision)
		if !errors.Is(err, scenes.ErrRevision) || err.Error() != want {
			t.Errorf("%q: %v", revision, err)
		}
	}
}

func TestABookThatWasNotYetThereSaysSo(t *testing.T) {
	dir := t.TempDir()
	g := gitIn(t, dir)
	g("init", "--quiet")
	b := folderAt(t, dir)
	if _, err := b.At(t.Context(), "HEAD"); err == nil || err.Error() != `no such revision "HEAD": nothing is committed yet (git add and git commit begin the history)` {
		t.Errorf("before the first commit: %v", err)
	}
	if err := os.WriteFile(filepath.Join(dir, "poster.txt"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	g("add", "poster.txt")
	g("commit", "--quiet", "--message", "a poster")
	_, err := b.At(t.Context(), "HEAD")
	if !errors.Is(err, scenes.ErrNoBook) || !strings.Contains(err.Error(), "revision HEAD") {
		t.Errorf("before the book: %v", err)
	}
}

func folderAt(t *testing.T, dir string) *scenes.Book {
	t.Helper()
	if err := os.CopyFS(dir, over(t, nil)); err != nil {
		t.Fatal(err)
	}
	b, err := scenes.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestABookOutsideGitSaysHowToBeginItsHistory(t *testing.T) {
	b := folderOf(t, nil)
	gitIn(t, b.Dir)
	_, err := b.At(t.Context(), "HEAD")
	want := `no such revision "HEAD": ` + b.Dir + ` is not kept in git (git init, git add and git commit begin its history)`
	if err == nil || err.Error() != want {
		t.Errorf("got %v", err)
	}
}

func TestWithoutGitTheErrorSaysSo(t *testing.T) {
	b := folderOf(t, nil)
	t.Setenv("PATH", t.TempDir())
	_, err := b.At(t.Context(), "HEAD")
	if err == nil || err.Error() != `no such revision "HEAD": git is not installed` {
		t.Errorf("got %v", err)
	}
}

func TestReadingARevisionCanBeCancelled(t *testing.T) {
	b := history(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := b.At(ctx, "HEAD"); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

func TestALinkInARevisionIsNotFollowed(t *testing.T) {
	b := history(t)
	if err := os.Symlink("/etc/hostname", b.Path("performers/link.toml")); err != nil {
		t.Fatal(err)
	}
	g := gitIn(t, b.Dir)
	g("add", "--all")
	g("commit", "--quiet", "--message", "a link")
	then, err := b.At(t.Context(), "HEAD")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := then.Performer("link"); err == nil || err.Error() != "performers/link.toml@HEAD: this is not a plain file" {
		t.Errorf("got %v", err)
	}
}
