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
	finer := s.finerFor(a, b)
	return s.say(a, finer), s.say(b, finer)
}

// SayStep gives the step from a to b with its sign: "-5.5" for numbers in dB, and
// "" where there is no step, where one means nothing to the ear, or where there is no
// number on both sides. It has as many figures as [Spec.SayBoth] gives the values.
func (s Spec) SayStep(a, b Value) string {
	x, okX := a.Number()
	y, okY := b.Number()
	if !okX || !okY || s.Unit != Decibel || math.IsInf(x, 0) || math.IsInf(y, 0) {
		return ""
	}
	step := fmt.Sprintf("%+.*f", 1+s.finerFor(a, b), y-x)
	if isNought(step) {
		return ""
	}
	return step
}

// finest bounds how many more figures are tried to tell two values apart. No grid
// needs as many.
const finest = 10

// finerFor is how many more figures than usual it takes to tell a and b apart.
func (s Spec) finerFor(a, b Value) int {
	if a == b {
		return 0
	}
	for finer := range finest {
		if s.say(a, finer) != s.say(b, finer) {
			return finer
		}
	}
	return finest
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

// sayNumber gives a number as the trade says it, with so many figures more than usual.
func sayNumber(v float64, unit Unit, finer int) string {
	if math.IsInf(v, 0) {
		figure := "inf "
		if v < 0 {
			figure = "-inf "
		}
		return strings.TrimSpace(figure + string(unit))
	}
	switch unit {
	case Decibel:
		return withoutSignAtNought(strconv.FormatFloat(v, 'f', 1+finer, 64)) + " dB"
	case Hertz:
		if text := significant(v, 3+finer, 0); v < 1000 && text != "1000" {
			return text + " Hz"
		}
		return significant(max(v, 1000)/1000, 3+finer, 1) + " kHz"
	case Quality:
		return significant(v, 2+finer, 1)
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
	case isNought(figure):
		return "centre"
	case v < 0:
		return "L" + figure
	}
	return "R" + figure
}

// isNought reports whether a number as it is written says 0.
func isNought(figure string) bool { return strings.Trim(figure, "+-0.") == "" }

// withoutSignAtNought makes "-0.0" into "0.0".
func withoutSignAtNought(figure string) string {
	if isNought(figure) {
		return strings.TrimPrefix(figure, "-")
	}
	return figure
}

// significant writes v with so many significant figures, and in any case its whole
// part and so many decimals. Further zeros at the end and an exponent are left out.
func significant(v float64, figures, decimals int) string {
	// The exponent is taken after rounding: 0.9996 has three figures as 1.00.
	_, exponent, _ := strings.Cut(strconv.FormatFloat(v, 'e', figures-1, 64), "e")
	magnitude, _ := strconv.Atoi(exponent)
	text := strconv.FormatFloat(v, 'f', max(figures-1-magnitude, decimals), 64)
	whole, fraction, _ := strings.Cut(text, ".")
	for len(fraction) > decimals && strings.HasSuffix(fraction, "0") {
		fraction = fraction[:len(fraction)-1]
	}
	if fraction == "" {
		return whole
	}
	return whole + "." + fraction
}
