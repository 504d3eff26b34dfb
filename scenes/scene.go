package scenes

import (
	"deskhand/profiles/source"
)

// Scene is who is on which position in one session.
type Scene struct {
	Name  string
	Title string
	File  string
	// Venue is the venue's name.
	Venue     string
	Line      int // of Venue
	Fade      Fade
	Positions []ScenePosition
}

// ScenePosition is one position in a scene.
type ScenePosition struct {
	Position string
	// Scene is the scene's name, File its file.
	Scene, File string
	// Performer is who is on it; "" leaves the position without one.
	Performer string
	// Open says whether the position is to be open; nil leaves it as it was.
	Open  *bool
	Strip Strip
	// Lines of the position itself, of its performer and of open.
	Line, PerformerLine, OpenLine int
}

// Scene reads a scene's file.
func (b *Book) Scene(name string) (*Scene, error) {
	d, err := b.document(Scenes, name)
	if err != nil {
		return nil, err
	}
	return readScene(d, name, b.words())
}

func readScene(d *source.Document, name string, words *vocabulary) (*Scene, error) {
	root := d.Root()
	s := &Scene{Name: name, File: d.File(), Line: root.LineOf("venue")}
	s.Title = readLine(root, "title")
	s.Venue, _ = root.Text("venue")
	if !root.Has("venue") {
		root.Fault("", `the scene does not say where it is: write venue = "..."`)
	}
	s.Fade = readFade(root)
	s.readPositions(root, words)
	return whole(s, d)
}

// readPositions reads who is on which position.
func (s *Scene) readPositions(t *source.Table, words *vocabulary) {
	positions, ok := optional(t, "positions")
	if !ok {
		if !t.Has("positions") {
			t.Fault("", `the scene has nobody in it: write [positions.NAME] with performer = "..."`)
		}
		return
	}
	for _, position := range positions.Keys() {
		if in, ok := positions.Table(position); ok {
			s.Positions = append(s.Positions, s.readPosition(in, position, words))
		}
	}
}

func (s *Scene) readPosition(t *source.Table, name string, words *vocabulary) ScenePosition {
	p := ScenePosition{Position: name, Scene: s.Name, File: s.File, Line: t.Line(), PerformerLine: t.LineOf("performer"), OpenLine: t.LineOf("open")}
	p.Performer, _ = t.Text("performer")
	if open, ok := t.Bool("open"); ok {
		p.Open = &open
	}
	p.Strip = stripReader{file: s.File, layer: SceneLayer, words: words, venue: s.Venue}.read(t)
	return p
}

// On finds what the scene says of a position, or nil.
func (s *Scene) On(position string) *ScenePosition {
	for i := range s.Positions {
		if s.Positions[i].Position == position {
			return &s.Positions[i]
		}
	}
	return nil
}
