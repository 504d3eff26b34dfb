package profiles

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Say gives v as the trade says it: "-6.0 dB", "2.5 kHz", "L30", "off". No value
// is "unknown".
func (s Spec) Say(v Value) string {
	return s.say(v, 0)
}

// SayBoth gives two values with as many figures as it takes to tell them apart,
// so that a small difference does not read as none.
func (s Spec) SayBoth(a, b Value) (string, string) {
	for finer := 0; ; finer++ {
		x, y := s.say(a, finer), s.say(b, finer)
		if x != y || a == b || finer == 4 {
			return x, y
		}
	}
}

// SayStep gives the step from a to b with its sign: "-5.5" for numbers in dB, and
// "" where a step means nothing to the ear or there is no number on both sides.
func (s Spec) SayStep(a, b Value) string {
	x, okX := a.Number()
	y, okY := b.Number()
	if !okX || !okY || s.Unit != Decibel || math.IsInf(x, 0) || math.IsInf(y, 0) {
		return ""
	}
	for decimals := 1; decimals < 5; decimals++ {
		if step := fmt.Sprintf("%+.*f", decimals, y-x); strings.Trim(step, "+-0.") != "" {
			return step
		}
	}
	return ""
}

func (s Spec) say(v Value, finer int) string {
	switch v.form {
	case noValue:
		return "unknown"
	case switchValue:
		return onOff(v.on)
	case wordValue:
		if s.Kind == Text {
			return strconv.Quote(v.word)
		}
		return v.word
	}
	return sayNumber(v.number, s.Unit, finer)
}

func sayNumber(v float64, unit Unit, finer int) string {
	if math.IsInf(v, 0) {
		return strings.ToLower(strings.TrimPrefix(strconv.FormatFloat(v, 'f', -1, 64), "+")) + " " + string(unit)
	}
	switch unit {
	case Decibel:
		return fmt.Sprintf("%.*f dB", 1+finer, v)
	case Hertz:
		if v >= 999.5 {
			return significant(v/1000, 3+finer, 1) + " kHz"
		}
		return significant(v, 3+finer, 0) + " Hz"
	case Millis:
		return significant(v, 3+finer, 0) + " ms"
	case Quality:
		return significant(v, 3+finer, 1)
	case Ratio:
		return significant(v, 3+finer, 1) + ":1"
	case PanUnit:
		return sayPan(v, finer)
	case NoUnit:
		return significant(v, 6+finer, 0)
	}
	return significant(v, 3+finer, 0) + " " + string(unit)
}

func sayPan(v float64, finer int) string {
	figure := strconv.FormatFloat(math.Abs(v), 'f', finer, 64)
	switch {
	case strings.Trim(figure, "0.") == "":
		return "centre"
	case v < 0:
		return "L" + figure
	}
	return "R" + figure
}

// significant writes v with at most the given number of significant figures, no
// trailing zeros beyond the decimals asked for, and no exponent.
func significant(v float64, figures, decimals int) string {
	if v == 0 {
		return strconv.FormatFloat(0, 'f', decimals, 64)
	}
	places := max(figures-1-int(math.Floor(math.Log10(math.Abs(v)))), 0)
	text := strconv.FormatFloat(v, 'f', places, 64)
	for strings.Contains(text, ".") && text[len(text)-1] == '0' && len(text)-1-strings.IndexByte(text, '.') > decimals {
		text = text[:len(text)-1]
	}
	text = strings.TrimSuffix(text, ".")
	if dot := strings.IndexByte(text, '.'); dot < 0 && decimals > 0 {
		text += "." + strings.Repeat("0", decimals)
	}
	return text
}
