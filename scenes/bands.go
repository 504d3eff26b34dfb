package scenes

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes/tone"
)

// band is a band of EQ that the room or the voice asks for.
type band struct {
	number int // as it is written
	slot   int // on the desk, 0 for none yet
	room   bool
	fields []bandEntry
	// meant is what the file's Q means where that is other than here; note says so.
	meant *meantQ
	note  string
}

// bandEntry is what the layers say of a field of a band: on, kind, frequency, gain, q.
type bandEntry struct {
	field string
	*Entry
}

// entry gives what is said of a field.
func (o *band) entry(field string) (Entry, bool) {
	for i := range o.fields {
		if o.fields[i].field == field {
			return *o.fields[i].Entry, true
		}
	}
	return Entry{}, false
}

// value gives the value of a field, none where nothing is said of it.
func (o *band) value(field string) profiles.Value {
	e, _ := o.entry(field)
	return e.Value
}

func (o *band) set(field string, e *Entry) {
	for i := range o.fields {
		if o.fields[i].field == field {
			o.fields[i].Entry = e
			return
		}
	}
	o.fields = append(o.fields, bandEntry{field, e})
}

// bandField takes the name of a band's setting apart: "eq.2.gain" is 2 and "gain".
func bandField(name string) (number int, field string, ok bool) {
	rest, isBand := strings.CutPrefix(name, "eq.")
	word, field, isField := strings.Cut(rest, ".")
	if !isBand || !isField || strings.Contains(field, ".") {
		return 0, "", false
	}
	number, err := strconv.Atoi(word)
	return number, field, err == nil
}

func bandName(slot int, field string) string {
	return "eq." + strconv.Itoa(slot) + "." + field
}

// bands adds up the room's bands, which the position's strip has, and the voice's,
// which the other layers have, value by value among themselves. Both apply, each in
// a band of the desk's own. The desk's bands that then nobody uses are switched off,
// for otherwise the last voice's would stay.
func (b *builder) bands() {
	owners, wish, ok := b.wishes()
	if !ok {
		return
	}
	if len(wish.bands) > 0 || wish.lacks != nil {
		b.imply("eq.on", profiles.Switch(true), b.firstOrigin(wish), "a band is in use")
	}
	switch {
	case wish.why == "":
		b.takeBands(owners)
	case !b.onTrial:
		b.fitBands(wish)
	}
}

// wishes gives the bands that are asked for, and whose the desk's would be; the wish says
// why the desk doesn't have them as they are, if it doesn't. It reports false where there is
// nothing to be done about bands.
func (b *builder) wishes() (owners map[int]*band, wish eqWish, ok bool) {
	room := gatherBands(true, b.out.Position.Strip)
	voice := gatherBands(false, b.out.voice(b.venue.Name)...)
	all := slices.Concat(room, voice)
	lacks := b.responses()
	if len(all) == 0 && lacks == nil || b.leaveBands(all) {
		return nil, wish, false
	}
	b.warnOfOthers(room, voice)
	if !b.areWhole(all) {
		return nil, wish, false
	}
	for _, one := range all {
		b.translate(one)
	}
	inUse := slices.DeleteFunc(slices.Clone(all), (*band).isOff)
	owners, unsuited := b.allot(all)
	wish = eqWish{bands: inUse, lacks: lacks, why: b.misfit(inUse, unsuited)}
	if lacks != nil && wish.why == "" {
		wish.why = fmt.Sprintf("the response of %s is another than that of %s", b.out.Position.Microphone.Name, b.dialledUnder().microphone.Name)
	}
	return owners, wish, true
}

// takeBands takes the bands as they are, each in its slot, and frees the desk's others.
func (b *builder) takeBands(owners map[int]*band) {
	for slot := 1; slot <= b.venue.Desk.Profile.Bands; slot++ {
		switch one := owners[slot]; {
		case one == nil && !b.isSafeBand(slot):
			b.freeBand(slot)
		case one != nil && one.isOff():
			b.bandValues(one)
		case one != nil:
			b.useBand(one)
		}
	}
}

