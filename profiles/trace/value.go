package trace

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Field is one key of an entry with its value as TOML.
type Field struct{ Key, TOML string }

// valued is what was worked out of a control's values.
type valued struct {
	// curve is what describes the grid; form is how steps stand on the wire, in which a
	// missing key is the format's usual.
	curve []Field
	form  map[string]string
	notes []string
}

// missingAnswer is the error of what only the user can say.
type missingAnswer struct {
	kind Kind
	what string
}

func (m missingAnswer) Error() string { return m.what }

// value works out the grid of a control and its form on the wire.
func value(spec profiles.Spec, s sighting) (valued, error) {
	switch spec.Kind {
	case profiles.Toggle:
		return switchValue(s)
	case profiles.Choice:
		return choiceValue(spec, s)
	case profiles.Text:
		return valued{}, errors.New("a text has no steps to learn: write text = N, the bytes that the desk holds, by hand")
	}
	return numberValue(spec, s)
}

// byWord gives the value that came for each position, which the words name in order.
// The last values belong to the last words: the first word may have been its position
// before, of which nothing is told.
func byWord(s sighting) (map[string]any, error) {
	if len(s.words) == 0 {
		return nil, missingAnswer{Moved, "it was not said into which positions it was put"}
	}
	changes := s.changes()
	found := make(map[string]any)
	for i := 1; i <= min(len(s.words), len(changes)); i++ {
		word, v := s.words[len(s.words)-i], changes[len(changes)-i]
		if other, known := found[word]; known && other != v {
			return nil, fmt.Errorf("%q was both %v and %v on the wire: put it into one position after the other", word, other, v)
		}
		found[word] = v
	}
	for _, word := range s.words {
		if _, ok := found[word]; !ok {
			return nil, fmt.Errorf("no message came for %q: begin and end with the same position", word)
		}
	}
	return found, nil
}

func switchValue(s sighting) (valued, error) {
	found, err := byWord(s)
	if err != nil {
		return valued{}, err
	}
	on, isOn := found["on"]
	off, isOff := found["off"]
	if !isOn || !isOff || len(found) != 2 {
		return valued{}, errors.New("a switch is put on, off, on")
	}
	return discrete([]any{off, on}, []string{"off", "on"}, nil)
}

func choiceValue(spec profiles.Spec, s sighting) (valued, error) {
	found, err := byWord(s)
	if err != nil {
		return valued{}, err
	}
	var words []string
	var values []any
	for _, word := range s.words {
		if slices.Contains(words, word) {
			continue
		}
		if !slices.Contains(spec.Words, word) {
			return valued{}, fmt.Errorf("%q is no choice for %s%s", word, spec.Name, source.DidYouMean(word, spec.Words))
		}
		words, values = append(words, word), append(values, found[word])
	}
	if len(words) < 2 {
		return valued{}, errors.New("a choice is put into each of its positions")
	}
	return discrete(values, words, []Field{{"choice", tomlTexts(words)}})
}

// discrete gives the form of a control with a value for each word.
func discrete(values []any, words []string, curve []Field) (valued, error) {
	v := valued{curve: curve, form: make(map[string]string)}
	for i, x := range values {
		if !sameType(x, values[0]) && !isBool(x) {
			return v, fmt.Errorf("its values are of several types: %v and %v", values[0], x)
		}
		if slices.Contains(values[:i], x) {
			return v, fmt.Errorf("two positions are both %v on the wire", x)
		}
	}
	switch values[0].(type) {
	case bool:
		v.form["as"] = `"switch"`
		if values[0] == true {
			v.form["wire"] = "[1, 0]"
		}
		return v, nil
	case string, osc.Symbol:
		v.form["as"] = `"word"`
		texts := make([]string, len(values))
		for i, x := range values {
			texts[i] = fmt.Sprint(x)
		}
		if !slices.Equal(texts, words) {
			v.form["words"] = tomlTexts(texts)
		}
		return v, nil
	}
	return evenly(v, values)
}

func isBool(v any) bool { _, ok := v.(bool); return ok }

// evenly gives the form of numbers at equal distances.
func evenly(v valued, values []any) (valued, error) {
	first, as := number(values[0])
	last, _ := number(values[len(values)-1])
	n := float64(len(values) - 1)
	for i, x := range values {
		at, _ := number(x)
		if want := first + float64(i)*(last-first)/n; math.Abs(at-want) > 1e-6*max(1, math.Abs(want)) {
			return v, fmt.Errorf("its values %v are not at equal distances, which no profile can say", values)
		}
	}
	v.form["as"] = strconv.Quote(as)
	usual := 1.0
	if as == "int" || as == "long" {
		usual = n
	}
	if first != 0 || math.Abs(last-usual) > 1e-6 {
		v.form["wire"] = "[" + tomlNumber(first, as) + ", " + tomlNumber(last, as) + "]"
	}
	return v, nil
}

// number gives a number and what a profile calls its type, "" for what is none.
func number(argument any) (float64, string) {
	switch v := argument.(type) {
	case float32:
		return float64(v), "float"
	case int32:
		return float64(v), "int"
	case float64:
		return v, "double"
	case int64:
		return float64(v), "long"
	}
	return 0, ""
}

// wire is a control's numbers as they came.
type wire struct {
	as string
	// values are by where in the move they came; silent is no number.
	values []float64
	silent []bool
	texts  writing
	slack  float64
}

// writing is how numbers stand in texts.
type writing struct {
	before, after, silent string
	decimals              int
}

