package profiles

import (
	"fmt"
	"maps"
	"slices"

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
		profile:  &Profile{Sound: usualSound()},
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
	l.sound()
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
	if !l.root.Has("based") {
		return nil
	}
	// Without its base, all that a profile leaves out would be a fault, too.
	fail := func(format string, args ...any) error {
		return source.Faults{{File: l.document.File(), Line: l.root.LineOf("based"), What: fmt.Sprintf(format, args...)}}
	}
	raw, _ := l.root.Value("based")
	name, ok := raw.(string)
	switch {
	case !ok:
		return fail(`based: write the name of another profile, as "quay-24"`)
	case slices.Contains(names, name) || len(names) == maxBases:
		return fail("based = %q: these profiles stand on each other in a circle, or too high", name)
	}
	file, text, err := lib(name)
	if err != nil {
		return fail("based = %q: %s", name, err)
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
