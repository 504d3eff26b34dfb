package main

import (
	"fmt"

	"deskhand/profiles"
	"deskhand/scenes"
)

func (a *app) sayDifferences(x, y *side, changes []scenes.Change) {
	if len(changes) == 0 {
		fmt.Fprintf(a.out, "no difference between %s and %s\n", x.Title, y.Title)
		return
	}
	fmt.Fprintf(a.out, "%s -> %s\n", x.Title, y.Title)
	if x.venue != nil {
		a.sayPlaces(x, y, changes)
	} else {
		a.sayStrips(x, changes)
	}
	fmt.Fprintln(a.out, settingsDiffer(len(changes)))
}

// sayPlaces prints differences on a desk, place by place.
func (a *app) sayPlaces(x, y *side, changes []scenes.Change) {
	held := make(scenes.Values)
	for _, e := range x.Entries {
		held[e.Parameter] = e.Value
	}
	a.sayByPlace(x.venue, held, changes, "not set", func(place profiles.Place) { a.saySteps(x.venue, stepsAt(place, x, y)) })
}

// sayStrips prints differences between strips as they are written.
func (a *app) sayStrips(x *side, changes []scenes.Change) {
	held := make(map[string]scenes.Stated)
	for _, e := range x.Entries {
		held[e.Parameter.Name] = e
	}
	maker := rowMaker{
		unset: "not set",
		mixes: func(n int) string { return fmt.Sprint(n) },
		held:  func(name string) profiles.Value { return held[name].Value },
		desk: func(name string) (profiles.Spec, bool) {
			e, ok := held[name]
			return e.Spec, ok
		},
		written: true,
	}
	fmt.Fprint(a.out, table(maker.rows(changes), a.paint))
}
