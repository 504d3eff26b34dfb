package source

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// reading is what has been asked of one table.
type reading struct {
	known  int      // how many right keys are known, which are those asked for and further ones
	absent []absent // those of them that the table doesn't have, no more than a reader's code names
}

// absent is a right key that a table doesn't have, and the how-manieth it was to become known.
type absent struct {
	word  string
	known int
}

// words are the right keys in the order in which they became known, for suggestions.
func (n *node) words() []string {
	words := make([]string, n.read.known)
	for _, child := range n.keys {
		if child.known > 0 {
			words[child.known-1] = child.name
		}
	}
	for _, a := range n.read.absent {
		words[a.known-1] = a.word
	}
	return words
}

// know looks a key up and remembers that it is a right one.
func (t *Table) know(key string) *node {
	read, n := t.node.read, t.node.child(key)
	switch {
	case n == nil && !slices.ContainsFunc(read.absent, func(a absent) bool { return a.word == key }):
		read.known++
		read.absent = append(read.absent, absent{key, read.known})
	case n != nil && n.known == 0:
		read.known++
		n.known = read.known
	}
	return n
}

// Table is one table of a document, read key by key. A getter reports false when the key is missing, and
// also when its value is of another kind, which is then a fault of the document. A key that no getter
// asked for is unknown.
type Table struct {
	doc  *Document
	node *node
}

// table is a node as a Table, which from now on counts as visited.
func (d *Document) table(n *node) *Table {
	if n.read == nil {
		n.read = &reading{}
	}
	return &Table{d, n}
}

// Line is where the table begins: its header, or the first key that makes it.
func (t *Table) Line() int { return t.node.line }

// Path is the keys that lead to the table; none for the root. An element of a list goes by its place, from 0.
func (t *Table) Path() []string { return t.node.path() }

// Keys are the table's keys in the order of the file.
func (t *Table) Keys() []string {
	keys := make([]string, len(t.node.keys))
	for i, child := range t.node.keys {
		keys[i] = child.name
	}
	return keys
}

// Known adds right words for the suggestions about unknown keys. What getters ask for is known already.
func (t *Table) Known(words ...string) {
	for _, word := range words {
		t.know(word)
	}
}

// ask looks a key up and remembers that it was asked for.
func (t *Table) ask(key string) *node {
	n := t.know(key)
	if n != nil {
		n.wasAsked = true
	}
	return n
}

// Has reports whether the key is there, whatever it holds. To ask is to know it.
func (t *Table) Has(key string) bool { return t.ask(key) != nil }

// LineOf is the line of a key, or of the table when it has no such key.
func (t *Table) LineOf(key string) int {
	if child := t.node.child(key); child != nil {
		return child.line
	}
	return t.node.line
}

// Fault notes a fault on the line of a key, or on the table's when the key is "" or missing.
func (t *Table) Fault(key string, format string, args ...any) {
	if key != "" {
		t.ask(key)
	}
	t.doc.AddFault(t.LineOf(key), format, args...)
}

// wrong is the fault of a value that is of another kind than was asked for.
func (t *Table) wrong(n *node, want string) {
	t.doc.AddFault(n.line, "%q should be %s, but it is %s", n.name, want, t.doc.kindOf(n))
}

// kindOf names what a node holds, for a message.
func (d *Document) kindOf(n *node) string {
	if n.isTable {
		return "a table"
	}
	if n.isTables {
		return "a list of tables"
	}
	switch v := n.decoded.(type) {
	case string:
		return fmt.Sprintf("the text %q", Shortened(v, 40))
	case int64:
		if v > exactWhole || v < -exactWhole {
			return fmt.Sprintf("%d, which has too many digits", v)
		}
		return "the number " + d.raw(n.value.span)
	case float64:
		if math.IsNaN(v) {
			return "nan"
		}
		return "the number " + d.raw(n.value.span)
	case bool:
		return fmt.Sprintf("%t", v)
	case time.Time:
		return "a date or time"
	}
	return "a list"
}

// get reads a key whose value must be of type T.
func get[T any](t *Table, key, want string) (T, bool) {
	var none T
	n := t.ask(key)
	if n == nil {
		return none, false
	}
	v, ok := n.decoded.(T)
	if !ok {
		t.wrong(n, want)
		return none, false
	}
	return v, true
}

// Text reads a text.
func (t *Table) Text(key string) (string, bool) { return get[string](t, key, "a text") }

