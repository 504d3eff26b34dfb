package scenes

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// memoryDir is where the tool remembers what it did, in the book and out of git.
const memoryDir = ".deskhand"

// keptUndos is how many recalls can be undone.
const keptUndos = 50

// Memory is what the tool remembers of a venue's desk between two commands: what
// the desk held when we last looked, who is on which position, what each recall
// changed, and a recall that did not end. Several processes share it: who writes it
// holds the [Lock] and has read it anew since taking that.
type Memory struct {
	book  *Book
	venue *Venue
	dir   string
	// Held is what the desk was last known to hold.
	Held *Reading
	// heldSum tells the text of it that was last read or written.
	heldSum [sha256.Size]byte
	// On is who is on which position.
	On map[string]string
	// Scenes are by which scene they are on it, where it was one.
	Scenes map[string]string
	// Unfinished are the positions that a recall muted and did not bring to its
	// end, and whether each was open before.
	Unfinished map[string]bool
	// Running is where a running order is; its Order is "" where none runs.
	Running Running
}

// Memory reads what is remembered of a venue's desk. Nothing yet is no error.
func (b *Book) Memory(v *Venue) (*Memory, error) {
	m := &Memory{book: b, venue: v, dir: path.Join(memoryDir, v.Name), On: make(map[string]string), Scenes: make(map[string]string), Unfinished: make(map[string]bool)}
	m.Held = &Reading{Desk: v.Desk.Profile.Name, Values: make(Values)}
	if r, sum, err := m.reading(heldFile); err == nil && r.Desk == v.Desk.Profile.Name {
		m.Held, m.heldSum = r, sum
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, m.broken(err)
	}
	d, err := b.parse(path.Join(m.dir, "state.toml"))
	if errors.Is(err, fs.ErrNotExist) {
		return m, nil
	}
	if err != nil {
		return nil, m.broken(err)
	}
	m.readState(d.Root())
	if err := d.Faults().Err(); err != nil {
		return nil, m.broken(err)
	}
	return m, nil
}

func (m *Memory) broken(err error) error {
	return fmt.Errorf("what is remembered of the desk can't be read (remove %s to forget it): %w", m.book.Path(m.dir), err)
}

func (m *Memory) readState(root *source.Table) {
	readLines(root, "on", m.On)
	readLines(root, "scene", m.Scenes)
	if t, ok := optional(root, "running"); ok {
		m.Running.Order, _ = t.Text("order")
		m.Running.Number, _ = t.Integer("number")
		m.Running.Title, _ = t.Text("title")
		m.Running.Since, _ = t.Time("since")
		m.Running.Came = readCame(t)
	}
	if t, ok := optional(root, "unfinished"); ok {
		for _, position := range t.Keys() {
			m.Unfinished[position], _ = t.Bool(position)
		}
	}
}

// reading reads one of the memory's files, and gives the sum of its text.
func (m *Memory) reading(file string) (r *Reading, sum [sha256.Size]byte, err error) {
	d, err := m.book.parse(path.Join(m.dir, file))
	if err != nil {
		return nil, sum, err
	}
	r, err = readReading(d, m.profile)
	return r, sha256.Sum256(d.Text()), err
}

// profile is the desk's, which is at hand, or another one's from the book.
func (m *Memory) profile(name string) (*profiles.Profile, error) {
	if p := m.venue.Desk.Profile; p.Name == name {
		return p, nil
	}
	return m.book.Profile(name)
}

// Hold notes values as held. Save writes them.
func (m *Memory) Hold(values Values) { maps.Copy(m.Held.Values, values) }

// Doubt notes that it isn't known what the parameters hold.
func (m *Memory) Doubt(parameters ...profiles.Parameter) {
	for _, q := range parameters {
		delete(m.Held.Values, q)
	}
}

// Save writes what is held as of a time, who is on which position, and what is
// unfinished. What is held comes first: where the power fails between the two files, a
// position that was finished still counts as unfinished, and never the other way round.
func (m *Memory) Save(at time.Time) error {
	m.Held.Taken = at
	text := m.Held.Text(m.venue.Desk.Profile)
	if err := m.write(heldFile, text); err != nil {
		return err
	}
	m.heldSum = sha256.Sum256(text)
	var b bytes.Buffer
	writeLines(&b, "on", m.On)
	writeLines(&b, "scene", m.Scenes)
	b.WriteString("\n[unfinished]\n")
	for _, position := range slices.Sorted(maps.Keys(m.Unfinished)) {
		fmt.Fprintf(&b, "%s = %t\n", source.Key(position), m.Unfinished[position])
	}
	writeRunning(&b, m.Running)
	return m.write("state.toml", b.Bytes())
}

// Reload reads anew what is remembered, since other processes write it, too: see [Lock].
// What was not saved is forgotten. With an error the memory stays as it was.
func (m *Memory) Reload() error {
	now, err := m.book.Memory(m.venue)
	if err != nil {
		return err
	}
	*m = *now
	return nil
}

// write puts a file of the memory in place.
func (m *Memory) write(file string, text []byte) error {
	if err := m.book.hideMemory(); err != nil {
		return fmt.Errorf("remember: %w", err)
	}
	if err := m.book.overwrite(path.Join(m.dir, file), text); err != nil {
		return fmt.Errorf("remember: %w", err)
	}
	return nil
}

// Put notes who is on a position, and by which scene, "" for none.
func (m *Memory) Put(position, performer, scene string) {
	m.On[position] = performer
	delete(m.Scenes, position)
	if scene != "" {
		m.Scenes[position] = scene
	}
}

