package trace

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"deskhand/profiles/source"
)

// counting says how a desk writes the numbers of one counter, as [numbers] of a profile
// does. No stretch at all is the number as people count.
type counting []stretch

// stretch is a run of numbers that are written in one way.
type stretch struct {
	from, upto    int // upto is 0 for the rest
	first, digits int
	words         []string
	before, after string
}

// of is the stretch of a number.
func (c counting) of(n int) (stretch, bool) {
	if len(c) == 0 {
		return stretch{from: 1, first: 1}, true
	}
	for _, s := range c {
		if n >= s.from && (s.upto == 0 || n <= s.upto) {
			return s, true
		}
	}
	return stretch{}, false
}

// word is the number as it stands in an address, bare as it stands among arguments.
func (c counting) word(n int) (string, bool) {
	s, ok := c.of(n)
	if !ok {
		return "", false
	}
	if len(s.words) > 0 {
		return s.before + s.words[n-s.from] + s.after, true
	}
	return fmt.Sprintf("%s%0*d%s", s.before, s.digits, n-s.from+s.first, s.after), true
}

// usual reports whether this is how people count.
func (c counting) usual() bool {
	return len(c) == 0 || len(c) == 1 && c[0].first == 1 && c[0].digits == 0 && len(c[0].words) == 0 && c[0].before == "" && c[0].after == ""
}

// toml gives the counting as [numbers] has it.
func (c counting) toml() string {
	var stretches []string
	for _, s := range c {
		var keys []string
		add := func(key, value string) { keys = append(keys, key+" = "+value) }
		if s.upto > 0 && len(s.words) == 0 {
			add("upto", strconv.Itoa(s.upto))
		}
		if s.before+s.after != "" {
			add("write", source.Quote(s.before+"{}"+s.after))
		}
		if len(s.words) > 0 {
			add("words", tomlTexts(s.words))
		} else if s.first != s.from {
			add("first", strconv.Itoa(s.first))
		}
		if s.digits > 0 {
			add("digits", strconv.Itoa(s.digits))
		}
		if len(keys) == 0 {
			add("first", strconv.Itoa(s.first))
		}
		stretches = append(stretches, "{ "+strings.Join(keys, ", ")+" }")
	}
	return "[" + strings.Join(stretches, ", ") + "]"
}

func tomlTexts(words []string) string {
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = source.Quote(w)
	}
	return "[" + strings.Join(quoted, ", ") + "]"
}

// wanted is the error of what can only be known by moving the control at another
// number, too.
type wanted struct {
	counter string
	number  int
}

func (w wanted) Error() string {
	return fmt.Sprintf("it must be moved at %s %d, too", w.counter, w.number)
}

// varying splits texts that differ into what all begin with, what differs, and what all
// end with. What differs is whole numbers, or whole parts of an address.
func varying(texts map[int]string) (before, after string, words map[int]string) {
	var all []string
	for _, n := range slices.Sorted(maps.Keys(texts)) {
		all = append(all, texts[n])
	}
	before, after = all[0], all[0]
	for _, text := range all[1:] {
		for !strings.HasPrefix(text, before) {
			before = before[:len(before)-1]
		}
	}
	before = strings.TrimRight(before, "0123456789")
	for _, text := range all {
		for !strings.HasSuffix(text[len(before):], after) {
			after = after[1:]
		}
	}
	after = strings.TrimLeft(after, "0123456789")
	words = make(map[int]string)
	cut := func() bool {
		figures := true
		for n, text := range texts {
			words[n] = text[len(before) : len(text)-len(after)]
			figures = figures && isFigures(words[n])
		}
		return figures
	}
	if cut() {
		return before, after, words
	}
	before = before[:strings.LastIndexByte(before, '/')+1]
	if i := strings.IndexByte(after, '/'); i >= 0 {
		after = after[i:]
	} else {
		after = ""
	}
	cut()
	return before, after, words
}

func isFigures(text string) bool { return text != "" && strings.Trim(text, "0123456789") == "" }