// Bool reads true or false.
func (t *Table) Bool(key string) (bool, bool) { return get[bool](t, key, "true or false") }

// Time reads a date, a time of day, or both.
func (t *Table) Time(key string) (time.Time, bool) {
	return get[time.Time](t, key, "a date or time")
}

// Number reads a whole or a decimal number; inf and -inf are numbers, nan is not.
func (t *Table) Number(key string) (float64, bool) {
	n := t.ask(key)
	if n == nil {
		return 0, false
	}
	v, ok := number(n)
	if !ok {
		t.wrong(n, "a number")
	}
	return v, ok
}

// number is the value of a node as a float64, if it has one that loses nothing.
func number(n *node) (float64, bool) {
	switch v := n.decoded.(type) {
	case float64:
		return v, !math.IsNaN(v)
	case int64:
		return float64(v), v >= -exactWhole && v <= exactWhole
	}
	return 0, false
}

// Integer reads a whole number.
func (t *Table) Integer(key string) (int, bool) {
	n := t.ask(key)
	if n == nil {
		return 0, false
	}
	v, ok := n.decoded.(int64)
	if !ok || v < math.MinInt || v > math.MaxInt {
		t.wrong(n, "a whole number")
		return 0, false
	}
	return int(v), true
}

// Duration reads a text such as "150ms", "8s" or "1m30s".
func (t *Table) Duration(key string) (time.Duration, bool) {
	const want = `a length of time such as "150ms" or "8s"`
	n := t.ask(key)
	if n == nil {
		return 0, false
	}
	text, ok := n.decoded.(string)
	if !ok {
		t.wrong(n, want)
		return 0, false
	}
	d, err := time.ParseDuration(text)
	if err != nil {
		t.wrong(n, want)
		return 0, false
	}
	return d, true
}

// Texts reads a list of texts.
func (t *Table) Texts(key string) ([]string, bool) {
	return list(t, key, "a list of texts", func(n *node) (string, bool) {
		text, ok := n.decoded.(string)
		return text, ok
	})
}

// Numbers reads a list of whole or decimal numbers.
func (t *Table) Numbers(key string) ([]float64, bool) {
	return list(t, key, "a list of numbers", number)
}

// list reads a list whose elements are all of one kind. A fault is on the element's line.
func list[T any](t *Table, key, want string, read func(*node) (T, bool)) ([]T, bool) {
	n := t.ask(key)
	if n == nil {
		return nil, false
	}
	if !n.isList() {
		t.wrong(n, want)
		return nil, false
	}
	all := make([]T, 0, len(n.elems))
	for _, elem := range n.elems {
		v, ok := read(elem)
		if !ok {
			t.doc.AddFault(elem.line, "%q should be %s, but it holds %s", n.name, want, t.doc.kindOf(elem))
			return nil, false
		}
		all = append(all, v)
	}
	return all, true
}

// List reads a list of any kind, as decoded, with lists inside it as []any and tables as map[string]any.
// What is inside counts as read.
func (t *Table) List(key string) ([]any, bool) {
	n := t.ask(key)
	if n == nil {
		return nil, false
	}
	list, ok := n.holds().([]any)
	if !ok {
		t.wrong(n, "a list")
	}
	return list, ok
}

// Value reads a value of any kind as decoded: string, int64, float64, bool, time.Time or []any. A table
// or a list of tables under headers is no value, and no fault either.
func (t *Table) Value(key string) (any, bool) {
	n := t.ask(key)
	if n == nil || n.isTable || n.isTables {
		return nil, false
	}
	return n.holds(), true
}

// Table reads a table inside this one, in whichever way it is written.
func (t *Table) Table(key string) (*Table, bool) {
	n := t.ask(key)
	if n == nil {
		return nil, false
	}
	if !n.isTable {
		t.wrong(n, "a table")
		return nil, false
	}
	return t.doc.table(n), true
}

// Tables reads a list of tables, under headers or in braces.
func (t *Table) Tables(key string) ([]*Table, bool) {
	n := t.ask(key)
	if n == nil {
		return nil, false
	}
	if !n.isTables && !n.isList() {
		t.wrong(n, "a list of tables")
		return nil, false
	}
	tables := make([]*Table, 0, len(n.elems))
	for _, elem := range n.elems {
		if !elem.isTable {
			t.doc.AddFault(elem.line, "%q should be a list of tables, but it holds %s", n.name, t.doc.kindOf(elem))
			return nil, false
		}
		tables = append(tables, t.doc.table(elem))
	}
	return tables, true
}
