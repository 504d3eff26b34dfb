package trace

import (
	"math"
	"strconv"
	"strings"

	"deskhand/profiles/source"
)

// tomlFloat writes a number with a point in it, as one that may have decimals.
func tomlFloat(v float64) string {
	text := source.FormatNumber(v)
	if !strings.ContainsAny(text, ".n") {
		text += ".0"
	}
	return text
}

// tomlNumber writes a number of the type that it has on the wire.
func tomlNumber(v float64, as string) string {
	if (as == "int" || as == "long") && v == math.Trunc(v) {
		return strconv.FormatInt(int64(v), 10)
	}
	return tomlFloat(v)
}

// wireBetween gives the numbers that stand on the wire at both ends.
func wireBetween(low, high float64, as string) string {
	return "[" + tomlNumber(short(low, as), as) + ", " + tomlNumber(short(high, as), as) + "]"
}

func tomlText(text string) string { return source.Quote(text) }
