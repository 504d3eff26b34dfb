package profiles

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"deskhand/profiles/source"
)

// Curve is the grid of one parameter on one desk: which values it can take, in
// order. Two values are equal when they fall on the same step.
type Curve interface {
	// Steps is the number of steps. Text has no grid: 0.
	Steps() int
	// At gives the value of a step in 0..Steps-1.
	At(step int) Value
	// Step gives the step nearest to v. The error says what is wrong with v:
	// another kind of value, or one beyond the desk's range.
	Step(v Value) (int, error)
}

// toggle has two steps, off and on.
type toggle struct{}

func (toggle) Steps() int        { return 2 }
func (toggle) At(step int) Value { return Switch(step == 1) }

func (toggle) Step(v Value) (int, error) {
	on, ok := v.On()
	switch {
	case !ok:
		return 0, fmt.Errorf("%s is not a switch: write true or false", v)
	case on:
		return 1, nil
	}
	return 0, nil
}

// choice has a step for each word, in the desk's order.
type choice []string

func (c choice) Steps() int        { return len(c) }
func (c choice) At(step int) Value { return Word(c[step]) }

func (c choice) Step(v Value) (int, error) {
	word, ok := v.Word()
	if !ok {
		return 0, fmt.Errorf("%s is not one of the desk's choices%s", v, source.DidYouMean("", c))
	}
	step := slices.Index(c, word)
	if step < 0 {
		return 0, fmt.Errorf("%q is not one of the desk's choices%s", word, source.DidYouMean(word, c))
	}
	return step, nil
}

// text is free text of at most so many bytes.
type text int

func (text) Steps() int   { return 0 }
func (text) At(int) Value { return Word("") }

func (text) Step(v Value) (int, error) {
	word, ok := v.Word()
	if !ok {
		return 0, fmt.Errorf("%s is not a text: write it in quotes", v)
	}
	if printable(word) != word {
		return 0, fmt.Errorf("%q has a control character in it", word)
	}
	return 0, nil
}

// cut gives as much of the text as the desk holds, whole characters only.
func (t text) cut(word string) string {
	end := int(t)
	if len(word) <= end {
		return word
	}
	for end > 0 && !utf8.RuneStart(word[end]) {
		end--
	}
	return strings.TrimRight(word[:end], " ")
}

// printable replaces what is no character, and control characters: a text that came
// off the network ends up on a terminal and in a file.
func printable(word string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return utf8.RuneError
		}
		return r
	}, word)
}