var numberWord = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^([^0-9]*)([0-9]{1,9})([^0-9]*)$`) })

// learnCounting works out how numbers are written from the words for some of them, of so
// many in all.
func learnCounting(counter string, words map[int]string, count int) (counting, error) {
	if count < 1 {
		return nil, fmt.Errorf("how many %s has the desk? the profile, or a line \"# desk: %s N\", must say", plurals[counter], plurals[counter])
	}
	numbers := slices.Sorted(maps.Keys(words))
	for _, n := range numbers {
		if !numberWord().MatchString(words[n]) {
			return learnWords(counter, words, count)
		}
	}
	if last := numbers[len(numbers)-1]; last < count {
		return nil, wanted{counter, count}
	}
	var c counting
	for _, n := range numbers {
		parts := numberWord().FindStringSubmatch(words[n])
		value, _ := strconv.Atoi(parts[2])
		s := stretch{from: n, upto: n, first: value, before: parts[1], after: parts[3]}
		if len(parts[2]) > 1 && parts[2][0] == '0' {
			s.digits = len(parts[2])
		}
		if k := len(c) - 1; k >= 0 && c[k].goesOn(s) {
			c[k].upto, c[k].digits = n, max(c[k].digits, s.digits)
			continue
		}
		if c = append(c, s); len(c) > maxStretches {
			return nil, fmt.Errorf("the desk counts its %s in more than %d ways: write [numbers] by hand", plurals[counter], maxStretches)
		}
	}
	if err := c.join(counter); err != nil {
		return nil, err
	}
	for n, word := range words {
		if got, _ := c.word(n); got != word {
			return nil, fmt.Errorf("how the desk counts its %s can't be made out: number %d is %q", plurals[counter], n, word)
		}
	}
	return c, nil
}

// goesOn reports whether a number goes on in the way of a stretch.
func (s stretch) goesOn(next stretch) bool {
	return s.before == next.before && s.after == next.after && next.first-next.from == s.first-s.from
}

// join makes stretches out of what was seen of each: where one ends and the next
// begins is known if both numbers were seen, and asked for if not.
func (c counting) join(counter string) error {
	c[0].first -= c[0].from - 1
	c[0].from = 1
	for i := 1; i < len(c); i++ {
		last, from := c[i-1].upto, c[i].from
		if from == last+1 {
			continue
		}
		// A new stretch mostly begins as the first did.
		if begins := from - (c[i].first - c[0].first); begins > last && begins <= from {
			if begins == from {
				return wanted{counter, from - 1}
			}
			return wanted{counter, begins}
		}
		return wanted{counter, (last + from) / 2}
	}
	c[len(c)-1].upto = 0
	return nil
}

// maxStretches bounds the ways in which a desk counts one thing.
const maxStretches = 32

// maxNamed bounds the numbers that a desk has words for.
const maxNamed = 32

// learnWords takes words that are no numbers: each must be seen, but for single letters
// in their order.
func learnWords(counter string, words map[int]string, count int) (counting, error) {
	numbers := slices.Sorted(maps.Keys(words))
	if count > maxNamed {
		n := numbers[0]
		return nil, fmt.Errorf("%s %d is %q, which is no number, and there are %d of them: write [numbers] by hand", counter, n, words[n], count)
	}
	inOrder := count <= 26
	for _, n := range numbers {
		w := words[n]
		inOrder = inOrder && len(w) == 1 && int(w[0])-n == int(words[numbers[0]][0])-numbers[0] && isLetter(w[0]-byte(n-1)) && isLetter(w[0]+byte(count-n))
	}
	s := stretch{from: 1, upto: count}
	for n := 1; n <= count; n++ {
		w, seen := words[n]
		if !seen && !inOrder {
			return nil, wanted{counter, n}
		}
		if !seen {
			w = string(words[numbers[0]][0] + byte(n-numbers[0]))
		}
		if slices.Contains(s.words, w) {
			return nil, fmt.Errorf("two %s have the same name %q in the messages", plurals[counter], w)
		}
		s.words = append(s.words, w)
	}
	return counting{s}, nil
}

func isLetter(b byte) bool { return b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z' }
