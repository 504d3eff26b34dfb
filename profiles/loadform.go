package profiles

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"deskhand/profiles/source"
)

// formKeys are the keys that say how a parameter stands on the wire. A parameter
// says them itself, or [values] says them for all of its kind.
var formKeys = []string{"as", "wire", "silent", "words", "decimals", "write"}

// said finds the table that says a key for a parameter: its own, or that of all of its
// kind. It is nil where neither does.
type said struct{ own, all *source.Table }

func (s said) table(key string) *source.Table {
	for _, t := range []*source.Table{s.own, s.all} {
		if t != nil && t.Has(key) {
			return t
		}
	}
	return nil
}

// valueForms reads [values], what is said of all numbers, switches and choices.
func (l *loader) valueForms() {
	if !l.root.Has("values") {
		return
	}
	t, ok := l.root.Table("values")
	if !ok {
		return
	}
	for _, all := range []struct {
		of    string
		kinds []Kind
		keys  []string
	}{
		{"number", []Kind{Quantity, Level}, []string{"as", "wire", "silent", "decimals", "write"}},
		{"switch", []Kind{Toggle}, []string{"as", "wire", "words"}},
		{"choice", []Kind{Choice}, []string{"as", "wire", "words"}},
	} {
		in, ok := t.Table(all.of)
		if !ok {
			continue
		}
		for _, key := range all.keys {
			in.Has(key) // not every parameter has a use for it
		}
		for _, k := range all.kinds {
			l.values[k] = in
		}
	}
}

// form reads how a parameter's steps stand on the wire: numeric curves as a float from
// 0 to 1, switches and choices as an integer counted from 0, unless the profile says
// otherwise.
func (l *loader) form(t *source.Table, c *Control) bool {
	if _, isText := c.Curve.(text); isText || c.reach == ByHand {
		return true
	}
	s := said{t, l.values[c.Spec.Kind]}
	_, isNumeric := c.Curve.(numeric)
	as := "int"
	if isNumeric {
		as = "float"
	}
	if from := s.table("as"); from != nil {
		given, ok := from.Text("as")
		if !ok {
			return false
		}
		as = given
		if words := formsFor(c); !slices.Contains(words, as) {
			from.Fault("as", "as = %q: there is none such%s", as, source.DidYouMean(as, words))
			return false
		}
	}
	switch as {
	case "switch":
		return readBoolean(s, c)
	case "word":
		return readWords(s, c)
	case "text":
		return readWritten(s, c) && l.tellsApart(s, c)
	}
	ok := readNumber(s, c, number(slices.Index(numberNames, as)))
	if _, inTheUnit := c.form.(inUnit); inTheUnit {
		return ok && l.tellsApart(s, c)
	}
	return ok
}

// formsFor lists the forms that a control's values can have on the wire.
func formsFor(c *Control) []string {
	switch c.Curve.(type) {
	case toggle:
		return append([]string{"switch", "word"}, numberNames...)
	case choice:
		return append([]string{"word"}, numberNames...)
	}
	return append([]string{"text"}, numberNames...)
}

func readBoolean(s said, c *Control) bool {
	c.form = boolean{}
	from := s.table("wire")
	if from == nil {
		return true
	}
	ends, ok := from.Numbers("wire")
	switch {
	case !ok:
		return false
	case slices.Equal(ends, []float64{1, 0}):
		c.form = boolean{inverted: true}
	case !slices.Equal(ends, []float64{0, 1}):
		from.Fault("wire", "wire = %s: a switch that is true and false is [0, 1], or [1, 0] the wrong way round", sayList(ends))
		return false
	}
	return true
}

// readWords reads what the desk calls each step: the trade's own words, unless the
// profile says others.
func readWords(s said, c *Control) bool {
	var list words
	for step := range c.Curve.Steps() {
		v := c.Curve.At(step)
		if on, ok := v.On(); ok {
			v = Word(onOff(on))
		}
		list = append(list, v.word)
	}
	from := s.own
	if all := s.table("words"); all != nil {
		from = all
		given, ok := from.Texts("words")
		if !ok {
			return false
		}
		if len(given) != c.Curve.Steps() {
			from.Fault("words", "%d words for the %d steps of %s", len(given), c.Curve.Steps(), c.Spec.Name)
			return false
		}
		list = given
	}
	for i, word := range list {
		switch {
		case slices.Contains(list[:i], word):
			from.Fault("words", "the word %q stands twice", word)
		case printable(word) != word:
			from.Fault("words", "the word %q has a control character in it", word)
		default:
			continue
		}
		return false
	}
	c.form = list
	return true
}

