package scenes_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"deskhand/scenes"
)

func TestAFileIsLocatedInTheWaysPeopleNameIt(t *testing.T) {
	b := folderOf(t, files{"performers/opening.toml": example(t, "performers/poet.toml"), "readings/poet.toml": "desk = \"quay-24\"\n"})
	linked := filepath.Join(t.TempDir(), "book")
	if err := os.Symlink(b.Dir, linked); err != nil {
		t.Fatal(err)
	}
	botanist := scenes.Named{Kind: scenes.Performers, Name: "botanist"}
	for _, c := range []struct {
		from, what string
		want       scenes.Named
	}{
		{b.Dir, "performers/botanist.toml", botanist},
		{b.Dir, "performers/botanist", botanist},
		{b.Dir, "./performers//botanist.toml", botanist},
		{b.Dir, "botanist", botanist},
		{b.Dir, "botanist.toml", botanist},
		{filepath.Join(b.Dir, "performers"), "botanist.toml", botanist},
		{filepath.Join(b.Dir, "performers"), "opening.toml", scenes.Named{Kind: scenes.Performers, Name: "opening"}},
		{filepath.Join(b.Dir, "scenes"), "../performers/botanist.toml", botanist},
		{filepath.Join(b.Dir, "scenes"), "performers/botanist.toml", botanist}, // by its path in the book
		{os.TempDir(), "performers/botanist.toml", botanist},
		{os.TempDir(), filepath.Join(b.Dir, "performers", "botanist.toml"), botanist},
		{filepath.Join(linked, "performers"), "botanist.toml", botanist}, // through a link
		{b.Dir, "net-loft", scenes.Named{Kind: scenes.Venues, Name: "net-loft"}},
	} {
		if got, err := b.Locate(c.from, c.what); err != nil || got != c.want {
			t.Errorf("from %s, %s: %v, %v", c.from, c.what, got, err)
		}
	}
}

func TestAFileThatIsNotThereFindsTheNearest(t *testing.T) {
	b := folderOf(t, files{"readings/poet.toml": "desk = \"quay-24\"\n"})
	for what, want := range map[string]string{
		"botnist":                     `no such file in the book: "botnist": did you mean "botanist"?`,
		"performers/botnist.toml":     `no such file in the book: "performers/botnist.toml": did you mean "performers/botanist.toml"?`,
		`performers\botanist.toml`:    `no such file in the book: "performers\\botanist.toml": did you mean "performers/botanist.toml"?`,
		"poet":                        `"poet" could be performers/poet.toml or readings/poet.toml: write which`,
		"../../../../etc/passwd":      `no such file in the book: "../../../../etc/passwd"`,
		"performers/\x1b[31mred.toml": `no such file in the book: "performers/\x1b[31mred.toml"`,
	} {
		if _, err := b.Locate(b.Dir, what); err == nil || err.Error() != want {
			t.Errorf("%q: %v", what, err)
		}
	}
	for _, what := range []string{"", ".", "..", "/", "performers", "performers/", "book.toml", ".gitignore"} {
		_, err := b.Locate(b.Dir, what)
		if !errors.Is(err, scenes.ErrNoFile) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %v", what, err)
		}
	}
}
