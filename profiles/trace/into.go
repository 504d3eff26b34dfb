package trace

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"deskhand/profiles/source"

	"github.com/BurntSushi/toml"
)

// change is one key to be set in a profile.
type change struct {
	table string // "" for none
	path  []string
	toml  string
}

// changes lists what the findings put into a profile, in order.
func (f *Findings) changes() []change {
	var list []change
	for _, line := range f.Lines {
		list = append(list, change{line.Table, []string{line.Key}, line.TOML})
	}
	for _, e := range f.Entries {
		list = append(list, change{e.Part.String(), strings.Split(e.Name, "."), e.inline()})
	}
	return list
}

// Into gives the text of a profile with the findings in it, and everything else to the
// byte. What is there with another value is replaced where it stands on one line of its
// own. The error, a [source.Fault], says what to write by hand.
func (f *Findings) Into(file string, text []byte) ([]byte, error) {
	text, err := f.withCounts(file, text)
	if err != nil {
		return nil, err
	}
	for _, c := range f.changes() {
		next, err := c.into(file, text)
		if err != nil {
			return nil, err
		}
		text = next
	}
	return text, nil
}

// withCounts puts how many there are into the head of a profile.
func (f *Findings) withCounts(file string, text []byte) ([]byte, error) {
	var edits []source.Edit
	for _, c := range counters {
		if n := f.Counts[c]; n > 0 {
			edits = append(edits, source.Edit{Path: []string{plurals[c]}, Value: n})
		}
	}
	if len(edits) == 0 {
		return text, nil
	}
	head, err := source.Parse(file, text)
	if err != nil {
		return nil, err
	}
	return head.Apply(edits...)
}

// into makes one change, in the first of the places where it changes nothing else.
func (c change) into(file string, text []byte) ([]byte, error) {
	before, err := decode(text)
	if err != nil {
		return nil, err
	}
	value, err := decode([]byte("x = " + c.toml))
	if err != nil {
		return nil, fmt.Errorf("what was made of %s is no TOML: %w", strings.Join(c.path, "."), err)
	}
	at := append([]string{c.table}, c.path...)
	if held, ok := lookUp(before, at); ok && reflect.DeepEqual(plain(held), plain(value["x"])) {
		return text, nil
	}
	want := set(before, at, value["x"])
	for _, way := range c.ways(text) {
		if after, err := decode(way); err == nil && reflect.DeepEqual(plain(want), plain(after)) {
			return way, nil
		}
	}
	return nil, &source.Fault{File: file, What: fmt.Sprintf("there is no place where %s can be put without a risk; write it into [%s] by hand: %s = %s",
		strings.Join(c.path, "."), c.table, strings.Join(c.path, "."), c.toml)}
}

func decode(text []byte) (map[string]any, error) {
	var v map[string]any
	err := toml.Unmarshal(text, &v)
	return v, err
}

// plain makes lists of tables alike, whichever way the decoder gives them.
func plain(v any) any {
	switch v := v.(type) {
	case map[string]any:
		out := make(map[string]any, len(v))
		for key, x := range v {
			out[key] = plain(x)
		}
		return out
	case []map[string]any:
		out := make([]any, len(v))
		for i, x := range v {
			out[i] = plain(x)
		}
		return out
	case []any:
		out := make([]any, len(v))
		for i, x := range v {
			out[i] = plain(x)
		}
		return out
	}
	return v
}

func lookUp(v any, path []string) (any, bool) {
	for _, key := range path {
		t, ok := v.(map[string]any)
		if !ok {
			return nil, false
		}
		if v, ok = t[key]; !ok {
			return nil, false
		}
	}
	return v, true
}

// set is a copy of a tree with one value in it.
func set(tree map[string]any, path []string, value any) map[string]any {
	out := make(map[string]any, len(tree)+1)
	for key, v := range tree {
		out[key] = v
	}
	if len(path) == 1 {
		out[path[0]] = value
		return out
	}
	inner, _ := tree[path[0]].(map[string]any)
	out[path[0]] = set(inner, path[1:], value)
	return out
}

