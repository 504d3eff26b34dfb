package scenes

import (
	"fmt"
	"strings"
	"time"

	"deskhand/profiles/source"
)

// RunningOrder is the scenes of an event, in order.
type RunningOrder struct {
	Name  string
	Title string
	File  string
	// Venue is the venue's name; all scenes are there.
	Venue string
	Line  int // of Venue
	Items []Item
}

// Item is one scene of a running order. A position that it doesn't speak of stays as the
// scenes before have left it.
type Item struct {
	// Title is what the operator reads: the item's own, or else the scene's.
	Title string
	// Scene is who is where, and how it fades: as the item says, or else the scene's file. It
	// is the item's own: a file's scene is read for each.
	Scene *Scene
	// Start is when it is planned to begin, as the time since midnight; nil where it is
	// not. Length is how long it is planned to take, 0 where it is not.
	Start  *time.Duration
	Length time.Duration
	// Notes are for the operator.
	Notes string
	// Line is where the item begins, SceneLine where its scene is named.
	Line, SceneLine int
}

// inLineMark joins the names of a running order and of a scene that stands in it. No name
// of a file has it.
const inLineMark = ": "

// RunningOrder reads a running order, with the scenes that it names. The error is
// [source.Faults] where a file says something wrong.
func (b *Book) RunningOrder(name string) (*RunningOrder, error) {
	d, err := b.document(RunningOrders, name)
	if err != nil {
		return nil, err
	}
	root := d.Root()
	o := &RunningOrder{Name: name, File: d.File(), Line: root.LineOf("venue")}
	o.Title = readLine(root, "title")
	o.Venue, _ = root.Text("venue")
	if !root.Has("venue") {
		root.Fault("", `the running order does not say where it is: write venue = "..."`)
	}
	tables, ok := root.Tables("scenes")
	if !root.Has("scenes") || ok && len(tables) == 0 {
		root.Fault("", `the running order has no scene: write [[scenes]] with scene = "..."`)
	}
	words := b.words()
	for _, t := range tables {
		o.Items = append(o.Items, b.readItem(t, o, words))
	}
	o.refuseDoubles(d)
	return whole(o, d)
}

func (b *Book) readItem(t *source.Table, o *RunningOrder, words *vocabulary) Item {
	it := Item{Title: readLine(t, "title"), Notes: readNotes(t), Line: t.Line(), SceneLine: t.LineOf("scene")}
	it.Start = readTimeOfDay(t, "start")
	if length, ok := t.Duration("length"); ok {
		if it.Length = length; length <= 0 {
			t.Fault("length", `a scene takes some time: write length = "25m", or leave it out`)
		}
	}
	it.Scene = b.readItemScene(t, o, it.Title, words)
	if t.Has("fade") || t.Has("fade-order") || it.Scene.File == o.File {
		it.Scene.Fade = readFade(t)
	}
	if it.Title == "" {
		it.Title = it.Scene.Title
	}
	if it.Title == "" {
		it.Title = it.Scene.Name
	}
	return it
}

// readItemScene reads the scene of an item: the one of the book that it names, or the one
// that stands in it.
func (b *Book) readItemScene(t *source.Table, o *RunningOrder, title string, words *vocabulary) *Scene {
	here := &Scene{Name: o.Name + inLineMark + title, Title: title, File: o.File, Venue: o.Venue, Line: o.Line}
	name, named := t.Text("scene")
	inLine := t.Has("positions")
	switch {
	case named && inLine:
		t.Fault("scene", "the item names a scene and says who is where, too: keep one of them")
	case named:
		s, err := b.Scene(name)
		if err != nil {
			t.Fault("scene", "%s", firstOf(err))
			return here
		}
		if s.Venue != o.Venue && o.Venue != "" {
			t.Fault("scene", "the scene %q is at %q, and the running order at %q", name, s.Venue, o.Venue)
		}
		return s
	case t.Has("scene"): // and is no text, which is a fault already
	case title == "":
		t.Fault("", `the item needs a title, as it names no scene: write title = "..."`)
		if inLine {
			here.readPositions(t, words)
		}
	default:
		here.readPositions(t, words)
	}
	return here
}

// refuseDoubles finds two scenes in line under one title: nobody could tell them apart
// later.
func (o *RunningOrder) refuseDoubles(d *source.Document) {
	first := make(map[string]int)
	for _, it := range o.Items {
		if it.Scene.File != o.File {
			continue
		}
		if line, twice := first[it.Scene.Name]; twice {
			d.AddFault(it.Line, "the scene of line %d is called %q, too: give it another title", line, it.Title)
			continue
		}
		first[it.Scene.Name] = it.Line
	}
}

// readNotes reads what the operator is to know. It may have several lines.
func readNotes(t *source.Table) string {
	text, _ := t.Text("notes")
	if strings.ContainsFunc(text, func(r rune) bool { return r != '\n' && isControl(r) }) {
		t.Fault("notes", "notes: there is a control character in it")
		return ""
	}
	return strings.TrimSpace(text)
}

// readTimeOfDay reads a time such as "19:30" as the time since midnight.
func readTimeOfDay(t *source.Table, key string) *time.Duration {
	text, ok := t.Text(key)
	if !ok {
		return nil
	}
	at, err := time.Parse("15:04", text)
	if err != nil {
		t.Fault(key, `%q is no time of day: write hours and minutes, as "19:30"`, text)
		return nil
	}
	since := time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute
	return &since
}

// SceneCalled reads a scene by the name that it is remembered under: that of a file, or of
// one that stands in a running order. It is nil where the running order has no such scene
// any more.
func (b *Book) SceneCalled(name string) (*Scene, error) {
	order, title, inLine := strings.Cut(name, inLineMark)
	if !inLine {
		return b.Scene(name)
	}
	o, err := b.RunningOrder(order)
	if err != nil {
		return nil, err
	}
	for _, it := range o.Items {
		if it.Scene.File == o.File && it.Title == title {
			return it.Scene, nil
		}
	}
	return nil, nil
}

// IsOfScene reports whether a file of the book is the one that a scene stands in, by the
// name that it is remembered under.
func IsOfScene(file, name string) bool {
	order, _, inLine := strings.Cut(name, inLineMark)
	if inLine {
		return file == File(RunningOrders, order)
	}
	return file == File(Scenes, name)
}

// Clock says a time since midnight as "19:30".
func Clock(sinceMidnight time.Duration) string {
	minutes := int(sinceMidnight / time.Minute)
	return fmt.Sprintf("%02d:%02d", minutes/60%24, minutes%60)
}
