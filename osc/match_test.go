package osc

import (
	"regexp"
	"strings"
	"testing"
)

func TestMatch(t *testing.T) {
	cases := []struct {
		pattern, address string
		want             bool
	}{
		{"/in/1", "/in/1", true},
		{"/in/1", "/in/12", false},
		{"/in/1", "/in/12/level", false},
		{"/in/1/level", "/in/1", false},
		{"/in.1", "/in/1", false},
		{"/in/?", "/in/1", true},
		{"/in/?", "/in/", false},
		{"/in/?", "/in/12", false},
		{"/in?1", "/in/1", false},
		{"/in/*", "/in/12", true},
		{"/in/*", "/in/", true},
		{"/in/*", "/in/1/level", false},
		{"/*/1", "/in/1", true},
		{"/*n*/1", "/channel/1", true},
		{"/**/1", "/in/1", true},
		{"/*", "/", true},
		{"/in/[1-3]", "/in/2", true},
		{"/in/[1-3]", "/in/4", false},
		{"/in/[1-35]", "/in/5", true},
		{"/in/[abc]x", "/in/bx", true},
		{"/in/[!1-3]", "/in/4", true},
		{"/in/[!1-3]", "/in/2", false},
		{"/in/[1!]", "/in/!", true},
		{"/in/[a-]", "/in/-", true},
		{"/in/[-a]", "/in/-", true},
		{"/in/[!-]", "/in/-", false},
		{"/in[!a]1", "/in/1", false},
		{"/in[.-0]1", "/in/1", false},
		{"/in/[[]", "/in/[", true},
		{"/{in,mix}/1", "/mix/1", true},
		{"/{in,mix}/1", "/inmix/1", false},
		{"/in{,put}/1", "/in/1", true},
		{"/in{,put}/1", "/input/1", true},
		{"/{a,ab}{b,}", "/ab", true},
		{"/{a,ab}{b,}", "/abb", true},
		{"/{a}", "/a", true},
		{"/{}a", "/a", true},
		{"/a,b", "/a,b", true},
		{"//level", "/level", true},
		{"//level", "/in/1/level", true},
		{"//level", "/in/1/xlevel", false},
		{"/in//level", "/in/1/eq/level", true},
		{"/in//level", "/in/level", true},
		{"/in//level", "/input/level", false},
		{"/in//level", "/in/level/1", false},
		{"/in//level", "/in//level", true},
		{"/in//*", "/in/1/level", true},
		{"/in//", "/in/1", false},
		{"/in//", "/in/1/", true},
		{"//in//level", "/desk/in/1/level", true},
		{"", "", false},
		{"", "/", false},
		{"/", "", false},
		{"in", "in", false},
		{"*", "/", false},
		{"/", "/", true},
	}
	for _, c := range cases {
		if got := Match(c.pattern, c.address); got != c.want {
			t.Errorf("Match(%q, %q) = %v", c.pattern, c.address, got)
		}
		if got, ok := slowMatch(c.pattern, c.address); !ok || got != c.want {
			t.Errorf("the reference says %v, %v of %q, %q", got, ok, c.pattern, c.address)
		}
	}
}

func TestAPlainAddressIsNoPattern(t *testing.T) {
	for address, want := range map[string]bool{
		"/in/1": false, "/in/a-b!,c": false, "/": false, "": false,
		"/in/?": true, "/*": true, "/[a]": true, "/a]": true, "/{a}": true, "/a}": true, "//a": true, "/a//b": true,
	} {
		if got := IsPattern(address); got != want {
			t.Errorf("%q: %v", address, got)
		}
	}
}

func TestAMalformedPatternMatchesNothing(t *testing.T) {
	for _, pattern := range []string{"/a[", "/a[b", "/a]", "/a{", "/a{b,", "/a}", "/a[]", "/a[!]", "/a[c-a]", "/a{[b],c}", "/a{*}", "/a{b/c}", "/{in,in/1}", "/a{{b}}", "/a{?}"} {
		for _, address := range []string{"/a", "/a[", "/ab", "/a]", "/a{", "/a}", "/a[]", "/a[!]", "/ac", "/a*", "/ab/c", "/a{b}", "/a?", "/a[b", "/in/1", pattern} {
			if Match(pattern, address) {
				t.Errorf("Match(%q, %q)", pattern, address)
			}
		}
		if _, ok := slowMatch(pattern, "/a"); ok {
			t.Errorf("the reference takes %q", pattern)
		}
	}
}