// Written is when the memory was last written, by whichever command; the zero time if
// it never was.
func (m *Memory) Written() time.Time {
	info, err := os.Stat(m.book.Path(path.Join(m.dir, "state.toml")))
	if err != nil {
		return time.Time{}
	}
	return info.ModTime()
}

// The files of two readings: what the desk was last known to hold, and what the files and it last agreed on.
const (
	heldFile   = "held.toml"
	agreedFile = "agreed.toml"
)

// Agreed is what the files and the desk last agreed on: what the desk was last known to
// hold, until that was noted apart, and where it was noted since. No clock tells which of
// the two is the later, as clocks are set: what was agreed on names what was held then.
func (m *Memory) Agreed() (Values, error) {
	r, _, err := m.reading(agreedFile)
	switch {
	case errors.Is(err, fs.ErrNotExist) || err == nil && r.Desk != m.venue.Desk.Profile.Name:
		return maps.Clone(m.Held.Values), nil
	case err != nil:
		return nil, m.broken(err)
	}
	if r.Note != m.heldNote() {
		maps.Copy(r.Values, m.Held.Values)
	}
	return r.Values, nil
}

// SaveAgreed notes what the files and the desk agree on as of a time.
func (m *Memory) SaveAgreed(values Values, at time.Time) error {
	r := Reading{Desk: m.venue.Desk.Profile.Name, Taken: at, Values: values, Note: m.heldNote()}
	return m.write(agreedFile, r.Text(m.venue.Desk.Profile))
}

// heldNote names what was held when it was last read or written.
func (m *Memory) heldNote() string { return fmt.Sprintf("beside %s %x", heldFile, m.heldSum) }

// SceneOn is the scene by which somebody is on a position; nil where it was none, or is
// no longer in the book.
func (m *Memory) SceneOn(position string) (*Scene, error) {
	name := m.Scenes[position]
	if order, _, inLine := strings.Cut(name, inLineMark); inLine && !m.book.has(Named{RunningOrders, order}) {
		return nil, nil
	} else if !inLine && !m.book.has(Named{Scenes, name}) {
		return nil, nil
	}
	return m.book.SceneCalled(name)
}

// hideMemory gives the folder of what is remembered a .gitignore of its own, so that git
// never sees it.
func (b *Book) hideMemory() error {
	dir, err := b.ownFolder(memoryDir)
	if err != nil {
		return err
	}
	ignore := filepath.Join(dir, ".gitignore")
	if _, err := os.Lstat(ignore); !errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	workshop, err := b.ownFolder(workshopDir)
	if err != nil {
		return err
	}
	if err := source.ReplaceFrom(workshop, ignore, nil, []byte("*\n")); err != nil && !errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s can't be written: %w", path.Join(memoryDir, ".gitignore"), err)
	}
	return nil
}

// PushUndo keeps what a recall is about to change, before it is sent.
func (m *Memory) PushUndo(r *Reading) error {
	numbers, err := m.undos()
	if err != nil {
		return err
	}
	next := 1
	if len(numbers) > 0 {
		next = numbers[len(numbers)-1] + 1
	}
	if err := m.write(undoFile(next), r.Text(m.venue.Desk.Profile)); err != nil {
		return err
	}
	for _, old := range numbers[:max(len(numbers)-keptUndos+1, 0)] {
		_ = m.remove(undoFile(old)) // one too many kept does no harm
	}
	return nil
}

// Undo gives the newest undo, or nil if there is none, and a function that drops it.
func (m *Memory) Undo() (*Reading, func() error, error) {
	numbers, err := m.undos()
	if err != nil || len(numbers) == 0 {
		return nil, nil, err
	}
	file := undoFile(numbers[len(numbers)-1])
	r, _, err := m.reading(file)
	if err != nil {
		return nil, nil, m.broken(err)
	}
	r.undo = numbers[len(numbers)-1]
	return r, func() error { return m.remove(file) }, nil
}

// remove takes a file of the memory away.
func (m *Memory) remove(file string) error {
	at, err := m.book.own(path.Join(m.dir, file))
	if err != nil {
		return err
	}
	return os.Remove(at)
}

// UndoAt gives the newest undo that says something of a place, nil for none: what the place held
// before the last recall that changed it.
func (m *Memory) UndoAt(place profiles.Place) (*Reading, error) {
	numbers, err := m.undos()
	if err != nil {
		return nil, err
	}
	for _, number := range slices.Backward(numbers) {
		r, _, err := m.reading(undoFile(number))
		if err != nil {
			return nil, m.broken(err)
		}
		for q := range r.Values {
			if q.Place == place {
				return r, nil
			}
		}
	}
	return nil, nil
}

func undoFile(number int) string { return fmt.Sprintf("undo-%06d.toml", number) }

// undos lists the numbers of the undos there are, the newest last. What is called
// otherwise is none of ours.
func (m *Memory) undos() ([]int, error) {
	entries, err := os.ReadDir(m.book.Path(m.dir))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("undo: %w", err)
	}
	var numbers []int
	for _, e := range entries {
		figures := strings.TrimSuffix(strings.TrimPrefix(e.Name(), "undo-"), ".toml")
		if n, err := strconv.Atoi(figures); err == nil && e.Name() == undoFile(n) {
			numbers = append(numbers, n)
		}
	}
	slices.Sort(numbers)
	return numbers, nil
}
