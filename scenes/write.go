package scenes

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"deskhand/profiles/source"
)

// KeepText gives a performer's file as it is and as it will be with the values kept. The error is
// [source.ErrChanged] where the file isn't as the performer was read from it: the values were judged
// by that one, and somebody may have set the same ones since.
func (b *Book) KeepText(performer *Performer, kept []Kept) (old, text []byte, err error) {
	d, err := b.document(Performers, performer.Name)
	if err != nil {
		return nil, nil, err
	}
	if sha256.Sum256(d.Text()) != performer.sum {
		return nil, nil, fmt.Errorf("%s: %w", d.File(), source.ErrChanged)
	}
	var edits []source.Edit
	for _, k := range kept {
		edits = append(edits, source.Edit{Path: k.Path, Value: k.To.Any()})
		if k.Dialled != nil {
			edits = append(edits,
				source.Edit{Path: []string{"dialled-in", "sensitivity"}, Value: k.Dialled.Sensitivity},
				source.Edit{Path: []string{"dialled-in", "distance"}, Value: k.Dialled.Distance})
		}
	}
	text, err = d.Apply(edits...)
	if err != nil {
		return nil, nil, fmt.Errorf("nothing was written: %w", err)
	}
	if err := b.checkPerformer(d.File(), performer.Name, text); err != nil {
		return nil, nil, fmt.Errorf("%s would not be right after that, so nothing was written: %w", d.File(), err)
	}
	return d.Text(), text, nil
}

// Wrote notes that we have put a text in place of the performer's file, which is then as it was read.
func (p *Performer) Wrote(text []byte) { p.sum = sha256.Sum256(text) }

func (b *Book) checkPerformer(file, name string, text []byte) error {
	d, err := source.Parse(file, text)
	if err != nil {
		return err
	}
	_, err = b.readPerformer(d, name)
	return err
}

// ErrReadOnly says that a book of a revision can't be written into.
var ErrReadOnly = errors.New("this is a book of the past")

// Write puts a file's text in place of the old, whole or not at all. It is an error
// if the file has changed meanwhile. A nil old makes a new file.
func (b *Book) Write(file string, old, text []byte) error {
	if b.Dir == "" {
		return fmt.Errorf("%s: %w: nothing can be written", b.label(file), ErrReadOnly)
	}
	at, err := b.place(file)
	if err != nil {
		return err
	}
	return b.replace(file, at, old, text)
}

// workshopDir is where a text is made ready before it is put in place of a file: what a process that is killed
// leaves there is in nobody's way, git's included.
const workshopDir = memoryDir + "/new"

// replace writes a file that is at a place.
func (b *Book) replace(file, at string, old, text []byte) error {
	if err := os.MkdirAll(filepath.Dir(at), 0o777); err != nil {
		return fmt.Errorf("%s can't be written: %w", file, source.Cause(err))
	}
	workshop, err := b.ownFolder(workshopDir)
	if err != nil || b.hideMemory() != nil { // git must not see it
		workshop = "" // then beside the file
	}
	err = source.ReplaceFrom(workshop, at, old, text)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, source.ErrChanged), errors.Is(err, fs.ErrExist):
		return fmt.Errorf("%s: %w", file, err)
	}
	return fmt.Errorf("%s can't be written: %w", file, err)
}

// overwriteTries is how often a file of the tool's own is written anew when another
// deskhand writes it at the same moment. The last one wins.
const overwriteTries = 5

// overwrite is Write for the tool's own files, whatever they hold now.
func (b *Book) overwrite(file string, text []byte) error {
	at, err := b.own(file)
	if err != nil {
		return err
	}
	for try := 1; ; try++ {
		old, err := source.ReadFile(at, MaxFile)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s can't be written: %w", file, err)
		}
		err = b.replace(file, at, old, text)
		clash := errors.Is(err, source.ErrChanged) || errors.Is(err, fs.ErrExist)
		if !clash || try == overwriteTries {
			return err
		}
	}
}
