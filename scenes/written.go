package scenes

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// valueFor takes a value as written and holds it against what the trade means.
func valueFor(spec profiles.Spec, raw any) (profiles.Value, error) {
	v, err := profiles.ValueOf(raw)
	if err != nil {
		return v, errors.New("a setting is a number, true or false, or a text in quotes")
	}
	switch spec.Kind {
	case profiles.Toggle:
		if _, isSwitch := v.On(); !isSwitch {
			return v, fmt.Errorf("%s: this is a switch: write true or false", v)
		}
	case profiles.Text, profiles.Choice:
		return v, wordFits(spec, v)
	default:
		return v, numberFits(spec, v)
	}
	return v, nil
}

func wordFits(spec profiles.Spec, v profiles.Value) error {
	word, isWord := v.Word()
	switch {
	case !isWord:
		return fmt.Errorf("%s: this is a text: write it in quotes%s", v, source.DidYouMean("", spec.Words))
	case len(spec.Words) > 0 && !slices.Contains(spec.Words, word):
		return fmt.Errorf("%q is none of its choices%s", word, source.DidYouMean(word, spec.Words))
	}
	return nil
}

func numberFits(spec profiles.Spec, v profiles.Value) error {
	n, isNumber := v.Number()
	word, isText := v.Word()
	switch {
	case isText && spec.Unit == profiles.PanUnit:
		return fmt.Errorf("%q: this is a number from -100, left, over 0 to 100, right", word)
	case isText:
		return fmt.Errorf("%q: this is a number%s%s", word, inUnit(spec.Unit), writeInstead(word, spec.Unit))
	case !isNumber:
		return fmt.Errorf("%s: this is a number%s", v, inUnit(spec.Unit))
	case !spec.Allows(n):
		return fmt.Errorf("%s can't be meant: expected %s", spec.Say(v), spec.SayBounds())
	}
	return nil
}

func inUnit(u profiles.Unit) string {
	switch u {
	case profiles.NoUnit, profiles.Quality, profiles.Ratio:
		return ""
	}
	return " in " + string(u)
}

// multiples are the units that people write beside the file's own, and what one of
// them is in it.
var multiples = map[profiles.Unit]map[string]float64{
	profiles.Decibel: {"": 1, "db": 1},
	profiles.Hertz:   {"": 1, "hz": 1, "khz": 1000, "k": 1000},
	profiles.Millis:  {"": 1, "ms": 1, "s": 1000, "us": 0.001, "µs": 0.001},
	profiles.PerOct:  {"": 1, "db/octave": 1, "db/oct": 1},
	profiles.Quality: {"": 1, "q": 1},
	profiles.Ratio:   {"": 1, ":1": 1},
	profiles.NoUnit:  {"": 1},
}

// writeInstead says how to write a number that was given as a text with its unit:
// "2.5 kHz" is 2500.
func writeInstead(text string, unit profiles.Unit) string {
	end := strings.LastIndexAny(text, "0123456789.") + 1
	if figure, isRatio := strings.CutSuffix(strings.TrimSpace(text), ":1"); isRatio {
		end = len(figure)
	}
	n, err := strconv.ParseFloat(strings.TrimSpace(text[:end]), 64)
	times, known := multiples[unit][strings.ToLower(strings.TrimSpace(text[end:]))]
	if err != nil || !known {
		return ""
	}
	const finest = 1e6 // no setting needs more decimals
	return ": write " + source.FormatNumber(math.Round(n*times*finest)/finest)
}
