package source

import (
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Nearly every file that a person writes is plain: keys without quotes, tables under headers or in
// braces on one line, and as values true, false, decimal numbers and texts without escapes on one line.
// What such a text holds is read here, at a third of the decoder's cost. As soon as anything else is in
// it, such as a date, a \ in double quotes, a list or a list of tables, the decoder reads the whole of it.
// A text is plain only if the decoder takes it and comes to the same values, to which FuzzParse holds both.

// isPlainText reports whether a text has only characters that may stand anywhere in a plain one.
func isPlainText(text string) bool {
	ascii := true
	for i := range len(text) {
		switch c := text[i]; {
		case c >= utf8.RuneSelf:
			ascii = false
		case c < ' ' && c != '\n' && c != '\t' || c == 0x7f:
			return false
		}
	}
	return ascii || utf8.ValidString(text) && markLength([]byte(text[:min(len(text), 3)])) == 0
}

// plainText gives what a text in quotes holds. It is on one line, or the scanner would not have come here.
func plainText(raw string) (any, bool) {
	inner := raw[1 : len(raw)-1]
	return inner, raw[0] == '\'' || strings.IndexByte(inner, '\\') < 0
}

// plainValue gives what a value without quotes or brackets holds.
func plainValue(word string) (any, bool) {
	switch word {
	case "true":
		return true, true
	case "false":
		return false, true
	case "inf", "+inf":
		return math.Inf(1), true
	case "-inf":
		return math.Inf(-1), true
	}
	whole, fraction, hasFraction := strings.Cut(word, ".")
	if !isPlainWhole(whole) || hasFraction && !isDigits(fraction) {
		return nil, false
	}
	if hasFraction {
		v, err := strconv.ParseFloat(word, 64)
		return v, err == nil
	}
	v, err := strconv.ParseInt(word, 10, 64)
	return v, err == nil
}

// isPlainWhole reports whether a word is a whole number in decimal digits, without a nought in front.
func isPlainWhole(word string) bool {
	if word != "" && (word[0] == '+' || word[0] == '-') {
		word = word[1:]
	}
	return isDigits(word) && (word[0] != '0' || len(word) == 1)
}

func isDigits(word string) bool {
	for i := range len(word) {
		if word[i] < '0' || word[i] > '9' {
			return false
		}
	}
	return word != ""
}
