package scenes

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
)

// band is a band of EQ that the room or the voice asks for.
type band struct {
	number int // as it is written
	slot   int // on the desk
	room   bool
	fields map[string]Entry // by field: on, kind, frequency, gain, q
}

// bandField takes the name of a band's setting apart: "eq.2.gain" is 2 and "gain".
func bandField(name string) (number int, field string, ok bool) {
	words := strings.Split(name, ".")
	if len(words) != 3 || words[0] != "eq" {
		return 0, "", false
	}
	number, err := strconv.Atoi(words[1])
	return number, words[2], err == nil
}

// bands adds up the room's bands, which the position's strip has, and the voice's,
// which the other layers have, value by value among themselves. Both apply, each in
// a band of the desk's own; the room's keep theirs, so that a swap leaves them
// alone. The desk's bands that then nobody uses are switched off, for otherwise the
// last voice's would stay.
func (b *builder) bands() {
	room := gatherBands(true, b.out.Position.Strip)
	voice := gatherBands(false, b.out.voice(b.venue.Name)...)
	used := slices.DeleteFunc(append(room, voice...), (*band).isOff)
	if len(room)+len(voice) == 0 {
		return
	}
	if len(used) > 0 {
		b.imply("eq.on", profiles.Switch(true), used[0].origin(), "a band is in use")
	}
	if !b.allot(used) {
		return
	}
	taken := make(map[int]bool)
	for _, one := range used {
		taken[one.slot] = true
		b.useBand(one)
	}
	for slot := 1; slot <= b.venue.Desk.Profile.Bands; slot++ {
		if !taken[slot] {
			b.freeBand(slot)
		}
	}
}

func gatherBands(room bool, strips ...Strip) []*band {
	var bands []*band
	for _, strip := range strips {
		for _, e := range strip {
			number, field, ok := bandField(e.Name)
			if !ok {
				continue
			}
			i := slices.IndexFunc(bands, func(o *band) bool { return o.number == number })
			if i < 0 {
				i = len(bands)
				bands = append(bands, &band{number: number, room: room, fields: make(map[string]Entry)})
			}
			bands[i].fields[field] = e
		}
	}
	slices.SortFunc(bands, func(x, y *band) int { return x.number - y.number })
	return bands
}

func (o *band) isOff() bool {
	on, isSwitch := o.fields["on"].Value.On()
	return isSwitch && !on
}

// origin is the first line that says something of the band.
func (o *band) origin() Origin {
	var first Origin
	for _, e := range o.fields {
		if first.Line == 0 || e.Origin.Layer > first.Layer || (e.Origin.Layer == first.Layer && e.Origin.Line < first.Line) {
			first = e.Origin
		}
	}
	return first
}

func (o *band) say() string {
	owner := "the voice's"
	if o.room {
		owner = "the room's"
	}
	return fmt.Sprintf("%s EQ %d (%s)", owner, o.number, o.origin())
}

// allot gives each band one of the desk's: the room's their own numbers, the voice's
// theirs where they are free, else the lowest that is.
func (b *builder) allot(used []*band) bool {
	desk := b.venue.Desk.Profile
	if len(used) > desk.Bands {
		var names []string
		for _, one := range used {
			names = append(names, one.say())
		}
		b.fault(used[len(used)-1].origin(), "%s has %d bands of EQ and %d are wanted: %s; switch one off with on = false",
			desk.Name, desk.Bands, len(used), strings.Join(names, ", "))
		return false
	}
	owners := make(map[int]*band)
	for _, one := range used { // the room's come first
		if owners[one.number] == nil && one.number >= 1 && one.number <= desk.Bands {
			owners[one.number], one.slot = one, one.number
		}
	}
	for _, one := range used {
		for slot := 1; one.slot == 0; slot++ {
			if owners[slot] == nil {
				owners[slot], one.slot = one, slot
			}
		}
	}
	return true
}

// useBand asks for a band's values in its slot, and for what they go without saying.
func (b *builder) useBand(o *band) {
	note := ""
	if o.slot != o.number {
		note = fmt.Sprintf("written as EQ %d", o.number)
	}
	for field, e := range o.fields {
		b.values[bandName(o.slot, field)] = Wanted{Asked: e.Value, Origin: e.Origin, Note: note, Written: e.Name, Room: o.room}
	}
	kind, said := o.fields["kind"].Value.Word()
	if !said {
		kind = "bell"
		b.implyOf(o, "kind", profiles.Word(kind), "a band is a bell unless it says otherwise")
	}
	b.implyOf(o, "on", profiles.Switch(true), "the band is in use")
	for _, field := range bandNeeds(kind) {
		if _, ok := o.fields[field]; !ok {
			b.fault(o.origin(), "EQ %d has no %s: a %s needs one", o.number, field, kind)
		}
	}
}

// bandNeeds lists the values without which a band of a kind means nothing.
func bandNeeds(kind string) []string {
	switch kind {
	case "bell":
		return []string{"frequency", "gain", "q"}
	case "low-shelf", "high-shelf":
		return []string{"frequency", "gain"}
	case "notch":
		return []string{"frequency", "q"}
	}
	return []string{"frequency"}
}

// freeBand switches a band of the desk off, or flattens it where it has no switch.
func (b *builder) freeBand(slot int) {
	const note = "neither the room nor the voice uses this band"
	from := Origin{File: b.venue.File, Line: b.out.Position.Line}
	if _, ok := b.control(bandName(slot, "on")); ok {
		b.imply(bandName(slot, "on"), profiles.Switch(false), from, note)
		return
	}
	b.imply(bandName(slot, "gain"), profiles.Number(0), from, note)
}

// imply asks for a value that no layer sets but that follows from one.
func (b *builder) imply(name string, v profiles.Value, from Origin, note string) {
	if _, set := b.values[name]; set {
		return
	}
	from.Layer = ImpliedLayer
	b.values[name] = Wanted{Asked: v, Origin: from, Note: note, Written: name}
}

// implyOf asks for a field of a band that follows from the others.
func (b *builder) implyOf(o *band, field string, v profiles.Value, note string) {
	name := bandName(o.slot, field)
	if _, set := b.values[name]; set {
		return
	}
	b.imply(name, v, o.origin(), note)
	w := b.values[name]
	w.Written, w.Room = bandName(o.number, field), o.room
	b.values[name] = w
}

func bandName(slot int, field string) string {
	return fmt.Sprintf("eq.%d.%s", slot, field)
}
