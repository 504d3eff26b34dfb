package scenes

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Layer is where in the build-up of a strip a value comes from. A later layer wins.
type Layer uint8

// The layers, in order. Microphone is above them all: it alone says whether there
// is phantom power. Implied is what the tool adds, as that a band that nobody uses
// is off; Desk is a reading.
const (
	PositionLayer Layer = iota
	PerformerLayer
	PerformerHereLayer
	SceneLayer
	MicrophoneLayer
	ImpliedLayer
	ReadingLayer
)

func (l Layer) String() string {
	return [...]string{"position", "performer", "performer here", "scene", "microphone", "implied", "reading"}[l]
}

// Origin says where a value comes from. Line is 0 where no line of a file says it.
type Origin struct {
	Layer Layer
	File  string
	Line  int
}

// String gives FILE:LINE, or the file alone.
func (o Origin) String() string {
	if o.Line == 0 {
		return o.File
	}
	return o.File + ":" + strconv.Itoa(o.Line)
}

func (o Origin) fault(format string, args ...any) *source.Fault {
	return &source.Fault{File: o.File, Line: o.Line, What: fmt.Sprintf(format, args...)}
}

// Entry is one value of a strip as it is written.
type Entry struct {
	// Name is the parameter's name within a channel, with mixes by name:
	// "eq.2.gain", "send.wedge.level".
	Name   string
	Value  profiles.Value
	Origin Origin
}

// Strip is the settings of one channel as one layer writes them, in file order.
type Strip []Entry

// find gives the entry with a name.
func (s Strip) find(name string) (Entry, bool) {
	i := slices.IndexFunc(s, func(e Entry) bool { return e.Name == name })
	if i < 0 {
		return Entry{}, false
	}
	return s[i], true
}

// family is the catalogue's name for a strip's: mixes stand there by name.
func family(name string) string {
	words := strings.Split(name, ".")
	if words[0] == "send" && len(words) > 2 {
		words[1] = "mix"
		return strings.Join(words, ".")
	}
	f, _ := profiles.Family(name)
	return f
}

// vocabulary knows which names a strip may use, and what the trade knows of them:
// those of the catalogue, and those that a desk has beyond it.
type vocabulary struct {
	known map[string]profiles.Spec
	// desks gives every profile whose own parameters a file may use. It is asked
	// once, and only for a name that the catalogue lacks.
	desks func() []*profiles.Profile
	// mixes gives the names that mixes have.
	mixes func() []string
}

func newVocabulary(desks func() []*profiles.Profile, mixes func() []string) *vocabulary {
	v := &vocabulary{known: make(map[string]profiles.Spec), desks: desks, mixes: sync.OnceValue(mixes)}
	for _, s := range profiles.Catalogue() {
		if slices.Contains(s.Parts, profiles.Channel) {
			v.known[s.Name] = s
		}
	}
	return v
}

func (v *vocabulary) spec(family string) (profiles.Spec, bool) {
	s, ok := v.known[family]
	if ok || v.desks == nil {
		return s, ok
	}
	for _, p := range v.desks() {
		v.addDesk(p)
	}
	v.desks = nil
	s, ok = v.known[family]
	return s, ok
}

func (v *vocabulary) addDesk(p *profiles.Profile) {
	for _, q := range p.At(profiles.Place{Part: profiles.Channel, Number: 1}) {
		f, _ := profiles.Family(q.Name)
		if _, known := v.known[f]; !known {
			control, _ := p.Control(q)
			v.known[f] = control.Spec
		}
	}
}

func (v *vocabulary) words() []string { return slices.Sorted(maps.Keys(v.known)) }

// notInStrip are the parameters that no strip of a file may set, and why.
var notInStrip = map[string]string{
	"input.phantom": "phantom power follows the microphone: write phantom = true or false at the venue's microphone",
	"mute":          "whether a position is open is for the scene: write open = true or false there",
}

