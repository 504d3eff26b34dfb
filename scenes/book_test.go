package scenes_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/testdata"

	"github.com/google/go-cmp/cmp"
)

// files are files of a book by path, laid over the example book.
type files map[string]string

// example gives a file of the example book.
func example(t testing.TB, file string) string {
	t.Helper()
	text, err := fs.ReadFile(testdata.Book(), file)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// changed gives a file of the example book with one passage replaced.
func changed(t testing.TB, file, old, by string) string {
	t.Helper()
	text := example(t, file)
	if strings.Count(text, old) != 1 {
		t.Fatalf("%s has %q %d times", file, old, strings.Count(text, old))
	}
	return strings.Replace(text, old, by, 1)
}

// over gives the example book with other files laid over it, and without its second
// venue: most tests are about one room.
func over(t testing.TB, other files) fstest.MapFS {
	t.Helper()
	all := make(fstest.MapFS)
	err := fs.WalkDir(testdata.Book(), ".", func(file string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			all[file] = &fstest.MapFile{Data: []byte(example(t, file)), Mode: 0o644}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	delete(all, "venues/lifeboat-house.toml")
	for file, text := range other {
		all[file] = &fstest.MapFile{Data: []byte(text), Mode: 0o644}
	}
	return all
}

// bookOf opens the example book with other files laid over it.
func bookOf(t testing.TB, other files) *scenes.Book {
	t.Helper()
	b, err := scenes.OpenFS(over(t, other), "")
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// folderOf writes the example book, with other files laid over it, into a folder.
func folderOf(t testing.TB, other files) *scenes.Book {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, over(t, other)); err != nil {
		t.Fatal(err)
	}
	b, err := scenes.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func venueOf(t testing.TB, b *scenes.Book, name string) *scenes.Venue {
	t.Helper()
	v, err := b.Venue(name)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// castOf puts a performer on a position of a venue.
func castOf(t testing.TB, b *scenes.Book, v *scenes.Venue, position, performer string, scene *scenes.Scene) scenes.Cast {
	t.Helper()
	cast, err := b.CastFor(v, position, performer, scene)
	if err != nil {
		t.Fatal(err)
	}
	return cast
}

// resolve resolves a performer on a position of the net loft.
func resolve(t testing.TB, b *scenes.Book, position, performer string) *scenes.Resolved {
	t.Helper()
	v := venueOf(t, b, "net-loft")
	r, err := v.Resolve(castOf(t, b, v, position, performer, nil))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// asked gives what is asked for by the name on the desk.
func asked(r *scenes.Resolved, name string) (scenes.Wanted, bool) {
	for _, w := range r.Wanted {
		if w.Parameter.Name == name {
			return w, true
		}
	}
	return scenes.Wanted{}, false
}

// said gives what is asked for as text, "" for nothing.
func said(r *scenes.Resolved, name string) string {
	w, ok := asked(r, name)
	if !ok {
		return ""
	}
	return w.Value.String()
}

func texts(faults source.Faults) []string {
	var all []string
	for _, f := range faults {
		all = append(all, f.Error())
	}
	return all
}

// wantFaults checks that an error is exactly these faults, in order.
func wantFaults(t *testing.T, err error, want ...string) {
	t.Helper()
	var found source.Faults
	if !errors.As(err, &found) {
		t.Fatalf("got %v, want faults %q", err, want)
	}
	if diff := cmp.Diff(want, texts(found.Sorted())); diff != "" {
		t.Errorf("faults (-want +got):\n%s", diff)
	}
}

func TestABookIsFoundFromAFolderWithinIt(t *testing.T) {
	dir := folderOf(t, nil).Dir
	b, err := scenes.Find(filepath.Join(dir, "performers"))
	if err != nil {
		t.Fatal(err)
	}
	if b.Dir != dir {
		t.Errorf("found %s, want %s", b.Dir, dir)
	}
}

func TestWithoutABookTheErrorSaysHowToMakeOne(t *testing.T) {
	_, err := scenes.Open(t.TempDir())
	if !errors.Is(err, scenes.ErrNoBook) || !strings.Contains(err.Error(), "deskhand new DIR") {
		t.Errorf("got %v", err)
	}
	_, err = scenes.Find(t.TempDir())
	if !errors.Is(err, scenes.ErrNoBook) || !strings.Contains(err.Error(), "deskhand new DIR") {
		t.Errorf("got %v", err)
	}
}

func TestAFaultyBookFileComesWithTheBook(t *testing.T) {
	b, err := scenes.OpenFS(over(t, files{"book.toml": "titel = \"Winter talks\"\n"}), "")
	wantFaults(t, err, `book.toml:1: unknown key "titel": did you mean "title"?`)
	if b == nil {
		t.Fatal("no book: check can't go on")
	}
	if diff := cmp.Diff([]string{`book.toml:1: unknown key "titel": did you mean "title"?`}, texts(b.Check(nil).Faults)); diff != "" {
		t.Error(diff)
	}
}

func TestTheUsualVenue(t *testing.T) {
	other := files{"venues/tide-hall.toml": example(t, "venues/net-loft.toml")}
	for _, c := range []struct {
		name  string
		files files
		want  string
		fault string
	}{
		{"is the one that book.toml names", nil, "net-loft", ""},
		{"is the only one there is", files{"book.toml": ""}, "net-loft", ""},
		{"must be named where there are two", files{"book.toml": "", "venues/tide-hall.toml": other["venues/tide-hall.toml"]}, "",
			`which venue? give --venue NAME, or write venue = "..." in book.toml: it is one of net-loft, tide-hall`},
		{"must be there", files{"book.toml": "\nvenue = \"net-lotf\"\n"}, "", `book.toml:2: there is no venue "net-lotf" in the book: did you mean "net-loft"?`},
	} {
		t.Run(c.name, func(t *testing.T) {
			name, err := bookOf(t, c.files).UsualVenue()
			if name != c.want || (err == nil) != (c.fault == "") || err != nil && err.Error() != c.fault {
				t.Errorf("got %q, %v", name, err)
			}
		})
	}
}

func TestABookWithoutAVenueSaysWhatToWrite(t *testing.T) {
	b, err := scenes.OpenFS(fstest.MapFS{"book.toml": {}}, "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.UsualVenue(); err == nil || err.Error() != "the book has no venue: write venues/NAME.toml" {
		t.Errorf("got %v", err)
	}
}

func TestNoNameLeadsOutOfTheBook(t *testing.T) {
	b := folderOf(t, nil)
	if err := os.WriteFile(filepath.Join(filepath.Dir(b.Dir), "outside.toml"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"../outside", "../../outside", "..", ".", "", ".hidden", "a/b", `a\b`, "a:b", "a\x1b[31m", "a\nb", "con*"} {
		_, err := b.Performer(name)
		if err == nil || strings.ContainsFunc(err.Error(), func(r rune) bool { return r < ' ' }) {
			t.Errorf("performer %q: %v", name, err)
		}
		if _, err := b.Profile(name); err == nil {
			t.Errorf("profile %q was read", name)
		}
	}
}

func TestOnlyPlainFilesOfAReasonableSizeAreRead(t *testing.T) {
	b := folderOf(t, nil)
	at := func(name string) string { return filepath.Join(b.Dir, "performers", name) }
	if err := os.Mkdir(at("folder.toml"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(at("huge.toml"), make([]byte, 5<<20), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("loop.toml", at("loop.toml")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(b.Dir, at("elsewhere.toml")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("poet.toml", at("bard.toml")); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"folder":    "performers/folder.toml: this is not a plain file",
		"elsewhere": "performers/elsewhere.toml: this is not a plain file",
		"huge":      "performers/huge.toml: this is no file that deskhand or a person wrote: it has 5 MiB, and 4 MiB is the most; move it away",
	} {
		if _, err := b.Performer(name); err == nil || err.Error() != want {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := b.Performer("loop"); err == nil || !strings.HasPrefix(err.Error(), "performers/loop.toml: ") {
		t.Errorf("loop: %v", err)
	}
	if p, err := b.Performer("bard"); err != nil || p.Title != "The poet" {
		t.Errorf("a link to a file of the book: %v, %v", p, err)
	}
}

func TestTheBooksOwnProfileComesBeforeTheShippedOne(t *testing.T) {
	shipped, err := profiles.Shipped("quay-24")
	if err != nil {
		t.Fatal(err)
	}
	own := strings.Replace(string(shipped), "channels = 24", "channels = 12", 1)
	p, err := bookOf(t, files{"profiles/quay-24.toml": own}).Profile("quay-24")
	if err != nil || p.Channels != 12 {
		t.Errorf("got %v, %v", p, err)
	}
	if p, err = bookOf(t, nil).Profile("quay-24"); err != nil || p.Channels != 24 {
		t.Errorf("got %v, %v", p, err)
	}
}

func TestAProfileAndItsFileHaveOneName(t *testing.T) {
	shipped, _ := profiles.Shipped("quay-24")
	_, err := bookOf(t, files{"profiles/quay-12.toml": string(shipped)}).Profile("quay-12")
	wantFaults(t, err, `profiles/quay-12.toml:1: the profile calls itself "quay-24": the file and its name must agree`)
}
