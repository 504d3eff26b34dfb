package scenes_test

import (
	"strings"
	"testing"
	"testing/fstest"
	"time"
	"unicode"

	"deskhand/scenes"
)

// FuzzRunningOrder reads any text as a running order, checks it and gathers its sheet. Nothing
// panics, what is said of the file has its line and no control character, and what was read
// without a fault has what those who play it rely on.
func FuzzRunningOrder(f *testing.F) {
	seeds(f)
	f.Add(hutEvening)
	f.Add(loftOrder + item("a", "start = \"23:50\"\nlength = \"30m\"\nfade = \"2s\"\n", on("lectern", "poet", "open")) + item("b", "start = \"00:10\"\n", on("bench", "poet", "open")))
	f.Add("venue = \"net-loft\"\r\nscenes = [{ scene = \"opening\" }, { title = \"b\", positions.roving.open = true }]\r\n")
	hut := hutBook()
	delete(hut, "running-orders/evening.toml")
	whole := over(f, hut)
	f.Fuzz(func(t *testing.T, text string) {
		book := make(fstest.MapFS)
		for file, content := range whole {
			book[file] = content
		}
		const file = "running-orders/x.toml"
		book[file] = &fstest.MapFile{Data: []byte(text), Mode: 0o644}
		b, err := scenes.OpenFS(book, "")
		if err != nil {
			t.Fatal(err)
		}
		report := b.Check([]scenes.Named{{Kind: scenes.RunningOrders, Name: "x"}})
		for _, fault := range append(report.Faults, report.Warnings...) {
			if fault.File == file && (fault.Line < 1 || fault.Line > strings.Count(text, "\n")+1) {
				t.Errorf("no such line: %v", fault)
			}
			if strings.ContainsFunc(fault.Error(), unicode.IsControl) {
				t.Errorf("a control character: %q", fault.Error())
			}
		}
		o, err := b.RunningOrder("x")
		if err != nil {
			if len(report.Faults) == 0 {
				t.Errorf("check finds nothing, and reading %v", err)
			}
			return
		}
		isPlayable(t, b, o)
	})
}

// isPlayable checks what those rely on who play a running order or print its sheet.
func isPlayable(t *testing.T, b *scenes.Book, o *scenes.RunningOrder) {
	t.Helper()
	const day = 24 * time.Hour
	if o.Venue == "" || len(o.Items) == 0 {
		t.Fatalf("at %q, with %d scenes", o.Venue, len(o.Items))
	}
	for _, it := range o.Items {
		if it.Title == "" || it.Scene == nil || it.Scene.Venue != o.Venue {
			t.Errorf("line %d: %q, %+v", it.Line, it.Title, it.Scene)
		}
		if it.Length < 0 || it.Length > day || it.Start != nil && (*it.Start < 0 || *it.Start >= day) {
			t.Errorf("line %d: %v for %v", it.Line, it.Start, it.Length)
		}
		if s, err := b.SceneCalled(it.Scene.Name); err != nil || s == nil || s.File != it.Scene.File {
			t.Errorf("line %d: %q is not found again: %v", it.Line, it.Scene.Name, err)
		}
	}
	s, err := b.Sheet(o)
	if err != nil {
		return // a scene can't be had on the desk
	}
	for _, in := range s.Inputs {
		for i, turn := range in.Turns {
			if turn.First > turn.Last || turn.Last > len(o.Items) || i > 0 && turn.First != in.Turns[i-1].Last+1 {
				t.Errorf("%s: %+v", in.Position.Name, in.Turns)
			}
		}
	}
	for i, strip := range s.Strips {
		if strip.First > strip.Last || i > 0 && strip.First != s.Strips[i-1].Last+1 || len(strip.Labels) != len(s.Strips[0].Labels) {
			t.Errorf("strips %+v", s.Strips)
		}
	}
}