// readWritten reads how a number is written as a text.
func readWritten(s said, c *Control) bool {
	w := written{decimals: 1}
	if from := s.table("decimals"); from != nil {
		n, ok := from.Integer("decimals")
		if ok && (n < 0 || n > 6) {
			from.Fault("decimals", "decimals = %d: write a number from 0 to 6", n)
		}
		if !ok || n < 0 || n > 6 {
			return false
		}
		w.decimals = n
	}
	if from := s.table("write"); from != nil {
		text, ok := from.Text("write")
		before, after, found := strings.Cut(text, "{}")
		if ok && !found {
			from.Fault("write", `write = %q: write how the number stands in the text, with {} for it, as "{} dB"`, text)
		}
		if !ok || !found {
			return false
		}
		w.before, w.after = before, after
	}
	if hasSilence(c) {
		var ok bool
		if w.silence, ok = silentText(s); !ok {
			return false
		}
	}
	c.form = w
	return true
}

// silentText reads the text that stands for silence.
func silentText(s said) (string, bool) {
	from := s.table("silent")
	if from == nil {
		s.own.Fault("", `what stands for silence on the wire? write silent = ..., as "off"`)
		return "", false
	}
	text, ok := from.Text("silent")
	if ok && text == "" {
		from.Fault("silent", `silent is empty: write the text that stands for silence, as "off"`)
	}
	return text, ok && text != ""
}

// hasSilence reports whether a control reaches -inf dB.
func hasSilence(c *Control) bool {
	s, ok := c.Curve.(numeric)
	if !ok {
		return false
	}
	low, _ := s.bounds()
	return math.IsInf(low, -1)
}

// readNumber reads a number on the wire: in the parameter's own unit, or between two
// numbers along the travel of the control.
func readNumber(s said, c *Control, n number) bool {
	from := s.table("wire")
	if from != nil {
		if raw, _ := from.Value("wire"); raw == "unit" {
			return readInUnit(s, c, n)
		}
	}
	t := travel{number: n, low: 0, high: 1}
	if n.whole() {
		t.high = float64(c.Curve.Steps() - 1)
	}
	if from != nil {
		ends, ok := from.Numbers("wire")
		if !ok {
			return false
		}
		if err := checkWire(ends, c.Curve.Steps(), n.whole()); err != nil {
			from.Fault("wire", "wire = %s: a range that can't be: %s", sayList(ends), err)
			return false
		}
		t.low, t.high = ends[0], ends[1]
	}
	c.form = t
	return true
}

func readInUnit(s said, c *Control, n number) bool {
	if _, ok := c.Curve.(numeric); !ok {
		s.table("wire").Fault("wire", `wire = "unit": %s is no number`, c.Spec.Name)
		return false
	}
	u := inUnit{number: n, silence: math.Inf(-1)}
	if hasSilence(c) {
		from := s.table("silent")
		if from == nil {
			s.own.Fault("", `what stands for silence on the wire? write silent = ..., as -144.0`)
			return false
		}
		var ok bool
		if u.silence, ok = from.Number("silent"); !ok {
			return false
		}
		lowest, _ := c.Curve.At(1).Number()
		if beyondReason(u.silence) || u.silence >= lowest {
			from.Fault("silent", "silent = %s: write a number below the lowest sound, %s", source.FormatNumber(u.silence), c.Spec.Say(Number(lowest)))
			return false
		}
	}
	c.form = u
	return true
}

// tellsApart sees to it that each step leads back to itself over the wire. What shares
// a named curve and a form is looked at once.
func (l *loader) tellsApart(s said, c *Control) bool {
	seen := ""
	if name, ok := s.own.Value("curve"); ok {
		seen = fmt.Sprintf("%v %T%v", name, c.form, c.form)
	}
	if apart, known := l.apart[seen]; known && seen != "" {
		return apart // a fault has been told
	}
	step := blurred(c)
	l.apart[seen] = step < 0
	if step >= 0 {
		s.own.Fault("", "step %d of %d, %s, can't be told from its neighbour on the wire: give it more decimals, or fewer steps",
			step, c.Curve.Steps(), c.SayOnDesk(c.Curve.At(step)))
	}
	return step < 0
}

// blurred gives the first step that does not lead back to itself over the wire, or -1.
func blurred(c *Control) int {
	for step := range c.Curve.Steps() {
		back, err := c.form.step(c.Curve, c.form.wire(c.Curve, step))
		if err != nil || math.Round(back) != float64(step) {
			return step
		}
	}
	return -1
}
