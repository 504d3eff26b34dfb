package profiles

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"deskhand/osc"
	"deskhand/profiles/source"
)

// maxText bounds the text of a profile, in bytes, and with it all work that grows
// with the text. A profile has some ten thousand.
const maxText = 256 << 10

// Library gives the text of a profile by its name, and what to call its file, for a
// profile that is based on it.
type Library func(name string) (file string, text []byte, err error)

// ShippedLibrary holds the profiles that come with the program.
func ShippedLibrary(name string) (string, []byte, error) {
	text, err := Shipped(name)
	return name + ".toml", text, err
}

// Load reads a profile, which may be based on a shipped one. The error is
// [source.Faults]: every fault, with file and line, so that the one who writes a
// profile mends them in one go. The profile is nil where there is any.
func Load(file string, text []byte) (*Profile, error) {
	return Library(ShippedLibrary).Load(file, text)
}

// Load reads a profile, which may be based on another of the library.
func (lib Library) Load(file string, text []byte) (*Profile, error) {
	l, err := lib.loader(file, text, nil)
	if err != nil {
		return nil, err
	}
	l.expand(l.families)
	if err := l.faults().Err(); err != nil {
		return nil, err
	}
	return l.profile, nil
}

// loader reads all that a profile says, but does not lay it out. The names are those
// of the profiles that are based on it.
func (lib Library) loader(file string, text []byte, names []string) (*loader, error) {
	if len(text) > maxText {
		what := fmt.Sprintf("a desk profile of %d bytes: at most %d are allowed", len(text), maxText)
		return nil, source.Faults{{File: file, What: what}}
	}
	document, err := source.Parse(file, text)
	if err != nil {
		return nil, err
	}
	l := &loader{
		document: document,
		root:     document.Root(),
		profile:  &Profile{},
		curves:   make(map[string]scale),
		numbers:  make(map[string]numbering),
		values:   make(map[Kind]*source.Table),
		apart:    make(map[string]bool),
	}
	if err := l.inherit(lib, names); err != nil {
		return nil, err
	}
	l.profile.File = file
	l.head()
	l.numberings()
	l.link()
	l.templates()
	l.blocks()
	l.identity()
	l.follow()
	l.namedCurves()
	l.valueForms()
	l.readFamilies()
	return l, nil
}

// faults are those of the profile, and of those it is based on, which may say for all
// parameters what does not suit one of this profile's.
func (l *loader) faults() source.Faults {
	faults := l.document.Faults()
	if l.base != nil {
		faults = append(faults, l.base.faults()...)
	}
	return faults
}

// faultIn notes a fault in what a table of the root says, where the profile has it, or
// else the one that it is based on.
func (l *loader) faultIn(key string, format string, args ...any) {
	if l.based && !l.root.Has(key) {
		key = "based"
	}
	l.root.Fault(key, format, args...)
}

// maxBases bounds how many profiles stand on each other.
const maxBases = 4

// inherit takes over what the profile that this one is based on says.
func (l *loader) inherit(lib Library, names []string) error {
	name, ok := l.root.Text("based")
	if !ok {
		return nil
	}
	if slices.Contains(names, name) || len(names) == maxBases {
		l.root.Fault("based", "based = %q: these profiles stand on each other in a circle, or too high", name)
		return nil
	}
	file, text, err := lib(name)
	if err != nil {
		l.root.Fault("based", "based = %q: %s", name, err)
		return nil
	}
	base, err := lib.loader(file, text, append(names, name))
	if err == nil {
		err = base.document.Faults().Err()
	}
	if err != nil {
		return err
	}
	l.base, l.based = base, true
	*l.profile = *base.profile
	l.profile.blocks = slices.Clone(base.profile.blocks)
	for i := range l.profile.blocks {
		l.profile.blocks[i].line = 0
	}
	l.numbers, l.curves, l.values = maps.Clone(base.numbers), maps.Clone(base.curves), maps.Clone(base.values)
	l.tell, l.ask, l.answer, l.followAt = base.tell, base.ask, base.answer, base.followAt
	l.families = slices.Clone(base.families)
	for i := range l.families {
		l.families[i].line = l.root.LineOf("based") // where this file says so
	}
	return nil
}

