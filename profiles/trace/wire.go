package trace

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"deskhand/osc"
)

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

var numberText = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^(.*?)([+-]?[0-9]{1,12}(?:\.[0-9]{1,9})?)([^0-9].*)?$`)
})

// wireOf reads the values of a control that is a number.
func wireOf(s sighting) (wire, error) {
	var w wire
	for i, v := range s.values {
		n, as := number(v)
		silent := false
		if text, ok := osc.Text(v); ok {
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
			return w, notFinite(v)
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

// read reads one text. One without a number is that for silence.
func (w *writing) read(text string, first bool) (n float64, silent bool, err error) {
	parts := numberText().FindStringSubmatch(text)
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