var numberText = regexp.MustCompile(`^(.*?)([+-]?[0-9]{1,12}(?:\.[0-9]{1,9})?)([^0-9].*)?$`)

// wireOf reads the values of a control that is a number.
func wireOf(s sighting) (wire, error) {
	var w wire
	for i, v := range s.values {
		n, as := number(v)
		silent := false
		if text, ok := asText(v); ok {
			as = "text"
			var err error
			if n, silent, err = w.texts.read(text, i == 0 || !slices.Contains(w.silent, false)); err != nil {
				return w, err
			}
		}
		switch {
		case as == "":
			return w, fmt.Errorf("%v is no number", v)
		case w.as != "" && w.as != as:
			return w, fmt.Errorf("its values are of several types: %s and %s", w.as, as)
		case n-n != 0:
			return w, fmt.Errorf("%v is no number that a control can have", v)
		}
		w.as = as
		w.values, w.silent = append(w.values, n), append(w.silent, silent)
		if as == "float" && !silent {
			w.slack = max(w.slack, math.Abs(n)*0x1p-24)
		}
	}
	if w.as == "text" {
		w.slack = 0.5 * math.Pow10(-w.texts.decimals)
	}
	return w, nil
}

func asText(v any) (string, bool) {
	switch v := v.(type) {
	case string:
		return v, true
	case osc.Symbol:
		return string(v), true
	}
	return "", false
}

// read reads one text. One without a number is that for silence.
func (w *writing) read(text string, first bool) (n float64, silent bool, err error) {
	parts := numberText.FindStringSubmatch(text)
	if parts == nil {
		if w.silent != "" && w.silent != text || text == "" || oneLine(text) != text {
			return 0, false, fmt.Errorf("%q is no number", text)
		}
		w.silent = text
		return 0, true, nil
	}
	if first {
		w.before, w.after = parts[1], parts[3]
	}
	if parts[1] != w.before || parts[3] != w.after || oneLine(w.before+"0"+w.after) != w.before+"0"+w.after {
		return 0, false, fmt.Errorf("%q is written in another way than with %q", text, w.before+"{}"+w.after)
	}
	_, decimals, _ := strings.Cut(parts[2], ".")
	w.decimals = max(w.decimals, len(decimals))
	n, err = strconv.ParseFloat(parts[2], 64)
	return n, false, err
}

// answer is what was shown for one value on the wire.
type answer struct {
	wire   float64
	silent bool // the text for silence
	shown
}

// answers pairs what the desk showed with the value that had come last.
func answers(spec profiles.Spec, s sighting, w wire) ([]answer, error) {
	var list []answer
	for i, it := range s.items {
		if it.shows == "" {
			continue
		}
		k, _ := slices.BinarySearch(s.at, i)
		if k == 0 {
			return nil, fmt.Errorf("%q was shown before any message came", it.shows)
		}
		n, err := parseShown(it.shows, spec.Unit)
		if err != nil {
			return nil, err
		}
		list = append(list, answer{w.values[k-1], w.silent[k-1], n})
	}
	return list, nil
}

// inOctaves reports whether a desk counts a width in octaves, by what it shows and by
// what it writes after its numbers. Figures without a word are of the same sort.
func inOctaves(spec profiles.Spec, s sighting, w wire) (bool, error) {
	if spec.Unit != profiles.Quality {
		return false, nil
	}
	_, octaves := cutOctaves(w.texts.after)
	asQ := isQ(w.texts.before)
	for _, it := range s.items {
		_, says := cutOctaves(it.shows)
		octaves, asQ = octaves || says, asQ || isQ(it.shows)
	}
	if octaves && asQ {
		return false, errors.New("the desk showed both octaves and Q: read off the one that it shows")
	}
	return octaves, nil
}

const askShown = "what does the desk show at the bottom, in the middle, at the top, and wherever its scale changes?"

// numberValue works out a number: in the unit itself, or along the control's travel.
func numberValue(spec profiles.Spec, s sighting) (valued, error) {
	w, err := wireOf(s)
	if err != nil {
		return valued{}, err
	}
	list, err := answers(spec, s, w)
	if err != nil {
		return valued{}, err
	}
	if w.as != "text" && len(list) == 0 {
		return valued{}, missingAnswer{Shows, askShown + sayExpected(spec)}
	}
	octaves, err := inOctaves(spec, s, w)
	if err != nil {
		return valued{}, err
	}
	v, err := figures(s, w, list)
	if octaves {
		v.curve = append(v.curve, Field{"octaves", "true"})
	}
	return v, err
}

// sayExpected says which figures any desk shows.
func sayExpected(spec profiles.Spec) string {
	text := " (any desk: " + spec.SayBounds()
	if spec.Unit == profiles.Quality {
		text += "; type octaves as 0.7 oct"
	}
	return text + ")"
}

// figures works out numbers in whatever the desk counts.
func figures(s sighting, w wire, list []answer) (valued, error) {
	if w.as == "text" {
		return inUnit(s, w, math.Inf(-1))
	}
	silence, inTheUnit := isInUnit(list)
	if inTheUnit {
		return inUnit(s, w, silence)
	}
	return alongTravel(s, w, list)
}

// isInUnit reports whether the numbers on the wire are what the desk shows, and which
// of them stands for silence.
func isInUnit(list []answer) (silence float64, ok bool) {
	silence = math.Inf(-1)
	different := make(map[float64]bool)
	for _, a := range list {
		switch {
		case math.IsInf(a.value, -1):
			silence = a.wire
		case !a.meets(a.wire):
			return silence, false
		default:
			different[a.wire] = true
		}
	}
	return silence, len(different) >= 2
}