// loader holds what the steps of loading one profile share.
type loader struct {
	document *source.Document
	root     *source.Table
	profile  *Profile
	curves   map[string]scale // by name; a faulty one has no shape
	steps    int              // of all curves so far
	// numbers says how the desk counts, and tell, ask and answer how it speaks.
	numbers           map[string]numbering
	tell, ask, answer template
	// values says how values of a kind stand on the wire.
	values   map[Kind]*source.Table
	apart    map[string]bool // see tellsApart
	families []family
	// followAt is the address of the requests to follow, if there are any.
	followAt pattern
	// based says that all this began as another profile has it, which is base.
	based bool
	base  *loader
}

func (l *loader) head() {
	p := l.profile
	var ok bool
	if p.Name, ok = l.root.Text("name"); p.Name == "" && (ok || !l.root.Has("name")) {
		l.root.Fault("name", `the profile has no name: write name = "..."`)
	}
	p.About, _ = l.root.Text("about")
	l.count("channels", 1, &p.Channels)
	l.count("mixes", 0, &p.Mixes)
	l.count("bands", 0, &p.Bands)
	l.count("groups", 0, &p.Groups)
}

// count reads how many of something the desk has.
func (l *loader) count(key string, least int, to *int) {
	n, ok := l.root.Integer(key)
	switch {
	case ok && (n < least || n > maxAddresses):
		l.root.Fault(key, "%s = %d: write a number from %d to %d", key, n, least, maxAddresses)
		*to = 0
	case ok:
		*to = n
	case least > 0 && !l.based && !l.root.Has(key):
		l.root.Fault("", "the profile does not say how many %s the desk has: write %s = ...", key, key)
	}
}

// counts gives how many there are of what a pattern counts.
func (l *loader) counts() map[string]int {
	p := l.profile
	return map[string]int{"channel": p.Channels, "mix": p.Mixes, "band": p.Bands, "group": p.Groups}
}

// Defaults for what a profile leaves out. The pace is what reports from many
// desks agree that any of them takes.
const (
	defaultPace   = 200
	defaultBurst  = 8
	defaultWindow = 8
	defaultWait   = 150 * time.Millisecond
	defaultTries  = 8
	defaultLinger = 100 * time.Millisecond
	defaultLapses = 10 * time.Second
	defaultAlive  = 5 * time.Second
)

func (l *loader) link() {
	link := &l.profile.Link
	if !l.based {
		*link = Link{Pace: defaultPace, Burst: defaultBurst, Window: defaultWindow, Wait: defaultWait, Tries: defaultTries, Linger: defaultLinger}
	}
	t, ok := l.root.Table("link")
	if !ok {
		if !l.root.Has("link") && !l.based {
			l.root.Fault("", "the profile has no [link] with the port on which the desk listens")
		}
		return
	}
	port, ok := t.Integer("port")
	switch {
	case ok && (port < 1 || port > 65535):
		t.Fault("port", "port = %d: a port is a number from 1 to 65535", port)
	case !t.Has("port") && !l.based:
		t.Fault("", "[link] does not say on which port the desk listens: write port = ...")
	}
	if ok {
		link.Port = port
	}
	if pace, ok := t.Number("pace"); ok {
		link.Pace = pace
		if pace < 1 || pace > 1e6 {
			t.Fault("pace", "pace = %s: write how many messages a second the desk takes, 1 to 1000000", source.FormatNumber(pace))
		}
	}
	readCarrier(t, link)
	atLeastOne(t, "burst", &link.Burst)
	atLeastOne(t, "window", &link.Window)
	atLeastOne(t, "tries", &link.Tries)
	someTime(t, "wait", &link.Wait)
	someTime(t, "linger", &link.Linger)
}

