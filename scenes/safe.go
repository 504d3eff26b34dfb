package scenes

import (
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Safe is what is never sent in a venue: a parameter, or all that begin with its
// words. It begins with a place, as channel.N, mix.N, main or a position's name; or
// it is a name that is safe on every channel. Mixes may go by name. A * stands for any
// one word, and as the first for any place.
type Safe struct {
	Text string
	// Line is where the venue's file says it.
	Line int
	// part and number are the place; Console and 0 are any.
	part   profiles.Part
	number int
	words  []string
}

func (v *Venue) readSafes(root *source.Table) {
	if !root.Has("safes") {
		return
	}
	texts, ok := root.Texts("safes")
	if !ok {
		return
	}
	for _, text := range texts {
		safe := v.parseSafe(strings.Split(text, "."))
		safe.Text, safe.Line = text, root.LineOf("safes")
		if v.Desk.Profile != nil && !slices.ContainsFunc(v.Desk.Profile.Parameters(), safe.covers) {
			root.Fault("safes", "the safe %q is nothing on this desk%s", text, source.DidYouMean(text, v.safeWords()))
			continue
		}
		v.Safes = append(v.Safes, safe)
	}
}

// parseSafe reads a safe. What makes no sense gives one that covers nothing.
func (v *Venue) parseSafe(words []string) Safe {
	s := Safe{part: profiles.Channel, words: words}
	position, err := v.Position(words[0])
	switch {
	case err == nil:
		s.number, s.words = position.Channel, words[1:]
	case words[0] == "main":
		s.part, s.words = profiles.Main, words[1:]
	case words[0] == "*":
		s.part, s.words = profiles.Console, words[1:]
	case words[0] == "channel":
		s.number, s.words = v.safeNumber(words)
	case words[0] == "mix":
		s.part = profiles.Mix
		s.number, s.words = v.safeNumber(words)
	}
	if len(s.words) > 1 && s.words[0] == "send" {
		s.words = slices.Clone(s.words)
		s.words[1] = v.mixWord(s.words[1])
	}
	return s
}

// safeNumber takes the number after channel or mix off a safe's words; 0 is any.
func (v *Venue) safeNumber(words []string) (int, []string) {
	if len(words) < 2 {
		return -1, nil
	}
	word := words[1]
	if words[0] == "mix" {
		word = v.mixWord(word)
	}
	n, err := strconv.Atoi(word)
	switch {
	case word == "*":
		return 0, words[2:]
	case err != nil || n < 1 || strconv.Itoa(n) != word:
		return -1, nil
	}
	return n, words[2:]
}

// mixWord gives the number of a mix that goes by name; other words stay.
func (v *Venue) mixWord(word string) string {
	if number, ok := v.mix(word); ok {
		return strconv.Itoa(number)
	}
	return word
}

// covers reports whether a parameter is safe by this.
func (s Safe) covers(q profiles.Parameter) bool {
	return s.coversPlace(q.Place) && beginsWith(strings.Split(q.Name, "."), s.words)
}

// coversPlace reports whether anything at a place is safe by this.
func (s Safe) coversPlace(at profiles.Place) bool {
	return (s.part == profiles.Console || s.part == at.Part) && (s.number == 0 || s.number == at.Number)
}

func beginsWith(words, beginning []string) bool {
	if len(beginning) > len(words) {
		return false
	}
	for i, word := range beginning {
		if word != "*" && word != words[i] {
			return false
		}
	}
	return true
}

// safeWords are right beginnings of safes, for "did you mean".
func (v *Venue) safeWords() []string {
	words := append(v.PositionNames(), "main", "channel.1", "mix.1")
	for _, m := range v.Mixes {
		words = append(words, "mix."+m.Name, "send."+m.Name)
	}
	if v.Desk.Profile == nil {
		return words
	}
	for _, part := range []profiles.Part{profiles.Channel, profiles.Main} {
		for _, name := range v.Desk.Profile.Names(part) {
			if part == profiles.Main {
				name = "main." + name
			}
			words = append(words, name)
			if head, _, nested := strings.Cut(name, "."); nested && !slices.Contains(words, head) {
				words = append(words, head)
			}
		}
	}
	return words
}

// SafeFor gives the safe that a parameter falls under, if any.
func (v *Venue) SafeFor(q profiles.Parameter) (Safe, bool) {
	i := slices.IndexFunc(v.Safes, func(s Safe) bool { return s.covers(q) })
	if i < 0 {
		return Safe{}, false
	}
	return v.Safes[i], true
}
