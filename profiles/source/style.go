package source

import (
	"math"
	"strconv"
	"strings"
)

// restyle writes a value in the style of one that is there already; raw is "" when there is none. Where
// the old style can't hold the new value, the plainest that can is taken.
func restyle(raw string, value any) string {
	switch v := value.(type) {
	case bool:
		return strconv.FormatBool(v)
	case string:
		return restyleText(raw, v)
	case int64:
		return styleOf(raw).whole(v)
	case float64:
		return styleOf(raw).number(v)
	}
	return ""
}

// numberStyle is how a person writes a number.
type numberStyle struct {
	known    bool // there was a number to go by
	decimals int  // 0 is an integer
	plus     bool // positive numbers have a sign
}

// styleOf reads the style of a number as written. Exponents, underscores and other bases are not
// carried over, only whether it was an integer.
func styleOf(raw string) numberStyle {
	digits := strings.TrimLeft(raw, "+-")
	style := numberStyle{known: true, plus: strings.HasPrefix(raw, "+")}
	whole, fraction, isDecimal := strings.Cut(digits, ".")
	switch {
	case digits == "inf":
		style.decimals = 1
	case !startsWithDigit(whole) || strings.ContainsAny(raw, ":TZtz ") || strings.Contains(whole, "-"):
		return numberStyle{} // a date, a text or nothing
	case isPrefixed(digits):
		style.decimals = 0
	case strings.ContainsAny(digits, "eE"):
		style.decimals = 1
	case isDecimal:
		style.decimals = len(strings.ReplaceAll(fraction, "_", ""))
	}
	return style
}

func startsWithDigit(text string) bool { return text != "" && text[0] >= '0' && text[0] <= '9' }

// isPrefixed reports whether a number is written to base 2, 8 or 16.
func isPrefixed(digits string) bool {
	return len(digits) > 2 && digits[0] == '0' && strings.IndexByte("xob", digits[1]) >= 0
}

// number writes a number; an integer stays one as long as the value is whole.
func (s numberStyle) number(v float64) string {
	if !s.known || s.decimals == 0 {
		return s.sign(v) + FormatNumber(v)
	}
	return s.sign(v) + formatFloat(v, s.decimals)
}

// whole writes a whole number; where there was a float it stays one, unless that would lose digits.
func (s numberStyle) whole(v int64) string {
	if s.decimals == 0 || v > exactWhole || v < -exactWhole {
		return s.sign(float64(v)) + strconv.FormatInt(v, 10)
	}
	return s.number(float64(v))
}

func (s numberStyle) sign(v float64) string {
	if s.plus && (v > 0 || v == 0) && !math.IsInf(v, 0) {
		return "+"
	}
	return ""
}

// restyleText keeps the kind of quotes where the text can stand between them.
func restyleText(raw, text string) string {
	const threeDouble, threeSingle = `"""`, `'''`
	switch {
	case strings.HasPrefix(raw, threeDouble):
		return threeDouble + openingLine(raw, text) + multilineText(text) + threeDouble
	case strings.HasPrefix(raw, threeSingle):
		if strings.ContainsFunc(text, isNoLine) || hasLoneReturn(text) || strings.Contains(text, threeSingle) || strings.HasSuffix(text, "'") {
			return threeDouble + openingLine(raw, text) + multilineText(text) + threeDouble
		}
		return threeSingle + openingLine(raw, text) + text + threeSingle
	case strings.HasPrefix(raw, "'") && !strings.ContainsFunc(text, isControl) && !strings.Contains(text, "'"):
		return "'" + text + "'"
	}
	return basicText(text)
}

// openingLine is the line end after the opening quotes, which is no part of the text. It is needed when
// the text itself begins with one.
func openingLine(raw, text string) string {
	switch {
	case strings.HasPrefix(raw[3:], "\r\n"):
		return "\r\n"
	case strings.HasPrefix(raw[3:], "\n") || strings.HasPrefix(text, "\n") || strings.HasPrefix(text, "\r\n"):
		return "\n"
	}
	return ""
}

// isNoLine reports whether a character can't stand in a text of several lines as it is.
func isNoLine(r rune) bool { return isControl(r) && r != '\n' && r != '\r' }

// hasLoneReturn reports whether there is a carriage return that ends no line.
func hasLoneReturn(text string) bool {
	return strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\r")
}

// multilineText writes the inside of a text between three double quotes.
func multilineText(text string) string {
	var b strings.Builder
	quotes := 0
	for i, r := range text {
		if r != '"' {
			quotes = 0
		}
		switch {
		case r == '"':
			quotes++
			if quotes == 3 || i == len(text)-1 {
				b.WriteByte('\\')
				quotes = 0
			}
			b.WriteByte('"')
		case r == '\n', r == '\r' && strings.HasPrefix(text[i:], "\r\n"):
			b.WriteRune(r)
		default:
			b.WriteString(escaped(r))
		}
	}
	return b.String()
}