// readCarrier reads what carries the packets, and what it needs.
func readCarrier(t *source.Table, link *Link) {
	if over, ok := t.Text("over"); ok {
		if i := slices.Index(overNames, over); i < 0 {
			t.Fault("over", "over = %q: there is none such%s", over, source.DidYouMean(over, overNames))
		} else {
			link.Over = Over(i)
		}
	}
	if t.Has("greeting") {
		link.Greeting.Address = wholeAddress(t, "greeting")
	}
	if t.Has("alive") {
		link.Alive.Address = wholeAddress(t, "alive")
		if link.AliveEvery == 0 {
			link.AliveEvery = defaultAlive
		}
	}
	if t.Has("alive-every") && link.Alive.Address == "" && !t.Has("alive") {
		t.Fault("alive-every", `alive-every: of what? write alive = "/..."`)
	}
	someTime(t, "alive-every", &link.AliveEvery)
	if n, ok := t.Integer("bundle"); ok {
		link.Bundle = n
		if n < minBundle || n > osc.MaxPacket {
			t.Fault("bundle", "bundle = %d: write how many bytes a bundle may have, %d to %d", n, minBundle, osc.MaxPacket)
		}
	}
}

// minBundle is the least bundle that holds any message worth sending.
const minBundle = 64

func atLeastOne(t *source.Table, key string, to *int) {
	n, ok := t.Integer(key)
	if !ok {
		return
	}
	if n < 1 || n > 10_000 {
		t.Fault(key, "%s = %d: write a number from 1 to 10000", key, n)
		return
	}
	*to = n
}

func someTime(t *source.Table, key string, to *time.Duration) {
	d, ok := t.Duration(key)
	if !ok {
		return
	}
	if d < time.Millisecond || d > time.Minute {
		t.Fault(key, "%s = %q: write a time from 1ms to 1m", key, d)
		return
	}
	*to = d
}

func (l *loader) identity() {
	id := &l.profile.identity
	t, ok := l.root.Table("identity")
	if !ok {
		toldOnly := l.ask.never && len(l.profile.blocks) == 0
		if !l.root.Has("identity") && id.ask == "" && !toldOnly {
			l.faultIn("", "the profile has no [identity]: a recall must know that it reached the right desk")
		}
		return
	}
	if id.ask == "" || t.Has("ask") {
		id.ask = wholeAddress(t, "ask")
		id.answer = id.ask
	}
	if t.Has("answer") {
		id.answer = wholeAddress(t, "answer")
	}
	says, ok := t.Text("says")
	switch {
	case says != "":
		id.says = says
	case ok || !t.Has("says") && id.says == "":
		t.Fault("says", `[identity] does not say what the desk answers: write says = "..."`)
	}
}

// follow reads [follow], whose requests may be one for each channel or mix.
func (l *loader) follow() {
	t, ok := l.root.Table("follow")
	if !ok {
		return
	}
	f := &l.profile.follow
	if f.lapses == 0 {
		f.lapses = defaultLapses
	}
	someTime(t, "lapses", &f.lapses)
	address, ok := t.Text("ask")
	if !ok {
		if !t.Has("ask") && l.followAt.literals == nil {
			t.Fault("", `ask is missing: write the address that the desk listens to, ask = "/..."`)
		}
		return
	}
	p, err := parsePattern(address, []string{"channel", "mix"})
	if err == nil && len(p.counters) > 1 {
		err = fmt.Errorf("address %q: a request is for a channel or for a mix", address)
	}
	if err != nil {
		t.Fault("ask", "%s", err)
		return
	}
	if id := l.profile.identity; address == id.ask || address == id.answer {
		t.Fault("ask", "[follow] and [identity] share the address %s", address)
	}
	l.followAt = p
}

// requests lays out the requests to follow.
func (l *loader) requests() {
	f := &l.profile.follow
	f.requests, f.asks = nil, make(map[string]Place)
	if l.followAt.literals == nil {
		return
	}
	each(l.followAt.counters, l.counts(), nil, func(numbers map[string]int) {
		place := Place{}
		for _, part := range []Part{Channel, Mix} {
			if n, ok := numbers[part.String()]; ok {
				place = Place{part, n}
			}
		}
		address := l.followAt.fill(numbers, l.numbers)
		f.requests, f.asks[address] = append(f.requests, address), place
	})
}

// wholeAddress reads an address without places in it.
func wholeAddress(t *source.Table, key string) string {
	address, ok := t.Text(key)
	if !ok {
		if !t.Has(key) {
			t.Fault("", `%s is missing: write the address that the desk listens to, %s = "/..."`, key, key)
		}
		return ""
	}
	if _, err := parsePattern(address, nil); err != nil {
		t.Fault(key, "%s", err)
		return ""
	}
	return address
}
