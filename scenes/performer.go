package scenes

import (
	"crypto/sha256"

	"deskhand/profiles/source"
)

// Performer is a person or act and the strip that suits them.
type Performer struct {
	Name  string
	Title string
	File  string
	// Dialled is how the gain of Strip was dialled in, nil where it isn't said.
	Dialled *Dialled
	// Voice is how loud they speak, nil where it isn't said.
	Voice *Voice
	Strip Strip
	// Here is what is different at a venue, by its name.
	Here map[string]Here
	// sum tells the text that it was read from.
	sum [sha256.Size]byte
}

// Here is what a performer needs at one venue only.
type Here struct {
	Dialled *Dialled
	Strip   Strip
	line    int
}

// Performer reads a performer's file.
func (b *Book) Performer(name string) (*Performer, error) {
	d, err := b.document(Performers, name)
	if err != nil {
		return nil, err
	}
	return b.readPerformer(d, name)
}

func (b *Book) readPerformer(d *source.Document, name string) (*Performer, error) {
	words := b.words()
	root := d.Root()
	p := &Performer{Name: name, File: d.File(), Here: make(map[string]Here), sum: sha256.Sum256(d.Text())}
	p.Title = readLine(root, "title")
	p.Dialled = b.readDialled(root)
	p.Voice = readVoice(root)
	p.Strip = stripReader{file: p.File, layer: PerformerLayer, words: words}.read(root)
	if at, ok := optional(root, "at"); ok {
		for _, venue := range at.Keys() {
			if t, ok := at.Table(venue); ok {
				strip := stripReader{file: p.File, layer: PerformerHereLayer, words: words, venue: venue}.read(t)
				p.Here[venue] = Here{b.readDialled(t), strip, t.Line()}
			}
		}
	}
	return whole(p, d)
}

// whole gives what was read out of a document, or its faults.
func whole[T any](read *T, d *source.Document) (*T, error) {
	if err := d.Faults().Err(); err != nil {
		return nil, err
	}
	return read, nil
}
