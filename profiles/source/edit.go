package source

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// Edit sets the value at a path of keys. When there is no such key yet, it is added where its siblings are.
type Edit struct {
	Path  []string
	Value any // float64 (inf and -inf, but not nan), int64, int, bool or string
}

// patch is new text in place of a stretch of the old, which is empty for an insertion.
type patch struct {
	span
	text string
}

// Apply gives the text with the edits made, and everything else to the byte. An edit that changes no value
// changes no byte. The new text is decoded again and must hold what was meant, and nothing else that
// differs; otherwise there is an error and no text. An error is a *Fault that says what to write by hand.
func (d *Document) Apply(edits ...Edit) ([]byte, error) {
	meant := d.root.tree()
	now := d
	for _, edit := range edits {
		edit, err := d.checked(edit)
		if err != nil {
			return nil, err
		}
		if now, err = now.apply(edit); err != nil {
			return nil, err
		}
		enter(meant, edit.Path, edited{edit.Value})
	}
	if !same(meant, now.root.tree()) {
		return nil, &Fault{d.file, 0, "the edit would change more than was meant, so it was not made; edit this file by hand"}
	}
	return now.Text(), nil
}

// checked refuses what no TOML text can hold.
func (d *Document) checked(edit Edit) (Edit, error) {
	refuse := func(what string) (Edit, error) {
		return edit, &Fault{d.file, 0, fmt.Sprintf("can't set %s: %s", dotted(edit.Path), what)}
	}
	if len(edit.Path) == 0 || len(edit.Path) > maxDepth {
		return refuse(fmt.Sprintf("a path has 1 to %d keys", maxDepth))
	}
	for _, name := range edit.Path {
		if !utf8.ValidString(name) {
			return refuse("a key must be valid UTF-8")
		}
	}
	switch v := edit.Value.(type) {
	case int:
		edit.Value = int64(v)
	case float64:
		if math.IsNaN(v) {
			return refuse("nan is no setting")
		}
	case string:
		if !utf8.ValidString(v) {
			return refuse("a text must be valid UTF-8")
		}
	case int64, bool:
	default:
		return refuse(fmt.Sprintf("a value of type %T can't be written", v))
	}
	return edit, nil
}

// apply makes one edit and reads the outcome. Of the places where a new key could stand, the first
// that TOML allows and that changes nothing else is taken.
func (d *Document) apply(edit Edit) (*Document, error) {
	meant := d.root.tree()
	table, rest, err := d.descend(edit)
	if err != nil {
		return nil, err
	}
	var ways [][]patch
	if len(rest) == 0 {
		if sameScalar(table.decoded, edit.Value) {
			return d, nil
		}
		ways = [][]patch{{{table.value.span, restyle(d.raw(table.value.span), edit.Value)}}}
	} else {
		ways = d.waysToAdd(table, rest, edit.Value)
	}
	enter(meant, edit.Path, edited{edit.Value})
	for _, way := range ways {
		next, err := Parse(d.file, d.patched(way))
		if err == nil && same(meant, next.root.tree()) {
			return next, nil
		}
	}
	return nil, d.byHand(edit, table.line, "there is no place where it can be put without a risk")
}

// descend follows the path of an edit as far as the document goes: to the value there is, with no rest,
// or to the last table there is, with the names that are missing below it.
func (d *Document) descend(edit Edit) (*node, []string, error) {
	at := d.root
	for i, name := range edit.Path {
		child := at.child(name)
		last := i == len(edit.Path)-1
		switch {
		case child == nil:
			return at, edit.Path[i:], nil
		case child.isTables:
			return nil, nil, d.byHand(edit, child.line, fmt.Sprintf("%q is a list of tables, and the path doesn't say which", name))
		case child.isTable && last:
			return nil, nil, d.byHand(edit, child.line, fmt.Sprintf("%q is a table", name))
		case !child.isTable && !last:
			return nil, nil, d.byHand(edit, child.line, fmt.Sprintf("%q is %s, so nothing can be inside it", name, d.kindOf(child)))
		case child.isList():
			return nil, nil, d.byHand(edit, child.line, fmt.Sprintf("%q is a list", name))
		}
		at = child
	}
	return at, nil, nil
}

// byHand is the fault of an edit that can't be made.
func (d *Document) byHand(edit Edit, line int, why string) *Fault {
	return &Fault{d.file, line, fmt.Sprintf("can't set %s: %s; write %s = %s by hand where you want it",
		dotted(edit.Path), why, dotted(edit.Path), restyle("", edit.Value))}
}

// raw is a stretch of the text as written.
func (d *Document) raw(s span) string { return string(d.text[s.start:s.end]) }

// patched is the text with the patches made.
func (d *Document) patched(patches []patch) []byte {
	slices.SortStableFunc(patches, func(a, b patch) int { return a.start - b.start })
	var text []byte
	at := 0
	for _, p := range patches {
		text = append(text, d.text[at:p.start]...)
		text = append(text, p.text...)
		at = p.end
	}
	return append(text, d.text[at:]...)
}

// edited marks a value of a tree that was put there by an edit: it may be written as an integer or as
// a float, whichever is the style of its place.
type edited struct{ value any }

// enter sets a value in a decoded tree. descend has seen that the path is free.
func enter(tree map[string]any, path []string, value any) {
	for _, name := range path[:len(path)-1] {
		table, ok := tree[name].(map[string]any)
		if !ok {
			table = map[string]any{}
			tree[name] = table
		}
		tree = table
	}
	tree[path[len(path)-1]] = value
}

// same reports whether a decoded text holds what was meant.
func same(want, got any) bool {
	switch want := want.(type) {
	case edited:
		return sameScalar(want.value, got)
	case map[string]any:
		got, ok := got.(map[string]any)
		if !ok || len(want) != len(got) {
			return false
		}
		for key, value := range want {
			other, ok := got[key]
			if !ok || !same(value, other) {
				return false
			}
		}
		return true
	case []any:
		got, ok := got.([]any)
		return ok && slices.EqualFunc(want, got, same)
	case []map[string]any:
		got, ok := got.([]map[string]any)
		return ok && slices.EqualFunc(want, got, func(a, b map[string]any) bool { return same(a, b) })
	case float64:
		got, ok := got.(float64)
		return ok && math.Float64bits(want) == math.Float64bits(got)
	case time.Time:
		got, ok := got.(time.Time)
		return ok && want.Equal(got) && want.String() == got.String()
	}
	return want == got
}

// sameScalar compares an edit's value with a decoded one; numbers are equal whichever way they are written.
func sameScalar(a, b any) bool {
	switch a := a.(type) {
	case int64:
		switch b := b.(type) {
		case int64:
			return a == b
		case float64:
			return sameNumber(a, b)
		}
		return false
	case float64:
		switch b := b.(type) {
		case int64:
			return sameNumber(b, a)
		case float64:
			return a == b
		}
		return false
	case string:
		b, ok := b.(string)
		return ok && a == b
	case bool:
		b, ok := b.(bool)
		return ok && a == b
	}
	return false
}

// sameNumber compares exactly, without rounding the integer to a float.
func sameNumber(i int64, f float64) bool {
	return f >= -1<<63 && f < 1<<63 && f == math.Trunc(f) && int64(f) == i
}

// keyText writes one name of a key, with quotes only if it needs them.
func keyText(name string) string {
	if name == "" || strings.ContainsFunc(name, func(r rune) bool { return r >= utf8.RuneSelf || !isBare(byte(r)) }) {
		return basicText(name)
	}
	return name
}
