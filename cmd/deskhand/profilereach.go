package main

import (
	"fmt"
	"slices"
	"strings"

	"deskhand/profiles"
)

// reached is a parameter of the catalogue, or one of the desk's own, and how the desk
// has it at each part.
type reached struct {
	spec profiles.Spec
	// own says that it is not in the catalogue.
	own bool
	at  map[profiles.Part][]profiles.Reach // sorted, each once; absent where the desk has none
}

var deskParts = []profiles.Part{profiles.Channel, profiles.Mix, profiles.Main}

// reachOf says of each parameter of the catalogue how a desk has it, and then of the
// desk's own.
func reachOf(p *profiles.Profile) []reached {
	var all []reached
	at := make(map[string]int)
	for _, spec := range profiles.Catalogue() {
		at[spec.Name] = len(all)
		all = append(all, reached{spec: spec, at: make(map[profiles.Part][]profiles.Reach)})
	}
	for _, q := range p.Parameters() {
		control, _ := p.Control(q)
		family := profiles.FamilyName(q.Name)
		i, known := at[family]
		if !known {
			i = len(all)
			at[family] = i
			all = append(all, reached{spec: control.Spec, own: true, at: make(map[profiles.Part][]profiles.Reach)})
		}
		reaches, reach := all[i].at[q.Place.Part], reachAt(p, q)
		if where, found := slices.BinarySearch(reaches, reach); !found {
			all[i].at[q.Place.Part] = slices.Insert(reaches, where, reach)
		}
	}
	return all
}

// reachAt says how a parameter is reached: on a desk that never answers, it can only be
// told.
func reachAt(p *profiles.Profile, q profiles.Parameter) profiles.Reach {
	control, _ := p.Control(q)
	if control.Reach() == profiles.OverOSC && !p.Askable(q) {
		return profiles.TellOnly
	}
	return control.Reach()
}

// reachWord says how a parameter is reached.
func reachWord(r profiles.Reach) string {
	return [...]string{profiles.OverOSC: "OSC", profiles.TellOnly: "told", profiles.ByHand: "hand", profiles.Fixed: "fixed"}[r]
}

// cell says how a desk has a parameter at a part: "OSC", "OSC, fixed" where its members
// differ, "-" where it has none, and nothing where no desk has any.
func (r reached) cell(part profiles.Part) string {
	var words []string
	for _, reach := range r.at[part] {
		words = append(words, reachWord(reach))
	}
	switch {
	case len(words) > 0:
		return strings.Join(words, ", ")
	case slices.Contains(r.spec.Parts, part):
		return "-"
	}
	return ""
}

// sayReach prints the table of what is reached.
func (a *app) sayReach(p *profiles.Profile, reach []reached) {
	names := len("reached")
	for _, r := range reach {
		names = max(names, len(r.spec.Name))
	}
	const column = 12
	fmt.Fprintln(a.out, "\n"+a.paint.head(pad("what it reaches", names+4)+pad("channel", column)+pad("mix", column)+"main"))
	for _, r := range reach {
		line := "  " + pad(r.spec.Name, names+2)
		for _, part := range deskParts {
			line += pad(r.cell(part), column)
		}
		if r.own {
			line += "  the desk's own"
		}
		fmt.Fprintln(a.out, strings.TrimRight(line, " "))
	}
	fmt.Fprintln(a.out, "  OSC: told and asked; told: told only; hand: by hand at the desk; fixed: always the same;")
	fmt.Fprintln(a.out, "  -: the desk has none, or the profile says nothing of it")
	fmt.Fprintln(a.out, "  "+sayReachCounts(p))
}

// sayReachCounts says how many settings are reached in which way.
func sayReachCounts(p *profiles.Profile) string {
	counts := reachCounts(p)
	parts := []string{count(len(p.Parameters()), "setting")}
	for _, r := range []profiles.Reach{profiles.OverOSC, profiles.TellOnly, profiles.ByHand, profiles.Fixed} {
		if counts[r] == 0 {
			continue
		}
		word := map[profiles.Reach]string{
			profiles.OverOSC: "over OSC", profiles.TellOnly: "told only", profiles.ByHand: "by hand", profiles.Fixed: "fixed",
		}[r]
		parts = append(parts, fmt.Sprintf("%d %s", counts[r], word))
	}
	return strings.Join(parts, ", ")
}

func reachCounts(p *profiles.Profile) map[profiles.Reach]int {
	counts := make(map[profiles.Reach]int)
	for _, q := range p.Parameters() {
		counts[reachAt(p, q)]++
	}
	return counts
}
