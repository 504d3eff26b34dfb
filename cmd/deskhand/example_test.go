package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/testdata"
)

// exampleDir is a folder with the example book in it.
func exampleDir(t testing.TB) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, testdata.Book()); err != nil {
		t.Fatal(err)
	}
	return dir
}

// netLoft opens the example book in a folder, and its usual venue.
func netLoft(t testing.TB, dir string) (*scenes.Book, *scenes.Venue) {
	t.Helper()
	b, err := scenes.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	v, err := b.Venue("net-loft")
	if err != nil {
		t.Fatal(err)
	}
	return b, v
}

// smallDesk gives the book in a folder a profile of its own for quay-24: a desk with a third of the channels, and so
// quick that nobody waits for it.
func smallDesk(t testing.TB, dir string) {
	t.Helper()
	text, err := profiles.Shipped("quay-24")
	if err != nil {
		t.Fatal(err)
	}
	small := strings.NewReplacer("channels = 24", "channels = 8", "mixes = 8", "mixes = 3", "pace = 400 ", "pace = 20000 ", "burst = 16 ", "burst = 256 ",
		`linger = "100ms"`, `linger = "5ms"`, `settle = "400ms"`, `settle = "5ms"`).Replace(string(text))
	file := filepath.Join(dir, "profiles", "quay-24.toml")
	if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(small), 0o666); err != nil {
		t.Fatal(err)
	}
}