// ways lists the texts that might be meant, the one that reads best first.
func (c change) ways(text []byte) [][]byte {
	lines := bytes.SplitAfter(text, []byte("\n"))
	if last := len(lines) - 1; len(lines[last]) == 0 {
		lines = lines[:last]
	} else {
		lines[last] = append(slices.Clone(lines[last]), '\n') // the last line had no end
	}
	eol := "\n"
	if bytes.Contains(text, []byte("\r\n")) {
		eol = "\r\n"
	}
	line := strings.Join(c.path, ".") + " = " + c.toml + eol
	put := func(from, to int, added string) []byte {
		return slices.Concat(bytes.Join(lines[:from], nil), []byte(added), bytes.Join(lines[to:], nil))
	}
	var ways [][]byte
	for i := range lines {
		if headerOf(lines[i]) == c.table {
			ways = append(ways, c.waysIn(lines, i+1, line, eol, put)...)
		}
	}
	if ways != nil {
		return ways
	}
	added := "[" + c.table + "]" + eol + line
	if i := firstPart(lines); i >= 0 && c.table != "channel" && c.table != "mix" && c.table != "main" {
		ways = append(ways, put(i, i, added+eol))
	}
	if len(lines) > 0 {
		added = eol + added
	}
	return append(ways, put(len(lines), len(lines), added))
}

// waysIn lists the texts with the change among the lines of a table. What begins the
// table may only look so and stand inside a text: whoever tries the outcome notices.
func (c change) waysIn(lines [][]byte, begin int, line, eol string, put func(from, to int, added string) []byte) [][]byte {
	end := begin
	for end < len(lines) && headerOf(lines[end]) == "" {
		end++
	}
	var ways [][]byte
	for i := begin; i < end; i++ {
		if key, rest, ok := strings.Cut(string(lines[i]), "="); ok && strings.TrimSpace(key) == strings.Join(c.path, ".") {
			ways = append(ways, put(i, i+1, key+"= "+c.toml+commentOf(rest)+eol))
		}
	}
	// After the last key of the table; a comment before the next header belongs to that.
	last := end
	for last > begin && isRemark(lines[last-1]) {
		last--
	}
	return append(ways, put(last, last, line), put(begin, begin, line))
}

// headerOf gives the table that a line begins, "" for none.
func headerOf(line []byte) string {
	text := strings.TrimSpace(string(line))
	if !strings.HasPrefix(text, "[") {
		return ""
	}
	inside, _, ok := strings.Cut(text[1:], "]")
	if !ok {
		return ""
	}
	return strings.TrimSpace(inside)
}

// firstPart is the line where the parameters begin, with the remarks before it, or -1.
func firstPart(lines [][]byte) int {
	i := slices.IndexFunc(lines, func(line []byte) bool {
		return slices.Contains([]string{"curves", "channel", "mix", "main"}, headerOf(line))
	})
	for i > 0 && bytes.HasPrefix(bytes.TrimSpace(lines[i-1]), []byte("#")) {
		i--
	}
	return i
}

// isRemark reports whether a line has no key on it.
func isRemark(line []byte) bool {
	line = bytes.TrimSpace(line)
	return len(line) == 0 || line[0] == '#'
}

// commentOf is the remark after a value that ends on its line, with the space before it.
func commentOf(rest string) string {
	rest = strings.TrimRight(rest, "\r\n")
	var quote byte
	for i := 0; i < len(rest); i++ {
		switch b := rest[i]; {
		case quote == '"' && b == '\\':
			i++
		case quote != 0 && b == quote:
			quote = 0
		case quote == 0 && (b == '"' || b == '\''):
			quote = b
		case quote == 0 && b == '#':
			return rest[len(strings.TrimRight(rest[:i], " \t")):]
		}
	}
	return ""
}

// NewProfile is a profile that says no more than what is known before anything was
// learned: a desk that can only be told, until somebody writes how it is asked.
func NewProfile(name, over string, port int, follow string, sizes map[string]int) []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "# Worked out of what the desk sent while its controls were moved. Try it on the\n# mock desk first, and with the amplifiers down.\n\n")
	fmt.Fprintf(&b, "name = %s\n\n", source.Quote(name))
	for _, c := range counters {
		if n := sizes[c]; n > 0 {
			fmt.Fprintf(&b, "%s = %d\n", plurals[c], n)
		}
	}
	fmt.Fprintf(&b, "\n[link]\n")
	if over != "udp" {
		fmt.Fprintf(&b, "over = %s\n", source.Quote(over))
	}
	fmt.Fprintf(&b, "port = %d\n", port)
	if follow != "" {
		fmt.Fprintf(&b, "\n[follow]\nask = %s\n", source.Quote(follow))
	}
	b.WriteString("\n[ask]\nnever = true      # what a desk sends does not say how it is asked: write that here, and [identity]\n")
	return []byte(b.String())
}
