package profiles

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"
)

// Part is a kind of place on a desk.
type Part uint8

// The parts of a desk. Console is the desk as a whole, which only [Who] is about.
const (
	Console Part = iota
	Channel
	Mix
	Main
)

var partNames = [...]string{Console: "desk", Channel: "channel", Mix: "mix", Main: "main"}

func (p Part) String() string { return partNames[p] }

// Place is one place on a desk: channel 3, mix 2, the main mix. Channels and
// mixes count from 1; the main mix and the console have number 0.
type Place struct {
	Part   Part
	Number int
}

// String gives the place as it begins a parameter's path: "channel.3", "main".
func (p Place) String() string {
	if p.Number == 0 {
		return p.Part.String()
	}
	return p.Part.String() + "." + strconv.Itoa(p.Number)
}

// Say gives the place as people say it: "channel 3", "main".
func (p Place) Say() string { return strings.ReplaceAll(p.String(), ".", " ") }

// Parameter is one thing on a desk that has a value: a place and a name there,
// such as channel 3 and "eq.2.gain". It is comparable, so that it keys maps.
type Parameter struct {
	Place Place
	Name  string
}

// Who is the parameter under which a desk's word about its own model is reported.
var Who = Parameter{Name: "who"}

// String gives the whole path, such as "channel.3.eq.2.gain".
func (p Parameter) String() string { return p.Place.String() + "." + p.Name }

// ParseParameter reads a path such as "channel.3.eq.2.gain" or "main.fader". It
// checks the form only: whether a desk has the parameter is for its profile.
func ParseParameter(path string) (Parameter, error) {
	word, rest, _ := strings.Cut(path, ".")
	place := Place{}
	switch word {
	case "main":
		place.Part = Main
	case "channel", "mix":
		place.Part = Channel
		if word == "mix" {
			place.Part = Mix
		}
		number, after, _ := strings.Cut(rest, ".")
		n, err := strconv.Atoi(number)
		if err != nil || n < 1 || strconv.Itoa(n) != number {
			return Parameter{}, fmt.Errorf("parameter %q: write a number from 1 after %q", path, word+".")
		}
		place.Number, rest = n, after
	default:
		return Parameter{}, fmt.Errorf("parameter %q: it begins with channel.N, mix.N or main", path)
	}
	if rest == "" {
		return Parameter{}, fmt.Errorf("parameter %q: the name after %q is missing", path, place)
	}
	return Parameter{Place: place, Name: rest}, nil
}

// compareNames orders dotted names with numbers in them as numbers, so that
// "send.2.level" comes before "send.10.level".
func compareNames(a, b string) int {
	for a != "" && b != "" {
		var x, y string
		x, a, _ = strings.Cut(a, ".")
		y, b, _ = strings.Cut(b, ".")
		if x == y {
			continue
		}
		m, errM := strconv.Atoi(x)
		n, errN := strconv.Atoi(y)
		if errM == nil && errN == nil {
			return cmp.Compare(m, n)
		}
		return cmp.Compare(x, y)
	}
	return cmp.Compare(a, b)
}
