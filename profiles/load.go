package profiles

import (
	"math"
	"slices"
	"strings"
	"time"

	"deskhand/profiles/source"
)

// Load reads a profile. The error is [source.Faults]: every fault, with file and
// line, so that the one who writes a profile mends them in one go.
func Load(file string, text []byte) (*Profile, error) {
	document, err := source.Parse(file, text)
	if err != nil {
		return nil, err
	}
	l := loader{
		document: document,
		root:     document.Root(),
		profile:  &Profile{File: file},
		curves:   make(map[string]curveAt),
	}
	l.head()
	l.link()
	l.identity()
	l.follow()
	l.namedCurves()
	var families []family
	for _, part := range []Part{Channel, Mix, Main} {
		families = append(families, l.part(part)...)
	}
	l.expand(families)
	return l.profile, document.Faults().Err()
}

// loader holds what the steps of loading one profile share.
type loader struct {
	document *source.Document
	root     *source.Table
	profile  *Profile
	curves   map[string]curveAt
}

// family is a parameter before its pattern is expanded.
type family struct {
	part    Part
	name    string // with band, mix and group as words
	order   int    // where the catalogue has it
	control *Control
	pattern pattern
	// counters are the numbers that tell its members apart.
	counters []string
}

func (l *loader) head() {
	p := l.profile
	p.Name, _ = l.root.Text("name")
	if p.Name == "" {
		l.root.Fault("", `the profile has no name: write name = "..."`)
	}
	p.About, _ = l.root.Text("about")
	p.Channels = l.count("channels", 1)
	p.Mixes = l.count("mixes", 0)
	p.Bands = l.count("bands", 0)
	p.Groups = l.count("groups", 0)
}

// count reads how many of something the desk has.
func (l *loader) count(key string, least int) int {
	n, ok := l.root.Integer(key)
	if !ok {
		if least > 0 && !l.root.Has(key) {
			l.root.Fault("", "the profile does not say how many %s the desk has: write %s = ...", key, key)
		}
		return 0
	}
	if n < least || n > maxAddresses {
		l.root.Fault(key, "%s = %d: write a number from %d to %d", key, n, least, maxAddresses)
		return 0
	}
	return n
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
)

func (l *loader) link() {
	link := &l.profile.Link
	*link = Link{Pace: defaultPace, Burst: defaultBurst, Window: defaultWindow, Wait: defaultWait, Tries: defaultTries, Linger: defaultLinger}
	t, ok := l.root.Table("link")
	if !ok {
		if !l.root.Has("link") {
			l.root.Fault("", "the profile has no [link] with the port on which the desk listens")
		}
		return
	}
	if link.Port, ok = t.Integer("port"); ok && (link.Port < 1 || link.Port > 65535) {
		t.Fault("port", "port %d: a port is a number from 1 to 65535", link.Port)
	} else if !t.Has("port") {
		t.Fault("", "[link] does not say on which port the desk listens: write port = ...")
	}
	if pace, ok := t.Number("pace"); ok {
		link.Pace = pace
		if !(pace > 0) || pace > 1e6 {
			t.Fault("pace", "pace %v: write how many messages a second the desk takes", pace)
		}
	}
	atLeastOne(t, "burst", &link.Burst)
	atLeastOne(t, "window", &link.Window)
	atLeastOne(t, "tries", &link.Tries)
	someTime(t, "wait", &link.Wait)
	someTime(t, "linger", &link.Linger)
}

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
	if d <= 0 || d > time.Minute {
		t.Fault(key, "%s = %s: write a time from 1ms to 1m", key, d)
		return
	}
	*to = d
}

func (l *loader) identity() {
	t, ok := l.root.Table("identity")
	if !ok {
		if !l.root.Has("identity") {
			l.root.Fault("", "the profile has no [identity]: a recall must know that it reached the right desk")
		}
		return
	}
	id := &l.profile.identity
	id.ask = l.address(t, "ask")
	id.answer = id.ask
	if t.Has("answer") {
		id.answer = l.address(t, "answer")
	}
	if id.says, _ = t.Text("says"); id.says == "" {
		t.Fault("", `[identity] does not say what the desk answers: write says = "..."`)
	}
}

func (l *loader) follow() {
	t, ok := l.root.Table("follow")
	if !ok {
		return
	}
	l.profile.follow.ask = l.address(t, "ask")
	l.profile.follow.lapses = 10 * time.Second
	someTime(t, "lapses", &l.profile.follow.lapses)
}

