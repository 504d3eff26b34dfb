package scenes

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// stage is a venue on which performers are tried.
type stage struct {
	venue *Venue
	// rooms are its positions, one of each that ask for the same of the EQ.
	rooms []*Position
}

// allStages reads the venues once; a faulty one is told as a file of its own.
func (c *checker) allStages() []stage {
	if c.loaded {
		return c.stages
	}
	c.loaded = true
	for _, name := range c.book.Names(Venues) {
		if v, err := c.book.Venue(name); err == nil {
			c.stages = append(c.stages, stage{v, distinct(v)})
		}
	}
	return c.stages
}

// performer checks a performer's file, and its values against every venue's desk.
func (c *checker) performer(name string) error {
	p, err := c.book.Performer(name)
	if err != nil {
		return err
	}
	for _, venue := range slices.Sorted(maps.Keys(p.Here)) {
		here := p.Here[venue]
		if !c.book.has(Named{Venues, venue}) {
			c.add(p.File, source.Faults{{File: p.File, Line: here.line,
				What: fmt.Sprintf("there is no venue %q in the book%s", venue, source.DidYouMean(venue, c.book.Names(Venues)))}})
		}
		c.dialled(p.File, here.Strip, here.Dialled)
	}
	c.dialled(p.File, p.Strip, p.Dialled)
	if e, ok := p.Strip.find(gainName); ok && p.Dialled == nil {
		c.warn(source.Faults{e.Origin.fault("the gain can't be carried over to another microphone: write [dialled-in] with sensitivity and distance")})
	}
	c.onDesks(p)
	c.inRooms(p)
	return nil
}

// onDesks finds values of a performer that a venue's desk can't take, wherever the
// performer would stand. What no desk takes is a fault; what only some don't take is
// a warning, for the performer may never go there.
func (c *checker) onDesks(p *Performer) {
	var found []source.Fault
	refusals := make(map[source.Fault][]string) // venues by fault
	for _, s := range c.allStages() {
		c.trial.start(s.venue, Cast{Position: anywhere(p, s.venue.Name), Performer: p})
		c.trial.build()
		for _, f := range c.trial.faults {
			if refusals[*f] == nil {
				found = append(found, *f)
			}
			refusals[*f] = append(refusals[*f], s.venue.Name)
		}
	}
	for _, f := range found {
		if venues := refusals[f]; len(venues) < len(c.stages) {
			f.What += " (at " + strings.Join(venues, ", ") + ")"
			c.warn(source.Faults{&f})
			continue
		}
		c.add(p.File, source.Faults{&f})
	}
}

// anywhere is a position where the gain comes out as it was dialled in.
func anywhere(p *Performer, venue string) *Position {
	at := &Position{Name: "any", Channel: 1}
	for _, d := range []*Dialled{p.Dialled, p.Here[venue].Dialled} {
		if d != nil {
			at.Microphone, at.Distance = &Microphone{Sensitivity: d.Sensitivity}, d.Distance
		}
	}
	return at
}

// inRooms warns where the bands of a room and of the performer are fitted to the desk and
// come out far from what is wanted, so that it shows before the evening on which the
// performer stands there. A fit takes some hundredths of a second, so that in a whole book
// only the venues count for which the performer's file has something of its own; scenes
// are checked as they are.
func (c *checker) inRooms(p *Performer) {
	for _, s := range c.allStages() {
		if _, known := p.Here[s.venue.Name]; !known && !c.isNamed {
			continue
		}
		for _, room := range s.rooms {
			if !c.asksForFit(s.venue, Cast{Position: room, Performer: p}) {
				continue
			}
			r, err := s.venue.Resolve(Cast{Position: room, Performer: p})
			if err != nil || r.EQ == nil {
				continue
			}
			for _, f := range r.EQ.warnings {
				c.warn(source.Faults{{File: f.File, Line: f.Line, What: fmt.Sprintf("on %s at %s: %s", room.Name, s.venue.Name, f.What)}})
			}
		}
	}
}

// asksForFit reports whether the desk doesn't have the bands of a strip as they are. Of most
// strips it does, and to see that takes far less than to build them.
func (c *checker) asksForFit(v *Venue, cast Cast) bool {
	c.trial.start(v, cast)
	_, wish, _ := c.trial.wishes()
	return wish.why != ""
}

// distinct are the positions of a venue, one of each that ask for the same of the EQ.
func distinct(v *Venue) []*Position {
	var all []*Position
	for i := range v.Positions {
		p := &v.Positions[i]
		if !slices.ContainsFunc(all, func(o *Position) bool { return v.asksSame(o, p) }) {
			all = append(all, p)
		}
	}
	return all
}

func (v *Venue) asksSame(a, b *Position) bool {
	return sameBands(a.Strip, b.Strip) && (!v.EQ.Microphones || a.Microphone == b.Microphone)
}

func sameBands(a, b Strip) bool {
	bands := func(s Strip) map[string]profiles.Value {
		values := make(map[string]profiles.Value)
		for _, e := range s {
			if _, _, isBand := bandField(e.Name); isBand {
				values[e.Name] = e.Value
			}
		}
		return values
	}
	return maps.Equal(bands(a), bands(b))
}

// start makes a builder ready to try another strip, in the room of the last one.
func (b *builder) start(v *Venue, c Cast) {
	values := b.values
	values.clear()
	*b = builder{venue: v, out: &Resolved{Cast: c}, values: values, onTrial: true}
}