// leaveBands leaves all bands where the desk has no EQ at all.
func (b *builder) leaveBands(all []*band) bool {
	if b.venue.Desk.Profile.Bands > 0 {
		return false
	}
	for _, one := range all {
		for _, f := range slices.SortedFunc(slices.Values(one.fields), func(x, y bandEntry) int { return cmp.Compare(x.field, y.field) }) {
			b.out.Left = append(b.out.Left, Left{*f.Entry, b.venue.Desk.Profile.Name + " has no EQ here"})
		}
	}
	return true
}

func gatherBands(room bool, strips ...Strip) []*band {
	var bands []*band
	for _, strip := range strips {
		for n := range strip {
			number, field, ok := bandField(strip[n].Name)
			if !ok {
				continue
			}
			i, found := slices.BinarySearchFunc(bands, number, func(o *band, number int) int { return o.number - number })
			if !found {
				bands = slices.Insert(bands, i, &band{number: number, room: room, fields: make([]bandEntry, 0, 5)})
			}
			bands[i].set(field, &strip[n])
		}
	}
	return bands
}

func (o *band) isOff() bool {
	on, isSwitch := o.value("on").On()
	return isSwitch && !on
}

// origin is the first line of the lowest layer that says something of the band.
func (o *band) origin() Origin {
	first := slices.MinFunc(o.fields, func(x, y bandEntry) int {
		return cmp.Or(cmp.Compare(x.Origin.Layer, y.Origin.Layer), cmp.Compare(x.Origin.Line, y.Origin.Line))
	})
	return first.Origin
}

func (o *band) say() string {
	owner := "the voice's"
	if o.room {
		owner = "the room's"
	}
	return fmt.Sprintf("%s EQ %d (%s)", owner, o.number, o.origin())
}

// warnOfOthers warns of a layer that switches a band off which only the room has.
func (b *builder) warnOfOthers(room, voice []*band) {
	for _, one := range voice {
		i := slices.IndexFunc(room, func(o *band) bool { return o.number == one.number && !o.isOff() })
		if i >= 0 && one.isOff() && len(one.fields) == 1 {
			b.warn(one.origin(), "EQ %d is switched off, but it is no band of the voice: %s stays", one.number, room[i].say())
		}
	}
}

// allot gives each band one of the desk's, and returns them by slot. The room's come
// first and so never depend on the voice: a swap leaves them alone. Each keeps its
// number where that is free; of the others, the room's go to the top and the voice's to
// the bottom. A band that is off is dropped rather than moved. The first band that no
// band of the desk suits is returned, too.
func (b *builder) allot(all []*band) (owners map[int]*band, unsuited *band) {
	up, down := b.slots()
	owners = make(map[int]*band)
	unsuited = cmp.Or(b.allotOf(all, true, down, owners), b.allotOf(all, false, up, owners))
	for _, one := range all {
		if one.isOff() && slices.Contains(up, one.number) && owners[one.number] == nil && (one.room || !b.isSafeBand(one.number)) {
			one.slot, owners[one.number] = one.number, one
		}
	}
	return owners, unsuited
}

// allotOf gives the room's bands or the voice's their slots, in order of preference
// where they can't have their own, and returns the first that none is left for.
func (b *builder) allotOf(all []*band, room bool, slots []int, owners map[int]*band) (unsuited *band) {
	var without []*band
	for _, one := range all {
		switch {
		case one.room != room || one.isOff():
		case slices.Contains(slots, one.number) && owners[one.number] == nil && (room || !b.isSafeBand(one.number)) && b.suits(one, one.number):
			one.slot, owners[one.number] = one.number, one
		default:
			without = append(without, one)
		}
	}
	for _, one := range without {
		i := slices.IndexFunc(slots, func(slot int) bool { return owners[slot] == nil && b.suits(one, slot) })
		if i < 0 {
			return one
		}
		one.slot, owners[slots[i]] = slots[i], one
	}
	return nil
}

// slots lists the desk's bands upwards and downwards, those that are safe last: a
// band that is never sent is of no use to a voice.
func (b *builder) slots() (up, down []int) {
	var safe []int
	for slot := 1; slot <= b.venue.Desk.Profile.Bands; slot++ {
		if b.isSafeBand(slot) {
			safe = append(safe, slot)
		} else {
			up = append(up, slot)
		}
	}
	down = slices.Clone(up)
	slices.Reverse(down)
	return append(up, safe...), append(down, safe...)
}

