package scenes

import (
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// vocabulary knows which names a strip may use, and what the trade knows of them:
// those of the catalogue, and those that a desk has beyond it.
type vocabulary struct {
	known map[string]profiles.Spec
	// desks gives what the desks within reach have beyond the catalogue. It is asked
	// only for a name that the catalogue lacks.
	desks func() map[string]profiles.Spec
	// mixes gives the names that mixes have at a venue, or at any venue for "". It
	// reports false where that can't be known, as a venue can't be read.
	mixes func(venue string) ([]string, bool)
}

// words is the vocabulary of the book's files.
func (b *Book) words() *vocabulary {
	if b.shelf.words != nil {
		return b.shelf.words
	}
	v := &vocabulary{known: make(map[string]profiles.Spec), desks: sync.OnceValue(b.deskWords), mixes: b.mixNames}
	for _, s := range profiles.Catalogue() {
		if slices.Contains(s.Parts, profiles.Channel) {
			v.known[s.Name] = s
		}
	}
	return v
}

// deskWords gives the parameters of channels that a profile adds to the catalogue, of
// all profiles that a venue could name.
func (b *Book) deskWords() map[string]profiles.Spec {
	specs := make(map[string]profiles.Spec)
	for _, name := range append(b.Names(Profiles), profiles.ShippedNames()...) {
		p, err := b.Profile(name)
		if err != nil {
			continue // told where it is used, and by Check
		}
		for _, q := range p.At(profiles.Place{Part: profiles.Channel, Number: 1}) {
			control, _ := p.Control(q)
			specs[profiles.FamilyName(q.Name)] = control.Spec
		}
	}
	return specs
}

// mixNames lists the names that mixes have at a venue, or at any for "".
func (b *Book) mixNames(venue string) ([]string, bool) {
	if venue != "" && b.has(Named{Venues, venue}) {
		names, err := b.mixesOf(venue)
		return names, err == nil
	}
	var all []string
	complete := true
	for _, venue := range b.Names(Venues) {
		names, err := b.mixesOf(venue)
		complete = complete && err == nil
		all = append(all, names...)
	}
	slices.Sort(all)
	return slices.Compact(all), complete
}

func (b *Book) mixesOf(venue string) ([]string, error) {
	return once(b.shelf.mixes, venue, func() ([]string, error) {
		d, err := b.document(Venues, venue)
		if err != nil {
			return nil, err
		}
		if t, ok := d.Root().Table("mixes"); ok {
			return t.Keys(), nil
		}
		return nil, nil
	})
}

func (v *vocabulary) spec(family string) (profiles.Spec, bool) {
	s, ok := v.known[family]
	if !ok {
		s, ok = v.desks()[family]
	}
	return s, ok
}

// nearTo is the tail of a message about a wrong name. The known names are tried with
// the numbers and mixes of the wrong one put in, so that "eq.2.gian" finds "eq.2.gain".
func (v *vocabulary) nearTo(name string) string {
	families := slices.Sorted(maps.Keys(v.known))
	for f := range v.desks() {
		if _, known := v.known[f]; !known {
			families = append(families, f)
		}
	}
	slices.Sort(families)
	given := strings.Split(name, ".")
	words := slices.Clone(families)
	for _, f := range families {
		parts := strings.Split(f, ".")
		if len(parts) != len(given) || len(parts) < 2 {
			continue
		}
		parts[1] = given[1]
		if one := strings.Join(parts, "."); family(one) == f {
			words = append(words, one)
		}
	}
	return source.DidYouMean(name, words)
}

// family is the catalogue's name for a strip's: mixes stand there by name.
func family(name string) string {
	if rest, isSend := strings.CutPrefix(name, "send."); isSend {
		if _, field, isNested := strings.Cut(rest, "."); isNested {
			return "send.mix." + field
		}
	}
	return profiles.FamilyName(name)
}

// isWord reports whether a name that the book gives to something can stand between
// the dots of a setting and on a command line.
func isWord(name string) bool {
	return name != "" && !strings.ContainsFunc(name, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '-' && r != '_'
	})
}

// checkWord notes a fault where the name under a key is no word.
func checkWord(t *source.Table, key, what string) {
	if _, err := strconv.Atoi(key); err == nil {
		t.Fault(key, "%s %q: give it a name that is no number", what, key)
	} else if !isWord(key) {
		t.Fault(key, "%s %q: write its name with letters, digits and hyphens only", what, key)
	}
}

// readLine reads a text that people will see on one line of a terminal.
func readLine(t *source.Table, key string) string {
	text, _ := t.Text(key)
	if strings.ContainsFunc(text, source.IsUnseen) {
		t.Fault(key, "%s: there is a control character in it", key)
		return ""
	}
	return text
}
