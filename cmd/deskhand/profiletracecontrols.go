package main

import (
	"fmt"
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/profiles/trace"
)

// usualControls are what is learned where --control names nothing else.
var usualControls = []string{"fader", "mute", "input.gain", "eq.band.frequency", "eq.band.gain", "eq.band.q"}

// lesson is a control to be learned, as the first of its kind.
type lesson struct {
	profiles.Parameter
	// all are the words of its name that stand for all numbers, as band for all bands.
	all []string
}

// controlsNamed reads the names of controls.
func controlsNamed(names []string) ([]lesson, error) {
	if len(names) == 0 {
		names = usualControls
	}
	var list []lesson
	for _, name := range names {
		at := profiles.Place{Part: profiles.Channel, Number: 1}
		rest := name
		for _, part := range []profiles.Part{profiles.Channel, profiles.Mix, profiles.Main} {
			if after, ok := strings.CutPrefix(name, part.String()+"."); ok {
				at.Part, rest = part, after
			}
		}
		if at.Part == profiles.Main {
			at.Number = 0
		}
		words := strings.Split(rest, ".")
		var all []string
		for i, word := range words {
			if i > 0 && slices.Contains([]string{"band", "mix", "group"}, word) {
				words[i], all = "1", append(all, word)
			}
		}
		q := profiles.Parameter{Place: at, Name: strings.Join(words, ".")}
		spec, ok := trace.SpecOf(q)
		if !ok {
			return nil, fmt.Errorf("--control %q: the catalogue has no such parameter at a %s%s", name, at.Part, source.DidYouMean(rest, catalogueNames(at.Part)))
		}
		if spec.Kind == profiles.Text {
			return nil, fmt.Errorf("--control %q: a text can't be learned by moving it: write its entry by hand", name)
		}
		list = append(list, lesson{q, all})
	}
	return list, nil
}

func catalogueNames(part profiles.Part) []string {
	var names []string
	for _, spec := range profiles.Catalogue() {
		if slices.Contains(spec.Parts, part) {
			names = append(names, spec.Name)
		}
	}
	return names
}
