package source

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// unescape gives the meaning of what stands between the quotes of a basic text on one line. The
// escapes are those of TOML 1.1, which the decoder reads.
func unescape(inner string) (string, error) {
	var b strings.Builder
	for i := 0; i < len(inner); i++ {
		if inner[i] != '\\' {
			b.WriteByte(inner[i])
			continue
		}
		i++
		if i == len(inner) {
			return "", fmt.Errorf(`a text can't end in a single \`)
		}
		if plain, ok := shortEscape(inner[i]); ok {
			b.WriteByte(plain)
			continue
		}
		digits := hexDigits(inner[i])
		if digits == 0 {
			return "", fmt.Errorf(`\%c means nothing in a text; a single \ is written \\`, inner[i])
		}
		if i+digits >= len(inner) {
			return "", fmt.Errorf(`\%c needs %d hexadecimal digits`, inner[i], digits)
		}
		code, err := strconv.ParseUint(inner[i+1:i+1+digits], 16, 32)
		if err != nil || !utf8.ValidRune(rune(code)) {
			return "", fmt.Errorf(`\%s is no character`, inner[i:i+1+digits])
		}
		b.WriteRune(rune(code))
		i += digits
	}
	return b.String(), nil
}

// shortEscape is the character of an escape of one letter.
func shortEscape(letter byte) (byte, bool) {
	letters, meanings := `btnfre"\`, "\b\t\n\f\r\x1b\"\\"
	i := strings.IndexByte(letters, letter)
	if i < 0 {
		return 0, false
	}
	return meanings[i], true
}

// hexDigits is how many digits follow an escape of this letter.
func hexDigits(letter byte) int {
	switch letter {
	case 'x':
		return 2
	case 'u':
		return 4
	case 'U':
		return 8
	}
	return 0
}

// basicText writes a text between double quotes on one line.
func basicText(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range text {
		b.WriteString(escaped(r))
	}
	b.WriteByte('"')
	return b.String()
}

// escaped writes one character of a text between double quotes.
func escaped(r rune) string {
	switch {
	case r == '"' || r == '\\':
		return `\` + string(r)
	case r == '\n':
		return `\n`
	case r == '\r':
		return `\r`
	case r == '\t':
		return `\t`
	case isControl(r):
		return fmt.Sprintf(`\u%04X`, r)
	}
	return string(r)
}

// isControl reports whether a character can't stand in a TOML text as it is. A tab can.
func isControl(r rune) bool { return r < 0x20 && r != '\t' || r == 0x7f }
