package main

import (
	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/tone"
)

// stepsAt is what lies between two sides for speech at a place of the desk. What one side
// doesn't speak of is as the other has it.
func stepsAt(place profiles.Place, x, y *side) []tone.Step {
	was, is := x.valuesAt(place), y.valuesAt(place)
	before, after := orElse(was, is), orElse(is, was)
	arrives := y.arrivals[place]
	if arrives == nil {
		arrives = x.arrivals[place]
	}
	return x.venue.Sounds(place, before, after, arrives).Steps()
}

// valuesAt are the values that a side speaks of at a place, by name.
func (s *side) valuesAt(place profiles.Place) map[string]profiles.Value {
	values := make(map[string]profiles.Value)
	for _, e := range s.Entries {
		if e.Parameter.Place == place {
			values[e.Parameter.Name] = e.Value
		}
	}
	return values
}

func orElse(first, second map[string]profiles.Value) func(name string) profiles.Value {
	return func(name string) profiles.Value {
		if v, ok := first[name]; ok {
			return v
		}
		return second[name]
	}
}

// levelsJSON are the steps at each place where something differs.
func levelsJSON(x, y *side, changes []scenes.Change) []jsonStep {
	all := []jsonStep{}
	if x.venue == nil {
		return all
	}
	for _, place := range placesOf(changes) {
		all = append(all, stepsJSON(x.venue, place, stepsAt(place, x, y))...)
	}
	return all
}

// placesOf lists the places of changes in their order.
func placesOf(changes []scenes.Change) []profiles.Place {
	var places []profiles.Place
	for i, c := range changes {
		if i == 0 || c.Parameter.Place != changes[i-1].Parameter.Place {
			places = append(places, c.Parameter.Place)
		}
	}
	return places
}