// readStrip reads the strip under a key of a table, if there is one. Names nest as
// tables do.
func readStrip(t *source.Table, key, file string, layer Layer, words *vocabulary) Strip {
	if !t.Has(key) {
		return nil
	}
	top, ok := t.Table(key)
	if !ok {
		return nil
	}
	r := stripReader{file: file, layer: layer, words: words}
	r.walk(top, "")
	return r.strip
}

type stripReader struct {
	file  string
	layer Layer
	words *vocabulary
	strip Strip
}

func (r *stripReader) walk(t *source.Table, prefix string) {
	for _, key := range t.Keys() {
		name := key
		if prefix != "" {
			name = prefix + "." + key
		}
		if raw, ok := t.Value(key); ok {
			r.value(t, key, name, raw)
			continue
		}
		if inner, ok := t.Table(key); ok {
			r.walk(inner, name)
		}
	}
}

func (r *stripReader) value(t *source.Table, key, name string, raw any) {
	f := family(name)
	if why, no := notInStrip[f]; no {
		t.Fault(key, "%s can't be set here: %s", name, why)
		return
	}
	spec, ok := r.words.spec(f)
	if !ok {
		t.Fault(key, "unknown setting %q%s", name, source.DidYouMean(name, append(r.words.words(), suggestions(name, r.words)...)))
		return
	}
	if mix := strings.Split(name, ".")[1:]; strings.HasPrefix(f, "send.mix.") && !slices.Contains(r.words.mixes(), mix[0]) {
		t.Fault(key, "%s: no mix is called %q%s", name, mix[0], source.DidYouMean(mix[0], r.words.mixes()))
		return
	}
	v, err := valueFor(spec, raw)
	if err != nil {
		t.Fault(key, "%s: %s", name, err)
		return
	}
	r.strip = append(r.strip, Entry{name, v, Origin{r.layer, r.file, t.LineOf(key)}})
}

// suggestions gives the known names with the numbers and mixes of a mistyped one
// put in, so that "eq.2.gian" finds "eq.2.gain".
func suggestions(name string, words *vocabulary) []string {
	given := strings.Split(name, ".")
	if len(given) < 2 {
		return nil
	}
	var out []string
	for _, word := range words.words() {
		parts := strings.Split(word, ".")
		if len(parts) == len(given) && len(parts) > 1 && slices.Contains([]string{"band", "mix", "group"}, parts[1]) {
			parts[1] = given[1]
			out = append(out, strings.Join(parts, "."))
		}
	}
	return out
}

// valueFor takes a value as written and holds it against what the trade means.
func valueFor(spec profiles.Spec, raw any) (profiles.Value, error) {
	v, err := profiles.ValueOf(raw)
	if err != nil {
		return v, err
	}
	n, isNumber := v.Number()
	_, isSwitch := v.On()
	word, isWord := v.Word()
	switch spec.Kind {
	case profiles.Toggle:
		if !isSwitch {
			return v, fmt.Errorf("%s: this is a switch: write true or false", v)
		}
	case profiles.Text, profiles.Choice:
		if !isWord {
			return v, fmt.Errorf("%s: this is a text: write it in quotes%s", v, source.DidYouMean("", spec.Words))
		}
		if len(spec.Words) > 0 && !slices.Contains(spec.Words, word) {
			return v, fmt.Errorf("%q is none of its choices%s", word, source.DidYouMean(word, spec.Words))
		}
	default:
		if !isNumber {
			return v, fmt.Errorf("%s: this is a number%s", v, inUnit(spec.Unit))
		}
		if !spec.Allows(n) {
			return v, fmt.Errorf("%s can't be meant: expected %s", spec.Say(v), spec.SayBounds())
		}
	}
	return v, nil
}

func inUnit(u profiles.Unit) string {
	if u == profiles.NoUnit {
		return ""
	}
	return " in " + string(u)
}
