package source

import (
	"math"
	"strconv"
	"strings"
)

// exactWhole is the largest whole number up to which a float64 holds every whole number exactly.
const exactWhole = 1 << 53

// FormatNumber writes a number as TOML: whole numbers up to 2^53 as an integer ("120"), others as the
// shortest decimal that reads back to the same float64 ("28.5"), silence as "-inf". It never writes an
// exponent, and writes zero without a sign.
func FormatNumber(v float64) string {
	if v == math.Trunc(v) && math.Abs(v) <= exactWhole {
		return strconv.FormatInt(int64(v), 10)
	}
	return formatFloat(v, 1)
}

// formatFloat writes a number that TOML reads as a float, with at least so many decimals (1 or more) and
// as many more as the value needs to read back the same.
func formatFloat(v float64, decimals int) string {
	switch {
	case math.IsInf(v, 1):
		return "inf"
	case math.IsInf(v, -1):
		return "-inf"
	case math.IsNaN(v):
		return "nan"
	case v == 0:
		v = 0
	}
	text := strconv.FormatFloat(v, 'f', -1, 64)
	whole, fraction, _ := strings.Cut(text, ".")
	if missing := decimals - len(fraction); missing > 0 {
		fraction += strings.Repeat("0", missing)
	}
	return whole + "." + fraction
}
