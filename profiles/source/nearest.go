package source

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/agnivade/levenshtein"
)

// shortList is the number of right words up to which a message may list them all.
const shortList = 8

// Nearest finds the right word that someone most likely meant by a wrong one. It reports false when
// none is near enough to be worth suggesting. Near is: the same but for capitals, hyphens and
// underscores; a few slips of the keyboard, of which a swapped pair counts as one; or one word
// beginning the other. Among equally near words the earlier in the list wins.
func Nearest(word string, words []string) (string, bool) {
	best, bestCost := "", -1
	for _, candidate := range words {
		cost, near := distance(word, candidate)
		if near && (bestCost < 0 || cost < bestCost) {
			best, bestCost = candidate, cost
		}
	}
	return best, bestCost >= 0
}

// DidYouMean is the tail of a message about a wrong word: `: did you mean "gain"?`, or, when no word
// is near and there are few, `: it is one of on, gain`, or nothing.
func DidYouMean(word string, words []string) string {
	if nearest, ok := Nearest(word, words); ok {
		return fmt.Sprintf(": did you mean %q?", nearest)
	}
	if len(words) == 0 || len(words) > shortList {
		return ""
	}
	if len(words) == 1 {
		return ": it can only be " + words[0]
	}
	return ": it is one of " + strings.Join(words, ", ")
}

// distance counts the slips between two words; a shared beginning ranks behind every slip. It reports
// false when the words are too far apart to be the same word.
func distance(word, candidate string) (cost int, near bool) {
	a, b := plain(word), plain(candidate)
	if a == b {
		return 0, true
	}
	length := max(utf8.RuneCountInString(a), utf8.RuneCountInString(b))
	slips := levenshtein.ComputeDistance(a, b)
	switch allowed := allowedSlips(length); {
	case swapped(a, b):
		return 1, true
	case slips <= allowed:
		return slips, true
	case begins(a, b) || begins(b, a):
		return allowed + 1, true
	}
	return 0, false
}

// allowedSlips is how many slips still leave a word of this length recognisable: about one in three letters.
func allowedSlips(length int) int {
	switch {
	case length <= 2:
		return 0
	case length <= 5:
		return 1
	case length <= 8:
		return 2
	default:
		return 3
	}
}

// begins reports whether the longer word starts with the shorter, which must have enough letters to mean something.
func begins(longer, shorter string) bool {
	return utf8.RuneCountInString(shorter) >= 3 && strings.HasPrefix(longer, shorter)
}

// plain takes away what people mix up without meaning another word.
func plain(word string) string {
	return strings.NewReplacer("_", "", "-", "", " ", "").Replace(strings.ToLower(word))
}

// swapped reports whether the words differ only in two neighbouring letters that changed places.
func swapped(a, b string) bool {
	x, y := []rune(a), []rune(b)
	if len(x) != len(y) {
		return false
	}
	for i := range x {
		if x[i] == y[i] {
			continue
		}
		return i+1 < len(x) && x[i] == y[i+1] && x[i+1] == y[i] && string(x[i+2:]) == string(y[i+2:])
	}
	return false
}
