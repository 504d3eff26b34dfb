package scenes

import (
	"fmt"
	"net"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Venue is a room: its desk, positions, microphones, mixes, limits and safes.
type Venue struct {
	Name  string
	Title string
	File  string
	// Desk is where the desk is and what it is.
	Desk Desk
	// Mixes are the mixes that have a name here, in file order.
	Mixes       []NamedMix
	Microphones []Microphone
	// Distances are those of positions that have none of their own.
	Distances Distances
	Positions []Position
	Limits    Limits
	Safes     []Safe
	// EQ says how the book has EQ fitted to a desk.
	EQ EQSettings
}

// Desk is a venue's mixing desk.
type Desk struct {
	Profile *profiles.Profile
	// Address is HOST:PORT; the port is the profile's unless the venue says another.
	Address string
	// Listen is the local HOST:PORT on which answers are heard, "" for any free one.
	Listen string
	Line   int
}

// NamedMix is a mix of the desk under the name that it has in this room.
type NamedMix struct {
	Name   string
	Number int
	Line   int
}

// Position is a named place in the venue.
type Position struct {
	Name    string
	Channel int
	// Microphone is nil where none is named: then phantom power and gain are as
	// the strips say, and phantom power is never touched.
	Microphone *Microphone
	// Distance is from the talker to the microphone in metres, 0 if it isn't said.
	Distance float64
	// Distances are those around it: the venue's, but where the position has its own.
	Distances Distances
	Strip     Strip
	Line      int
}

// Place is the position's channel on the desk.
func (p Position) Place() profiles.Place {
	return profiles.Place{Part: profiles.Channel, Number: p.Channel}
}

// Limits protect ears: what a recall must not exceed. Nil means no limit is set.
type Limits struct {
	// Rise is by how many dB a recall may make a position louder, in the mains or
	// in any mix.
	Rise *float64
	// Gain is the highest input gain in dB.
	Gain *float64
	// Usual is the level that an open position usually has at the mains, as the
	// sum of gain, trim, make-up and fader in dB. What comes up from silence counts
	// as a rise from there.
	Usual *float64
	// Lines are where they stand, by key.
	Lines map[string]int
}

// Venue reads a venue's file.
func (b *Book) Venue(name string) (*Venue, error) {
	return once(b.shelf.venues, name, func() (*Venue, error) {
		d, err := b.document(Venues, name)
		if err != nil {
			return nil, err
		}
		return b.readVenue(d, name)
	})
}

func (b *Book) readVenue(d *source.Document, name string) (*Venue, error) {
	root := d.Root()
	v := &Venue{Name: name, File: d.File(), EQ: b.EQ}
	v.Title = readLine(root, "title")
	b.readDesk(v, root)
	v.readMixes(root)
	v.readMicrophones(root)
	v.Distances = readDistances(root, Distances{})
	words := *b.words()
	words.mixes = func(string) ([]string, bool) { return v.mixNames(), true }
	v.readPositions(root, &words)
	v.readLimits(root)
	v.readSafes(root)
	return whole(v, d)
}

func (b *Book) readDesk(v *Venue, root *source.Table) {
	t, ok := optional(root, "desk")
	if !ok {
		if !root.Has("desk") {
			root.Fault("", `the venue has no [desk]: write its profile = "..." and address = "HOST"`)
		}
		return
	}
	v.Desk.Line = t.Line()
	v.Desk.Listen, _ = t.Text("listen")
	address, _ := t.Text("address")
	name, ok := t.Text("profile")
	if !ok {
		if !t.Has("profile") {
			t.Fault("", `[desk] has no profile: write profile = "..."%s`, source.DidYouMean("", b.profileNames()))
		}
		return
	}
	p, err := b.Profile(name)
	if err != nil {
		t.Fault("profile", "%s", firstOf(err))
		return
	}
	v.Desk.Profile = p
	if v.Desk.Address, err = p.AddressOf(address); err != nil {
		t.Fault("address", "%s", err)
	}
	if v.Desk.Listen == "" {
		return
	}
	if _, _, err := net.SplitHostPort(v.Desk.Listen); err != nil {
		t.Fault("listen", "listen %q: write HOST:PORT", v.Desk.Listen)
	}
}

func (v *Venue) readMixes(root *source.Table) {
	t, ok := optional(root, "mixes")
	if !ok {
		return
	}
	for _, name := range t.Keys() {
		number, ok := t.Integer(name)
		if !ok {
			continue
		}
		checkWord(t, name, "mix")
		if p := v.Desk.Profile; p != nil && (number < 1 || number > p.Mixes) {
			t.Fault(name, "mix %d: %s has mixes 1 to %d", number, p.Name, p.Mixes)
		}
		if i := slices.IndexFunc(v.Mixes, func(m NamedMix) bool { return m.Number == number }); i >= 0 {
			t.Fault(name, "mix %d is called %q already", number, v.Mixes[i].Name)
		}
		v.Mixes = append(v.Mixes, NamedMix{name, number, t.LineOf(name)})
	}
}

func (v *Venue) readPositions(root *source.Table, words *vocabulary) {
	eachNamed(root, "positions", "position", func(in *source.Table, name string) {
		if isReserved(name) {
			in.Fault("", "position %q: a setting or a part of the desk is called so; give it another name", name)
		}
		v.Positions = append(v.Positions, v.readPosition(in, name, words))
	})
}

// eachNamed reads the tables under a key, each of which the book gives a name: what is
// what it names, such as "position".
func eachNamed(root *source.Table, key, what string, read func(in *source.Table, name string)) {
	t, ok := optional(root, key)
	if !ok {
		return
	}
	for _, name := range t.Keys() {
		in, ok := t.Table(name)
		if !ok {
			continue
		}
		checkWord(t, name, what)
		read(in, name)
	}
}

// isReserved reports whether a safe could begin with the word, so that no position
// can have it for a name.
func isReserved(word string) bool {
	return slices.Contains([]string{"channel", "mix", "main"}, word) ||
		slices.ContainsFunc(profiles.Catalogue(), func(s profiles.Spec) bool {
			first, _, _ := strings.Cut(s.Name, ".")
			return first == word
		})
}

func (v *Venue) readPosition(t *source.Table, name string, words *vocabulary) Position {
	p := Position{Name: name, Line: t.Line()}
	var ok bool
	if p.Channel, ok = t.Integer("channel"); !ok && !t.Has("channel") {
		t.Fault("", "position %q has no channel: write channel = ...", name)
	}
	if desk := v.Desk.Profile; ok && desk != nil && (p.Channel < 1 || p.Channel > desk.Channels) {
		t.Fault("channel", "channel %d: %s has channels 1 to %d", p.Channel, desk.Name, desk.Channels)
	}
	if i := slices.IndexFunc(v.Positions, func(o Position) bool { return o.Channel == p.Channel }); ok && i >= 0 {
		t.Fault("channel", "channel %d is %q already", p.Channel, v.Positions[i].Name)
	}
	if word, ok := t.Text("microphone"); ok {
		if p.Microphone = v.microphone(word); p.Microphone == nil {
			t.Fault("microphone", "the venue has no microphone %q%s", word, source.DidYouMean(word, v.microphoneNames()))
		}
	}
	if t.Has("distance") {
		p.Distance = readDistance(t)
	}
	p.Distances = readDistances(t, v.Distances)
	p.Strip = stripReader{file: v.File, layer: PositionLayer, words: words, venue: v.Name}.read(t)
	return p
}

func (v *Venue) readLimits(root *source.Table) {
	v.Limits.Lines = make(map[string]int)
	t, ok := optional(root, "limits")
	if !ok {
		return
	}
	v.Limits.Rise = v.readLimit(t, "rise", 0, 60)
	v.Limits.Gain = v.readLimit(t, "gain", -40, 90)
	v.Limits.Usual = v.readLimit(t, "usual", -120, 120)
}

func (v *Venue) readLimit(t *source.Table, key string, low, high float64) *float64 {
	n, ok := t.Number(key)
	if !ok {
		return nil
	}
	if !(n >= low && n <= high) {
		t.Fault(key, "%s = %s: expected %v to %v dB", key, figure(n), low, high)
	}
	v.Limits.Lines[key] = t.LineOf(key)
	return &n
}

func optional(t *source.Table, key string) (*source.Table, bool) {
	if !t.Has(key) {
		return nil, false
	}
	return t.Table(key)
}

// Position finds a position by name.
func (v *Venue) Position(name string) (*Position, error) {
	for i := range v.Positions {
		if v.Positions[i].Name == name {
			return &v.Positions[i], nil
		}
	}
	return nil, fmt.Errorf("%s has no position %q%s", v.File, name, source.DidYouMean(name, v.PositionNames()))
}

// PositionNames lists the positions in file order.
func (v *Venue) PositionNames() []string {
	names := make([]string, len(v.Positions))
	for i, p := range v.Positions {
		names[i] = p.Name
	}
	return names
}

// PositionOn finds the position that is on a channel, or nil.
func (v *Venue) PositionOn(place profiles.Place) *Position {
	for i := range v.Positions {
		if v.Positions[i].Place() == place {
			return &v.Positions[i]
		}
	}
	return nil
}

// MixName gives the name of a mix in this room, or "mix N".
func (v *Venue) MixName(number int) string {
	for _, m := range v.Mixes {
		if m.Number == number {
			return m.Name
		}
	}
	return "mix " + strconv.Itoa(number)
}

func (v *Venue) mixNames() []string {
	names := make([]string, len(v.Mixes))
	for i, m := range v.Mixes {
		names[i] = m.Name
	}
	return names
}

func (v *Venue) mix(name string) (int, bool) {
	for _, m := range v.Mixes {
		if m.Name == name {
			return m.Number, true
		}
	}
	return 0, false
}
