package scenes

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Layer is where in the build-up of a strip a value comes from. A later layer wins.
type Layer uint8

// The layers, in order. Microphone is above them all: it alone says whether there
// is phantom power. Implied is what the tool adds, as that a band that nobody uses
// is off; Reading is what a desk reported.
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

// notInStrip are the parameters that no strip of a file may set, and why.
var notInStrip = map[string]string{
	"input.phantom": "phantom power follows the microphone: write phantom = true or false at the venue's microphone",
	"mute":          "whether a position is open is for the scene: write open = true or false there",
}

// usualStrip is how many values a strip of a file has, with room to spare.
const usualStrip = 16

// stripReader reads a strip out of a file.
type stripReader struct {
	file  string
	layer Layer
	words *vocabulary
	// venue is the one that the strip is for, "" for any.
	venue string
	strip Strip
}

// read reads the strip under a key of a table, if there is one. Names nest as tables
// do.
func (r stripReader) read(t *source.Table) Strip {
	if top, ok := optional(t, "strip"); ok {
		r.walk(top, "")
	}
	return r.strip
}

func (r *stripReader) walk(t *source.Table, prefix string) {
	for _, key := range t.Keys() {
		name := key
		if prefix != "" {
			name = prefix + "." + key
		}
		raw, isValue := t.Value(key)
		switch {
		case strings.Contains(key, "."):
			t.Fault(key, "unknown setting %q: write its name without quotes", name)
		case isValue:
			r.value(t, key, name, raw)
		default:
			if inner, ok := t.Table(key); ok {
				r.walk(inner, name)
			}
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
		t.Fault(key, "unknown setting %q%s", name, r.words.nearTo(name))
		return
	}
	if strings.HasPrefix(f, "send.mix.") && !r.knowsMix(t, key, strings.Split(name, ".")[1]) {
		return
	}
	v, err := valueFor(spec, raw)
	if err != nil {
		t.Fault(key, "%s: %s", name, err)
		return
	}
	if r.strip == nil {
		r.strip = make(Strip, 0, usualStrip)
	}
	r.strip = append(r.strip, Entry{name, v, Origin{r.layer, r.file, t.LineOf(key)}})
}

// knowsMix notes a fault where no mix has the name: at the venue that the strip is
// for, or else anywhere in the book.
func (r *stripReader) knowsMix(t *source.Table, key, mix string) bool {
	names, complete := r.words.mixes(r.venue)
	if !isWord(mix) || complete && !slices.Contains(names, mix) {
		where := ""
		if r.venue != "" {
			where = " at " + r.venue
		}
		t.Fault(key, "no mix is called %q%s%s", mix, where, source.DidYouMean(mix, names))
		return false
	}
	return true
}