// address reads an address without places in it.
func (l *loader) address(t *source.Table, key string) string {
	address, ok := t.Text(key)
	if !ok {
		if !t.Has(key) {
			t.Fault("", `%s is missing: write the address that the desk listens to, %s = "/..."`, key, key)
		}
		return ""
	}
	if _, err := parsePattern(address, nil); err != nil {
		t.Fault(key, "%s", err)
	}
	return address
}

// part reads the table of one part of the desk, which nests as parameters' names
// do: an inner table with an address is a parameter.
func (l *loader) part(part Part) []family {
	t, ok := l.root.Table(part.String())
	if !ok {
		return nil
	}
	var families []family
	var walk func(t *source.Table, prefix string)
	walk = func(t *source.Table, prefix string) {
		for _, key := range t.Keys() {
			name := strings.TrimPrefix(prefix+"."+key, ".")
			inner, ok := t.Table(key)
			switch {
			case !ok:
			case inner.Has("at"):
				if f, ok := l.family(part, name, inner); ok {
					families = append(families, f)
				}
			case !holdsTables(inner):
				inner.Fault("", `%s.%s has no address: write at = "/..."`, part, name)
				ignore(inner)
			default:
				walk(inner, name)
			}
		}
	}
	walk(t, "")
	return families
}

func holdsTables(t *source.Table) bool {
	return slices.ContainsFunc(t.Keys(), func(key string) bool {
		_, isValue := t.Value(key)
		return !isValue
	})
}

// ignore marks a faulty table as read, so that one fault is not told as several.
func ignore(t *source.Table) {
	for _, key := range t.Keys() {
		t.Value(key)
	}
}

// family reads one parameter: what the trade knows of it, its address, its grid.
func (l *loader) family(part Part, name string, t *source.Table) (family, bool) {
	spec, order, ok := l.spec(part, name, t)
	if !ok {
		t.Text("at")
		ignore(t)
		return family{}, false
	}
	f := family{part: part, name: name, order: order, counters: countersOf(part, name)}
	at, _ := t.Text("at")
	var err error
	if f.pattern, err = parsePattern(at, f.counters); err != nil {
		t.Fault("at", "%s", err)
		ok = false
	}
	if n := size(f.counters, l.counts()); n > maxAddresses {
		t.Fault("at", "%s.%s would expand to %d addresses: at most %d are allowed", part, name, n, maxAddresses)
		ok = false
	}
	f.control = l.control(spec, t)
	return f, ok && f.control != nil
}

// spec finds what the trade knows of a parameter, or takes it from the profile
// where the parameter is the desk's own.
func (l *loader) spec(part Part, name string, t *source.Table) (Spec, int, bool) {
	names := make([]string, 0, len(catalogue))
	for i, s := range catalogue {
		if !slices.Contains(s.Parts, part) {
			continue
		}
		if s.Name == name {
			return s, i, true
		}
		names = append(names, s.Name)
	}
	label, ok := t.Text("label")
	if !ok {
		t.Fault("", `%s.%s is not in the catalogue%s (a parameter that only this desk has needs a label = "...")`,
			part, name, source.DidYouMean(name, names))
		return Spec{}, 0, false
	}
	spec := Spec{Name: name, Label: label, Lowest: noLowest, Highest: math.MaxFloat64, Parts: []Part{part}}
	unit, _ := t.Text("unit")
	spec.Unit = Unit(unit)
	spec.Class = l.class(t)
	spec.Kind = ownKind(t, spec.Unit)
	return spec, len(catalogue), true
}

func (l *loader) class(t *source.Table) Class {
	word, ok := t.Text("class")
	if !ok {
		return Tone
	}
	words := []string{Tone.String(), NameOnly.String(), Loudness.String(), Noise.String()}
	i := slices.Index(words, word)
	if i < 0 {
		t.Fault("class", "class %q: there is none such%s", word, source.DidYouMean(word, words))
		return Tone
	}
	return Class(i)
}

// ownKind tells from its curve what sort of values a desk's own parameter takes.
func ownKind(t *source.Table, unit Unit) Kind {
	switch {
	case t.Has("text"):
		return Text
	case t.Has("choice"):
		return Choice
	case !slices.ContainsFunc(numericShapes, t.Has):
		return Toggle
	case unit == Decibel:
		return Level
	}
	return Quantity
}

// countersOf lists the numbers that an address of this parameter must hold.
func countersOf(part Part, name string) []string {
	var found []string
	if part != Main {
		found = append(found, part.String())
	}
	for i, word := range strings.Split(name, ".") {
		if i > 0 && slices.Contains(counters, word) {
			found = append(found, word)
		}
	}
	return found
}

func (l *loader) counts() map[string]int {
	p := l.profile
	return map[string]int{"channel": p.Channels, "mix": p.Mixes, "band": p.Bands, "group": p.Groups}
}
