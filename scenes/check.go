package scenes

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"deskhand/profiles/source"
)

// Report is what Check found: faults, which must be mended, and warnings, which a
// person should know.
type Report struct {
	Files    int
	Faults   source.Faults
	Warnings source.Faults
}

// Check reads the files named, or the whole book, and holds them against each other
// and against the desks of the venues. What is said once is not said again.
func (b *Book) Check(files []Named) *Report {
	c := newChecker(b.onShelf(), len(files) > 0)
	if len(files) == 0 {
		files = c.wholeBook()
	}
	c.beside(files)
	c.report.Faults = c.report.Faults.Sorted()
	c.report.Warnings = c.report.Warnings.Sorted()
	return c.report
}

type checker struct {
	book *Book
	// isNamed says that files were named, and is not set for the whole book.
	isNamed bool
	report  *Report
	said    map[source.Fault]bool
	stages  []stage // the venues that are without fault, once asked for
	loaded  bool
	trial   builder // of strips that nobody keeps
}

func newChecker(b *Book, isNamed bool) *checker {
	return &checker{book: b, report: &Report{}, said: make(map[source.Fault]bool), isNamed: isNamed}
}

// add takes an error apart into faults; one without a line is of the whole file.
func (c *checker) add(file string, err error) {
	var faults source.Faults
	switch {
	case err == nil:
	case errors.As(err, &faults):
		c.report.Faults = append(c.report.Faults, c.unsaid(faults)...)
	default:
		c.report.Faults = append(c.report.Faults, c.unsaid(source.Faults{{File: file, What: strings.TrimPrefix(err.Error(), file+": ")}})...)
	}
}

func (c *checker) warn(warnings source.Faults) {
	c.report.Warnings = append(c.report.Warnings, c.unsaid(warnings)...)
}

func (c *checker) unsaid(faults source.Faults) source.Faults {
	return slices.DeleteFunc(slices.Clone(faults), func(f *source.Fault) bool {
		said := c.said[*f]
		c.said[*f] = true
		return said
	})
}

// wholeBook checks book.toml and the folders, and lists the files in them.
func (c *checker) wholeBook() []Named {
	c.report.Files++ // book.toml, without which there would be no book
	c.add(SettingsFile, c.book.faults.Err())
	if c.book.venue != "" && !c.book.has(Named{Venues, c.book.venue}) {
		c.add(SettingsFile, source.Faults{c.book.noUsualVenue()})
	}
	c.strays()
	var all []Named
	for _, kind := range kinds {
		c.folder(kind)
		for _, name := range c.book.Names(kind) {
			all = append(all, Named{kind, name})
		}
	}
	return all
}

// strays warns of folders and files beside the book's own that someone may take for
// read.
func (c *checker) strays() {
	entries, _ := fs.ReadDir(c.book.files, ".")
	folders := make([]string, len(kinds))
	for i, kind := range kinds {
		folders[i] = string(kind)
	}
	for _, e := range entries {
		name := e.Name()
		near, isNear := source.Nearest(name, folders)
		switch {
		case e.IsDir() && isNear && near != name:
			c.warn(source.Faults{{File: c.book.label(name), What: fmt.Sprintf("nothing reads this folder: did you mean %q?", near)}})
		case !e.IsDir() && strings.HasSuffix(name, ".toml") && name != SettingsFile:
			c.warn(source.Faults{{File: c.book.label(name), What: "nothing reads this file here: it belongs into " + strings.Join(folders, ", ") + " or out of the book"}})
		}
	}
}

// folder finds files of a kind that can't be read as such.
func (c *checker) folder(kind Kind) {
	entries, err := fs.ReadDir(c.book.files, string(kind))
	if err != nil {
		c.add(string(kind), c.book.Unlisted(kind))
	}
	for _, e := range entries {
		name, isTOML := strings.CutSuffix(e.Name(), ".toml")
		if !isTOML || strings.HasPrefix(name, ".") {
			continue
		}
		if err := checkName(name); err != nil {
			c.add(string(kind), err)
		} else if e.IsDir() {
			c.add(File(kind, name), errors.New("this is a folder and no file"))
		}
	}
}

func (c *checker) file(n Named) {
	var err error
	switch n.Kind {
	case Profiles:
		_, err = c.book.Profile(n.Name)
	case Venues:
		err = c.venue(n.Name)
	case Performers:
		err = c.performer(n.Name)
	case Scenes:
		err = c.scene(n.Name)
	case RunningOrders:
		err = c.runningOrder(n.Name)
	case Readings:
		_, err = c.book.Reading(n.Name)
	}
	c.add(c.book.label(n.File()), err)
}

// venue checks a venue, and each position's strip on its desk without a performer.
func (c *checker) venue(name string) error {
	v, err := c.book.Venue(name)
	if err != nil {
		return err
	}
	for i := range v.Positions {
		r, err := v.Resolve(Cast{Position: &v.Positions[i]})
		if err != nil {
			c.add(v.File, err)
			continue
		}
		c.warn(r.Warnings)
	}
	c.sharedPhantom(v)
	c.missingDistances(v)
	c.missingUsual(v)
	return nil
}

// missingUsual warns of a limit on the rise that says nothing of what comes up from silence.
func (c *checker) missingUsual(v *Venue) {
	if v.Limits.Rise != nil && v.Limits.Usual == nil {
		c.warn(source.Faults{Origin{PositionLayer, v.File, v.Limits.Lines["rise"]}.fault(
			"what comes up from silence can get as loud as it will: write beside the limit what is usual = DB (gain, EQ, make-up and fader of an open position, added up)")})
	}
}

// scene checks a scene whole: who is on which position, on the venue's desk.
func (c *checker) scene(name string) error {
	s, err := c.book.Scene(name)
	if err != nil {
		return err
	}
	_, resolved, err := c.book.ResolveScene(s)
	for _, r := range resolved {
		c.warn(r.Warnings)
	}
	return err
}