// isSafeBand reports whether anything of a band of the desk is safe.
func (b *builder) isSafeBand(slot int) bool {
	place, number := b.out.Position.Place(), strconv.Itoa(slot)
	for i := range b.venue.Safes {
		s := &b.venue.Safes[i]
		if !s.coversPlace(place) {
			continue
		}
		for _, field := range [...]string{"on", "kind", "frequency", "gain", "q"} {
			if beginsWith([]string{"eq", number, field}, s.words) {
				return true
			}
		}
	}
	return false
}

// areWhole notes a fault for each value without which a band in use means nothing, and
// reports whether there is none.
func (b *builder) areWhole(all []*band) bool {
	whole := true
	for _, one := range all {
		for _, field := range bandNeeds(one.kind()) {
			if _, ok := one.entry(field); !ok && !one.isOff() {
				b.fault(one.origin(), "EQ %d has no %s: a %s needs one", one.number, field, one.kind())
				whole = false
			}
		}
	}
	return whole
}

// useBand asks for a band's values, and for what they go without saying.
func (b *builder) useBand(o *band) {
	b.bandValues(o)
	kind := o.kind()
	if _, said := o.entry("kind"); !said {
		b.implyOf(o, "kind", profiles.Word(kind), "a band is a bell unless it says otherwise")
	}
	b.implyOf(o, "on", profiles.Switch(true), "the band is in use")
	if _, has := b.control(bandName(o.slot, "q")); has && o.value("q").IsZero() {
		b.implyOf(o, "q", b.nearestQ(o.slot), "a "+kind+" is plain unless it says otherwise")
	}
}

// bandValues asks for a band's values in its slot. One that is off is flat where the
// desk can't switch it off.
func (b *builder) bandValues(o *band) {
	if _, hasSwitch := b.control(bandName(o.slot, "on")); o.isOff() && !hasSwitch {
		b.freeBand(o.slot)
		return
	}
	note := ""
	if o.slot != o.number {
		note = fmt.Sprintf("written as EQ %d", o.number)
	}
	for _, f := range o.fields {
		field, e := f.field, f.Entry
		if _, hasKind := b.control(bandName(o.slot, "kind")); field == "kind" && !hasKind && b.canBe(o.slot, o.kind()) {
			continue // it is a bell there, and nothing else
		}
		w := Wanted{Asked: e.Value, Origin: e.Origin, Note: note, Written: e.Name, Room: o.room}
		if field == "q" && o.meant != nil {
			w.Note, w.meant = joinNotes(note, o.note), o.meant
			if control, ok := b.control(bandName(o.slot, field)); ok {
				w.Asked = o.within(control, field)
			}
		}
		b.values.set(bandName(o.slot, field), w)
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

// freeBand switches a band of the desk off, or flattens it where it has no switch: a
// gain of 0 dB does nothing, but to a pass filter or a notch.
func (b *builder) freeBand(slot int) {
	const note = "neither the room nor the voice uses this band"
	from := Origin{File: b.venue.File, Line: b.out.Position.Line}
	if _, ok := b.control(bandName(slot, "on")); ok {
		b.imply(bandName(slot, "on"), profiles.Switch(false), from, note)
		return
	}
	b.imply(bandName(slot, "gain"), profiles.Number(0), from, note)
	kinds := b.kindsOf(slot)
	i := slices.IndexFunc(kinds, tone.Kind.HasGain)
	if i >= 0 && slices.ContainsFunc(kinds, func(k tone.Kind) bool { return !k.HasGain() }) {
		b.imply(bandName(slot, "kind"), profiles.Word(kinds[i].String()), from, note)
	}
}

// imply asks for a value that no layer sets but that follows from one.
func (b *builder) imply(name string, v profiles.Value, from Origin, note string) {
	if b.values.has(name) {
		return
	}
	owner := from.Layer
	from.Layer = ImpliedLayer
	b.values.set(name, Wanted{Asked: v, Origin: from, Note: note, Written: name, owner: owner})
}

// implyOf asks for a field of a band that follows from the others.
func (b *builder) implyOf(o *band, field string, v profiles.Value, note string) {
	name := bandName(o.slot, field)
	if b.values.has(name) {
		return
	}
	b.imply(name, v, o.origin(), note)
	w, _ := b.values.get(name)
	w.Written, w.Room = bandName(o.number, field), o.room
	b.values.set(name, w)
}
