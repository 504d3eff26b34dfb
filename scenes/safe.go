package scenes

import (
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Safe is what is never sent in a venue: a parameter, or all that begin with its
// words. It begins with channel.N, mix.N, main or a position's name; or it is a
// name that is safe on every channel. A * stands for any one word.
type Safe struct {
	Text string
	// Line is where the venue's file says it.
	Line  int
	words []string
	place profiles.Place // the zero Place: every channel
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
		safe, ok := v.parseSafe(text)
		safe.Line = root.LineOf("safes")
		if !ok || !v.matchesAnything(safe) {
			root.Fault("safes", "the safe %q is nothing on this desk%s", text, source.DidYouMean(text, v.safeWords()))
			continue
		}
		v.Safes = append(v.Safes, safe)
	}
}

func (v *Venue) parseSafe(text string) (Safe, bool) {
	s := Safe{Text: text, words: strings.Split(text, ".")}
	if position, err := v.Position(s.words[0]); err == nil {
		s.place, s.words = position.Place(), s.words[1:]
		return s, true
	}
	switch first := s.words[0]; first {
	case "main":
		if len(s.words) == 1 || v.isParameterOfMain(s.words[1:]) {
			s.place, s.words = profiles.Place{Part: profiles.Main}, s.words[1:]
		}
	case "channel", "mix":
		q, err := profiles.ParseParameter(text)
		if len(s.words) == 2 {
			q, err = profiles.ParseParameter(text + ".any")
		}
		if err != nil {
			return s, false
		}
		s.place, s.words = q.Place, s.words[2:]
	}
	if len(s.words) > 1 && s.words[0] == "send" {
		if number, ok := v.mix(s.words[1]); ok {
			s.words[1] = strconv.Itoa(number)
		}
	}
	return s, true
}

func (v *Venue) isParameterOfMain(words []string) bool {
	return v.Desk.Profile != nil && slices.ContainsFunc(v.Desk.Profile.Names(profiles.Main), func(name string) bool {
		return beginsWith(strings.Split(name, "."), words)
	})
}

// covers reports whether a parameter is safe by this.
func (s Safe) covers(q profiles.Parameter) bool {
	if s.place == (profiles.Place{}) {
		return q.Place.Part == profiles.Channel && beginsWith(strings.Split(q.Name, "."), s.words)
	}
	return q.Place == s.place && beginsWith(strings.Split(q.Name, "."), s.words)
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

func (v *Venue) matchesAnything(s Safe) bool {
	return v.Desk.Profile == nil || slices.ContainsFunc(v.Desk.Profile.Parameters(), s.covers)
}

func (v *Venue) safeWords() []string {
	words := append(v.PositionNames(), "main", "channel", "mix")
	if v.Desk.Profile != nil {
		for _, part := range []profiles.Part{profiles.Channel, profiles.Main} {
			words = append(words, v.Desk.Profile.Names(part)...)
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
