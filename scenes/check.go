package scenes

import (
	"errors"
	"fmt"
	"slices"

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
// and against the desks of the venues.
func (b *Book) Check(files []Named) *Report {
	c := checker{book: b, report: &Report{}, words: b.words()}
	if len(files) == 0 {
		files = b.all()
		c.report.Files++ // book.toml, without which there would be no book
		c.usualVenue()
	}
	for _, n := range files {
		c.report.Files++
		c.file(n)
	}
	c.report.Faults = c.report.Faults.Sorted()
	c.report.Warnings = c.report.Warnings.Sorted()
	return c.report
}

func (b *Book) all() []Named {
	var all []Named
	for _, kind := range kinds {
		for _, name := range b.Names(kind) {
			all = append(all, Named{kind, name})
		}
	}
	return all
}

type checker struct {
	book   *Book
	report *Report
	words  *vocabulary
	venues []*Venue // those that are without fault, once asked for
	loaded bool
}

// add takes an error apart into faults; one without a line is of the whole file.
func (c *checker) add(file string, err error) {
	var faults source.Faults
	switch {
	case err == nil:
	case errors.As(err, &faults):
		c.report.Faults = append(c.report.Faults, faults...)
	default:
		c.report.Faults = append(c.report.Faults, &source.Fault{File: file, What: err.Error()})
	}
}

func (c *checker) usualVenue() {
	if c.book.venue != "" && !c.book.has(Named{Venues, c.book.venue}) {
		c.add(settingsFile, fmt.Errorf("there is no venue %q in the book%s", c.book.venue, source.DidYouMean(c.book.venue, c.book.Names(Venues))))
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
	case Readings:
		_, err = c.book.Reading(n.Name)
	}
	c.add(n.File(), err)
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
		c.report.Warnings = append(c.report.Warnings, r.Warnings...)
	}
	return nil
}

// performer checks a performer's file, and its values against every venue's desk.
func (c *checker) performer(name string) error {
	d, err := c.book.document(Performers, name)
	if err != nil {
		return err
	}
	p, err := readPerformer(d, name, c.words)
	if err != nil {
		return err
	}
	for venue, here := range p.Here {
		if !c.book.has(Named{Venues, venue}) {
			c.report.Faults = append(c.report.Faults, &source.Fault{File: p.File, Line: here.line,
				What: fmt.Sprintf("there is no venue %q in the book%s", venue, source.DidYouMean(venue, c.book.Names(Venues)))})
		}
	}
	if e, ok := p.Strip.find("input.gain"); ok && p.Dialled == nil {
		c.report.Warnings = append(c.report.Warnings, e.Origin.fault("the gain can't be carried over to another microphone: write [dialled-in] with sensitivity and distance"))
	}
	c.onDesks(p)
	return nil
}

// onDesks finds values of a performer that a venue's desk can't take, wherever the
// performer would stand. What no desk takes is a fault; what only some don't take is
// a warning, for the performer may never go there.
func (c *checker) onDesks(p *Performer) {
	var found source.Faults
	refused := 0
	for _, v := range c.allVenues() {
		nowhere := Position{Name: "any", Channel: 1}
		_, err := v.Resolve(Cast{Position: &nowhere, Performer: p})
		var faults source.Faults
		if !errors.As(err, &faults) {
			continue
		}
		refused++
		for _, f := range faults {
			found = append(found, &source.Fault{File: f.File, Line: f.Line, What: f.What + " (at " + v.Name + ")"})
		}
	}
	if refused > 0 && refused == len(c.venues) {
		c.report.Faults = append(c.report.Faults, found...)
		return
	}
	c.report.Warnings = append(c.report.Warnings, found...)
}

// allVenues reads the venues once; a faulty one is told as a file of its own.
func (c *checker) allVenues() []*Venue {
	if !c.loaded {
		c.loaded = true
		for _, name := range c.book.Names(Venues) {
			if v, err := c.book.Venue(name); err == nil {
				c.venues = append(c.venues, v)
			}
		}
	}
	return c.venues
}

// scene checks a scene whole: who is on which position, on the venue's desk.
func (c *checker) scene(name string) error {
	s, err := c.book.Scene(name)
	if err != nil {
		return err
	}
	if !c.book.has(Named{Venues, s.Venue}) {
		return source.Faults{{File: s.File, Line: s.Line, What: fmt.Sprintf("there is no venue %q in the book%s", s.Venue, source.DidYouMean(s.Venue, c.book.Names(Venues)))}}
	}
	if !slices.ContainsFunc(c.allVenues(), func(v *Venue) bool { return v.Name == s.Venue }) {
		return nil // the venue's own faults come first
	}
	_, resolved, err := c.book.ResolveScene(s)
	for _, r := range resolved {
		for _, w := range r.Warnings {
			if !slices.ContainsFunc(c.report.Warnings, func(o *source.Fault) bool { return *o == *w }) {
				c.report.Warnings = append(c.report.Warnings, w)
			}
		}
	}
	return err
}
