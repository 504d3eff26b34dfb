package scenes_test

import (
	"maps"
	"os"
	"path/filepath"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes"
)

// FuzzMemory puts any text in place of each file of what is remembered, as a broken disk or
// a hand may. Nothing panics, what can't be read is an error, and what was read is saved
// such that it reads the same.
func FuzzMemory(f *testing.F) {
	b := folderOf(f, nil).OnShelf()
	v := venueOf(f, b, "net-loft")
	for _, text := range remembered(f, b, v) {
		f.Add(text)
	}
	f.Add([]byte("desk = \"another\"\n"))
	f.Add([]byte("[on]\nlectern = 3\n[running]\norder = \"x\"\nnumber = -9223372036854775808\n[[running.came]]\nfrom = 1\n"))
	f.Add([]byte("turn = \"x\"\nheld = false\n"))
	files := memoryFiles(f, b)
	f.Fuzz(func(t *testing.T, text []byte) {
		for _, file := range files {
			whole := swapFile(t, file, text)
			useMemory(t, b, v)
			swapFile(t, file, whole)
		}
	})
}

// swapFile writes a file without waiting for the disk, and gives what was in it.
func swapFile(t *testing.T, file string, text []byte) []byte {
	t.Helper()
	was, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, text, 0o666); err != nil {
		t.Fatal(err)
	}
	return was
}

// remembered lets all there is be remembered, and gives the texts of the files.
func remembered(f *testing.F, b *scenes.Book, v *scenes.Venue) (texts [][]byte) {
	f.Helper()
	m, fader := memoryOf(f, b), parameter(f, "channel.3.fader")
	holds := scenes.Values{fader: profiles.Number(-6), parameter(f, "channel.3.label"): profiles.Word("poet")}
	m.Hold(holds)
	m.Put("lectern", "poet", "opening")
	m.Unfinished["lectern"] = true
	undo := &scenes.Reading{Desk: v.Desk.Profile.Name, Taken: evening, Values: holds}
	m.Step(scenes.Running{Order: "winter-talks", Number: 2, Title: "The poet", Since: evening}, undo)
	for _, err := range []error{m.PushUndo(undo), m.Save(evening), m.SaveAgreed(holds, evening)} {
		if err != nil {
			f.Fatal(err)
		}
	}
	l, err := b.Lock(f.Context(), v, "swap lectern poet", nil)
	if err != nil {
		f.Fatal(err)
	}
	l.Release()
	for _, file := range memoryFiles(f, b) {
		text, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		texts = append(texts, text)
	}
	return texts
}

// memoryFiles are the files of what is remembered, all but what git ignores it by.
func memoryFiles(t testing.TB, b *scenes.Book) []string {
	t.Helper()
	var all []string
	for _, files := range []string{"net-loft/*.toml", "locks/*.toml"} {
		some, err := filepath.Glob(b.Path(".deskhand/" + files))
		if err != nil || len(some) < 2 {
			t.Fatalf("%s: %v, %v", files, some, err)
		}
		all = append(all, some...)
	}
	return all
}

// useMemory asks for all that is remembered, and sees to it that what is held comes back.
func useMemory(t *testing.T, b *scenes.Book, v *scenes.Venue) {
	b.Turn(v)
	m, err := b.Memory(v)
	if err != nil {
		return
	}
	for position := range m.On {
		_, _ = m.SceneOn(position)
	}
	_, _ = m.Agreed()
	_, _, _ = m.Undo()
	if at, err := m.UndoAt(profiles.Place{Part: profiles.Channel, Number: 3}); err == nil && at != nil {
		m.StepBack(at)
	}
	was := swapFile(t, b.Path(".deskhand/net-loft/held.toml"), m.Held.Text(v.Desk.Profile))
	again, err := b.Memory(v)
	if err != nil {
		t.Fatalf("what was written can't be read: %v", err)
	}
	swapFile(t, b.Path(".deskhand/net-loft/held.toml"), was)
	if !maps.EqualFunc(m.Held.Values, again.Held.Values, func(a, b profiles.Value) bool { return a == b || a.String() == b.String() }) {
		t.Fatalf("%v is held as %v when it was written", m.Held.Values, again.Held.Values)
	}
}
