package osc

import "strings"

// Match reports whether a pattern matches the whole of an address. Both start with a slash.
//
//	?          one character, but no slash
//	*          any number of characters, but no slash
//	[a-z]      one character of those; also lists ([abc]), and both mixed; a minus at either end is itself
//	[!a-z]     one character but those, and no slash
//	{one,two}  one of those strings, which are plain text and may be empty
//	//         a slash, or a slash with any number of whole parts and their slashes after it (OSC 1.1)
//
// A malformed pattern matches nothing: a bracket or brace without its partner, an empty list [] or [!], a range whose
// ends are the wrong way round, or a character with a meaning (* ? [ { /) inside braces. Characters are bytes, as OSC addresses
// are ASCII.
//
// No pattern takes more than in the order of len(pattern) x len(address) steps.
func Match(pattern, address string) bool {
	if !strings.HasPrefix(pattern, "/") || !strings.HasPrefix(address, "/") {
		return false
	}
	if !IsPattern(pattern) {
		return pattern == address
	}
	return newMatching(address).match(pattern)
}

// IsPattern reports whether an address has any character that means something else than itself to Match.
func IsPattern(address string) bool {
	return strings.ContainsAny(address, "?*[]{}") || strings.Contains(address, "//")
}

// matching holds all positions of the address up to which the pattern so far matches. As the whole set moves on
// together, nothing is ever tried again.
type matching struct {
	address  string
	at, next []bool
	looks    int // at a character of the address or of the pattern, so that a test can bound them
}

func newMatching(address string) *matching {
	m := &matching{address: address, at: make([]bool, len(address)+1), next: make([]bool, len(address)+1)}
	m.at[0] = true
	return m
}

// match moves on by the whole pattern.
func (m *matching) match(pattern string) bool {
	for len(pattern) > 0 {
		length := m.step(pattern)
		if length == 0 {
			return false
		}
		pattern = pattern[length:]
	}
	return m.at[len(m.address)]
}

// step moves on by the first piece of the pattern and gives that piece's length, or 0 if it is malformed.
func (m *matching) step(pattern string) int {
	switch pattern[0] {
	case '?':
		m.one(func(c byte) bool { return c != '/' })
		return 1
	case '*':
		m.many()
		return 1
	case '[':
		return m.class(pattern)
	case '{':
		return m.choice(pattern)
	case ']', '}':
		return 0
	case '/':
		if strings.HasPrefix(pattern, "//") {
			m.anyDepth()
			return 2
		}
	}
	m.one(func(c byte) bool { return c == pattern[0] })
	return 1
}

// one moves every position on over a character that fits.
func (m *matching) one(fits func(byte) bool) {
	for i := len(m.address) - 1; i >= 0; i-- {
		m.looks++
		m.at[i+1] = m.at[i] && fits(m.address[i])
	}
	m.at[0] = false
}

// many lets every position also move on up to the next slash.
func (m *matching) many() {
	for i := range len(m.address) {
		m.looks++
		if m.at[i] && m.address[i] != '/' {
			m.at[i+1] = true
		}
	}
}

// anyDepth moves on over a slash, and over any number of parts and slashes behind it.
func (m *matching) anyDepth() {
	begun := false
	for i := range len(m.address) {
		m.looks++
		begun = begun || m.at[i] && m.address[i] == '/'
		m.next[i+1] = begun && m.address[i] == '/'
	}
	m.swap()
}

func (m *matching) class(pattern string) int {
	end := strings.IndexByte(pattern, ']')
	if end < 0 {
		return 0
	}
	list, except := strings.CutPrefix(pattern[1:end], "!")
	m.looks += end
	listed, ok := parseClass(list)
	if !ok {
		return 0
	}
	m.one(func(c byte) bool { return c != '/' && listed[c] != except })
	return end + 1
}

// parseClass gives the characters that stand between brackets.
func parseClass(list string) (listed [256]bool, ok bool) {
	for i := 0; i < len(list); i++ {
		first, last := list[i], list[i]
		if i+2 < len(list) && list[i+1] == '-' {
			last = list[i+2]
			i += 2
		}
		if first > last {
			return listed, false
		}
		for c := int(first); c <= int(last); c++ {
			listed[c] = true
		}
	}
	return listed, list != ""
}

func (m *matching) choice(pattern string) int {
	end := strings.IndexByte(pattern, '}')
	if end < 0 {
		return 0
	}
	list := pattern[1:end]
	m.looks += end
	if strings.ContainsAny(list, "*?[]{/") {
		return 0
	}
	for text := range strings.SplitSeq(list, ",") {
		for i := range m.at {
			m.looks++
			if m.at[i] {
				m.looks += len(text)
			}
			if m.at[i] && strings.HasPrefix(m.address[i:], text) {
				m.next[i+len(text)] = true
			}
		}
	}
	m.swap()
	return end + 1
}

func (m *matching) swap() {
	m.at, m.next = m.next, m.at
	clear(m.next)
}
