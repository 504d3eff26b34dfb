package profiles

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles/source"
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
	var place Place
	switch word {
	case "channel":
		place.Part = Channel
	case "mix":
		place.Part = Mix
	case "main":
		place.Part = Main
	default:
		return Parameter{}, fmt.Errorf("parameter %q: it begins with channel.N, mix.N or main%s",
			path, source.DidYouMean(word, []string{"channel", "mix", "main"}))
	}
	if place.Part != Main {
		number, after, _ := strings.Cut(rest, ".")
		n, ok := countingNumber(number)
		if !ok {
			return Parameter{}, fmt.Errorf("parameter %q: write a number from 1 after %q", path, word+".")
		}
		place.Number, rest = n, after
	}
	if rest == "" {
		return Parameter{}, fmt.Errorf("parameter %q: the name after %q is missing", path, place)
	}
	return Parameter{Place: place, Name: rest}, nil
}

// comparePlaces orders places as people read a desk: channels, mixes, main.
func comparePlaces(a, b Place) int {
	return cmp.Or(cmp.Compare(a.Part, b.Part), cmp.Compare(a.Number, b.Number))
}

// compareNames orders dotted names word by word, numbers as numbers and before all
// other words, so that "send.2.level" comes before "send.10.level".
func compareNames(a, b string) int {
	return slices.CompareFunc(strings.Split(a, "."), strings.Split(b, "."), func(x, y string) int {
		m, isNumberX := countingNumber(x)
		n, isNumberY := countingNumber(y)
		switch {
		case isNumberX && isNumberY:
			return cmp.Compare(m, n)
		case isNumberX:
			return -1
		case isNumberY:
			return 1
		}
		return cmp.Compare(x, y)
	})
}
