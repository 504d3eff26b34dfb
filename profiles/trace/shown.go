package trace

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"deskhand/profiles"
)

// shown is a number as a desk shows it.
type shown struct {
	value float64
	// slack is how far the real value may be away, since a display rounds.
	slack float64
}

// octaveWords are what a desk writes after a width that it counts in octaves, the
// longest first.
var octaveWords = []string{"octaves", "octave", "oct"}

// cutOctaves gives the figure of a width in octaves, if that is what a text says.
func cutOctaves(text string) (figure string, ok bool) {
	short := strings.TrimSuffix(strings.TrimSpace(text), ".")
	for _, word := range octaveWords {
		if n := len(short) - len(word); n >= 0 && strings.EqualFold(short[n:], word) {
			return strings.TrimSpace(short[:n]), true
		}
	}
	return text, false
}

// isQ reports whether what a desk shows says itself that it is a Q.
func isQ(text string) bool { return strings.HasPrefix(strings.TrimSpace(text), "Q") }

// meets reports whether a value may be what was shown.
func (s shown) meets(v float64) bool {
	if math.IsInf(s.value, -1) {
		return math.IsInf(v, -1)
	}
	return math.Abs(v-s.value) <= s.slack*1.0001+1e-6*math.Abs(s.value)
}

var shownNumber = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^([+-]?)([0-9]{1,9})(?:\.([0-9]{1,9}))?$`) })

// parseShown reads what a desk shows: -6.0 dB, 2.5 kHz, 3:1, L30, -inf.
func parseShown(text string, unit profiles.Unit) (shown, error) {
	figure, factor := strings.TrimSpace(text), 1.0
	none := fmt.Errorf("%q is no number in %s: write it as -6.0 dB, 2.5 kHz or -inf", text, unit)
	cut := func(suffix string) bool {
		rest, ok := strings.CutSuffix(figure, suffix)
		if ok {
			figure = strings.TrimSpace(rest)
		}
		return ok
	}
	switch unit {
	case profiles.Hertz:
		if cut("kHz") || cut("k") {
			factor = 1000
		} else {
			_ = cut("Hz")
		}
	case profiles.Millis:
		if !cut("ms") && cut("s") {
			factor = 1000
		}
	case profiles.PanUnit:
		switch {
		case figure == "centre" || figure == "C":
			figure = "0"
		case strings.HasPrefix(figure, "L"):
			figure, factor = strings.TrimSpace(figure[1:]), -1
		case strings.HasPrefix(figure, "R"):
			figure = strings.TrimSpace(figure[1:])
		}
	case profiles.Quality:
		figure, _ = cutOctaves(figure)
		figure = strings.TrimSpace(strings.TrimPrefix(figure, "Q"))
	case profiles.NoUnit:
	default:
		_ = cut(string(unit))
	}
	if unit == profiles.Decibel && (figure == "-inf" || figure == "-∞") {
		return shown{value: math.Inf(-1)}, nil
	}
	parts := shownNumber().FindStringSubmatch(figure)
	if parts == nil {
		return shown{}, none
	}
	v, err := strconv.ParseFloat(figure, 64)
	if err != nil {
		return shown{}, none
	}
	return shown{value: v * factor, slack: math.Abs(factor) * 0.5 * math.Pow10(-len(parts[3]))}, nil
}
