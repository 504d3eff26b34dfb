package source

import "testing"

func TestNearestFindsTheWordThatWasMeant(t *testing.T) {
	words := []string{"gain", "frequency", "threshold", "compressor", "lowcut", "on", "q", "low-shelf", "high-shelf", "range"}
	for wrong, right := range map[string]string{
		"gian":       "gain",
		"gan":        "gain",
		"Gain":       "gain",
		"freqency":   "frequency",
		"freq":       "frequency",
		"frequenzy":  "frequency",
		"treshhold":  "threshold",
		"comp":       "compressor",
		"low-cut":    "lowcut",
		"low_cut":    "lowcut",
		"no":         "on",
		"Q":          "q",
		"low shelf":  "low-shelf",
		"hi-shelf":   "high-shelf",
		"rnage":      "range",
		"gains":      "gain",
		"thresholds": "threshold",
	} {
		if got, ok := Nearest(wrong, words); !ok || got != right {
			t.Errorf("Nearest(%q) = %q, %t; want %q", wrong, got, ok, right)
		}
	}
	for _, wrong := range []string{"", "x", "colour", "phantom", "go", "gate", "fr"} {
		if got, ok := Nearest(wrong, words); ok {
			t.Errorf("Nearest(%q) = %q, which nobody would have meant", wrong, got)
		}
	}
}

func TestOfEquallyNearWordsTheEarlierWins(t *testing.T) {
	if got, _ := Nearest("cat", []string{"bat", "hat"}); got != "bat" {
		t.Errorf("got %q", got)
	}
	if got, _ := Nearest("cat", []string{"hat", "bat"}); got != "hat" {
		t.Errorf("got %q", got)
	}
}

func TestDidYouMean(t *testing.T) {
	many := []string{"a1", "b2", "c3", "d4", "e5", "f6", "g7", "h8", "i9"}
	for _, test := range []struct {
		word  string
		words []string
		want  string
	}{
		{"gian", []string{"gain", "q"}, `: did you mean "gain"?`},
		{"colour", []string{"gain", "q"}, ": it is one of gain, q"},
		{"colour", []string{"gain"}, ": it can only be gain"},
		{"colour", many[:8], ": it is one of a1, b2, c3, d4, e5, f6, g7, h8"},
		{"colour", many, ""},
		{"colour", nil, ""},
	} {
		if got := DidYouMean(test.word, test.words); got != test.want {
			t.Errorf("DidYouMean(%q, %q) = %q, want %q", test.word, test.words, got, test.want)
		}
	}
}