// Pieces of a well-formed pattern, as a regular expression.
var piece = regexp.MustCompile(`^(?s:\?|\*|\[!?[^\]]+\]|\{[^*?\[\]{}/]*\}|//|[^\]\[{}])`)

// slowMatch is Match as a translation into a regular expression of Go's, which is right but slow. It gives ok false
// for a malformed pattern.
func slowMatch(pattern, address string) (matched, ok bool) {
	if !strings.HasPrefix(pattern, "/") || !strings.HasPrefix(address, "/") {
		return false, true
	}
	var translated strings.Builder
	translated.WriteString(`^(?s:`)
	for pattern != "" {
		p := piece.FindString(pattern)
		if p == "" {
			return false, false
		}
		pattern = pattern[len(p):]
		part, ok := translate(p)
		if !ok {
			return false, false
		}
		translated.WriteString(part)
	}
	translated.WriteString(`)$`)
	return regexp.MustCompile(translated.String()).MatchString(address), true
}

func translate(p string) (part string, ok bool) {
	switch {
	case p == "?":
		return `[^/]`, true
	case p == "*":
		return `[^/]*`, true
	case p == "//":
		return `/(?:.*/)?`, true
	case p[0] == '[':
		return translateClass(p)
	case p[0] == '{':
		options := strings.Split(p[1:len(p)-1], ",")
		for i := range options {
			options[i] = regexp.QuoteMeta(options[i])
		}
		return `(?:` + strings.Join(options, "|") + `)`, true
	default:
		return regexp.QuoteMeta(p), true
	}
}

// translateClass lists the characters one by one, so that nothing depends on what a class means in Go.
func translateClass(p string) (part string, ok bool) {
	list := p[1 : len(p)-1]
	except := list[0] == '!'
	if except {
		list = list[1:]
	}
	if list == "" {
		return "", false
	}
	members := ""
	for list != "" {
		if len(list) >= 3 && list[1] == '-' {
			if list[0] > list[2] {
				return "", false
			}
			for c := int(list[0]); c <= int(list[2]); c++ {
				members += string(rune(c))
			}
			list = list[3:]
			continue
		}
		members += list[:1]
		list = list[1:]
	}
	var options []string
	for c := range 128 {
		if c != '/' && strings.ContainsRune(members, rune(c)) != except {
			options = append(options, regexp.QuoteMeta(string(rune(c))))
		}
	}
	if len(options) == 0 {
		return `[^\s\S]`, true
	}
	return `(?:` + strings.Join(options, "|") + `)`, true
}

func FuzzMatch(f *testing.F) {
	f.Add("/in/[1-3]/{a,b}*?//x", "/in/2/ab/c/x")
	f.Add("/a[!b-", "/ac")
	f.Add("/{a,ab}{b,}", "/abb")
	f.Add("/[!!]", "/a")
	f.Fuzz(func(t *testing.T, pattern, address string) {
		got := Match(pattern, address)
		if len(pattern) > 200 || len(address) > 200 || !isASCII(pattern) || !isASCII(address) {
			return // The reference is slow, and counts characters in UTF-8.
		}
		want, ok := slowMatch(pattern, address)
		if got != (want && ok) {
			t.Errorf("Match(%q, %q) = %v", pattern, address, got)
		}
	})
}

func isASCII(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool { return r > 127 })
}

func BenchmarkMatch(b *testing.B) {
	long := "/" + strings.Repeat("a", 500) + "b"
	levels := strings.Repeat("/a", 250) + "/b"
	for _, c := range []struct{ name, pattern, address string }{
		{"plain", "/channel/3/eq/2/gain", "/channel/3/eq/2/gain"},
		{"usual", "/channel/[1-4]/eq/*/gain", "/channel/3/eq/2/gain"},
		{"stars", "/" + strings.Repeat("*a", 250) + "c", long},
		{"choices", "/" + strings.Repeat("{a,aa,aaa}", 50) + "c", long},
		{"slashes", strings.Repeat("//a", 160) + "/c", levels},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Match(c.pattern, c.address)
			}
		})
	}
}
