package scenes

import (
	"cmp"
	"errors"
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

const (
	// mostScenes bounds a running order: it is more than a week of evenings has, and each is
	// gone through with all that the scenes before have left.
	mostScenes = 500
	// longestScene is longer than anybody stays on; a length beyond it is a slip.
	longestScene = 24 * time.Hour
)

// RunningOrder reads a running order, with the scenes that it names. The error is
// [source.Faults] where a file says something wrong.
func (b *Book) RunningOrder(name string) (*RunningOrder, error) {
	d, err := b.document(RunningOrders, name)
	if err != nil {
		return nil, err
	}
	root := d.Root()
	r := orderReader{book: b, words: b.words(), titles: make(map[string]int), told: make(map[string]bool),
		order: &RunningOrder{Name: name, File: d.File(), Line: root.LineOf("venue")}}
	r.order.Title = readLine(root, "title")
	r.readVenue(root)
	tables, ok := root.Tables("scenes")
	if !root.Has("scenes") || ok && len(tables) == 0 {
		root.Fault("", `the running order has no scene: write [[scenes]] with scene = "..."`)
	}
	if len(tables) > mostScenes {
		what := fmt.Sprintf("the running order has %d scenes, and %d are the most: make two of it", len(tables), mostScenes)
		return nil, source.Faults{{File: d.File(), Line: root.LineOf("scenes"), What: what}}
	}
	for _, t := range tables {
		r.order.Items = append(r.order.Items, r.readItem(t))
	}
	if err := append(d.Faults(), r.inScenes...).Err(); err != nil {
		return nil, err
	}
	return r.order, nil
}

// orderReader reads a running order, item by item.
type orderReader struct {
	book  *Book
	order *RunningOrder
	words *vocabulary
	// titles are those of the scenes in line so far, with the line of each.
	titles map[string]int
	// inScenes are the faults of the files of scenes, told of each once.
	inScenes source.Faults
	told     map[string]bool
}

// readVenue reads where the event is. Of a venue that isn't there nothing else is said: the
// order then has none.
func (r *orderReader) readVenue(root *source.Table) {
	name, ok := root.Text("venue")
	switch {
	case !root.Has("venue"):
		root.Fault("", `the running order does not say where it is: write venue = "..."`)
	case ok && !r.book.has(Named{Venues, name}):
		root.Fault("venue", "%s", r.book.noVenue(name))
	default:
		r.order.Venue = name
	}
}

func (r *orderReader) readItem(t *source.Table) Item {
	it := Item{Title: readLine(t, "title"), Notes: readNotes(t), Line: t.Line(), SceneLine: t.LineOf("scene")}
	it.Start = readTimeOfDay(t, "start")
	it.Length = readLength(t)
	it.Scene = r.readItemScene(t, it.Title)
	if t.Has("fade") || t.Has("fade-order") || it.Scene.File == r.order.File {
		it.Scene.Fade = readFade(t)
	}
	it.Title = cmp.Or(it.Title, it.Scene.Title, it.Scene.Name)
	return it
}

// readItemScene reads the scene of an item: the one of the book that it names, or the one
// that stands in it.
func (r *orderReader) readItemScene(t *source.Table, title string) *Scene {
	o := r.order
	here := &Scene{Name: o.Name + inLineMark + title, Title: title, File: o.File, Venue: o.Venue, Line: o.Line}
	name, named := t.Text("scene")
	inLine := t.Has("positions")
	switch {
	case named && inLine:
		t.Fault("scene", "the item names a scene and says who is where, too: keep one of them")
	case named:
		return r.readNamed(t, name, here)
	case t.Has("scene"): // and is no text, which is a fault already
	case !inLine:
		t.Fault("", `the item names no scene and has nobody in it: write scene = "...", or [scenes.positions.NAME] with performer = "..."`)
	default:
		r.readTitle(t, title)
		here.readPositions(t, r.words)
	}
	return here
}

// readNamed reads the scene that an item names; one that can't be had is a fault, and
// instead stands for it.
func (r *orderReader) readNamed(t *source.Table, name string, instead *Scene) *Scene {
	s, err := r.book.Scene(name)
	var faults source.Faults
	switch {
	case errors.As(err, &faults):
		if !r.told[name] {
			r.inScenes = append(r.inScenes, faults...)
		}
		r.told[name] = true
		return instead
	case err != nil:
		t.Fault("scene", "%s", err)
		return instead
	}
	if s.Venue != r.order.Venue && r.order.Venue != "" {
		t.Fault("scene", "the scene %q is at %q, and the running order at %q", name, s.Venue, r.order.Venue)
	}
	return s
}

// readTitle sees that a scene in line has a title, and one of its own: nobody could tell two
// apart later.
func (r *orderReader) readTitle(t *source.Table, title string) {
	if title == "" {
		if text, _ := t.Value("title"); text == nil || text == "" { // otherwise it is a fault already
			t.Fault("title", `the item needs a title, as it names no scene: write title = "..."`)
		}
		return
	}
	if line, twice := r.titles[title]; twice {
		t.Fault("", "the scene of line %d is called %q, too: give it another title", line, title)
		return
	}
	r.titles[title] = t.Line()
}

// readLength reads how long a scene is planned to take, 0 where that is not said.
func readLength(t *source.Table) time.Duration {
	length, ok := t.Duration("length")
	switch {
	case !ok:
	case length <= 0:
		t.Fault("length", `a scene takes some time: write length = "25m", or leave it out`)
	case length > longestScene:
		t.Fault("length", `a scene of more than 24 hours can't be meant: write length = "25m", or leave it out`)
	default:
		return length
	}
	return 0
}

// readNotes reads what the operator is to know. It may have several lines, in a file of any
// system, and be indented with tabs.
func readNotes(t *source.Table) string {
	text, _ := t.Text("notes")
	text = strings.NewReplacer("\r\n", "\n", "\t", " ").Replace(text)
	if strings.ContainsFunc(text, func(r rune) bool { return r != '\n' && source.IsUnseen(r) }) {
		t.Fault("notes", "notes: there is a control character in it")
		return ""
	}
	return strings.TrimSpace(text)
}

// readTimeOfDay reads a time such as "19:30" as the time since midnight.
func readTimeOfDay(t *source.Table, key string) *time.Duration {
	if value, _ := t.Value(key); isTime(value) {
		t.Fault(key, `%s: write the time of day in quotes, as "19:30"`, key)
		return nil
	}
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

// isTime reports whether a value is a date or a time as TOML has them.
func isTime(value any) bool {
	_, is := value.(time.Time)
	return is
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
