package source

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
)

// seeds are texts in many styles, and some that are no TOML.
func seeds() []string {
	return []string{
		"",
		"\xef\xbb\xbf# top\r\nname = 'poet'\r\n\r\n[strip] # hers\r\ngain=34.0\r\n",
		"[strip]\neq.2.gain = -3.0 # voice\n\"e\\u0071\" . 3 . 'gain' = +1_000.5\nfader = -inf\n",
		"[strip.eq.1]\n  gain = 1\n[strip.eq.2]\n  gain = 0x1f\n\n# next\n[[position]]\nname = \"lectern\"\n[position.mic]\nx=1e3\n",
		"a = {\n  b = 1, # c\n  c = { d = [1, {e = 2}], },\n}\nf = { }\n",
		"a = \"\"\"x\\\n  y \"\" \"\\\"\"\"\"\"\"\nb = '''\nit''s'''''\n",
		"a = [ 1, # x\n [2, 3,], { b = 'x' } ]\nd = 1979-05-27 07:32:00\ne = 07:32\n",
		"a = \"\"\"x\\\\\"\"\"\"\"\"",
		"a.b = 1\na = []\n", "a = {b = 1}\n[a.c]\nd = 2\n", "a = [{b = 1}]\n[[a]]\n", "[a]\n[a]\n", "[a.b]\nc = 1\n[a]\nb.d = 1\n",
		"a = 1 2", "a = [1", "a = {", "[a", "a =", "= 1", "a = tru", "\x00", "\xff\xfea = 1", "a\rb", "a = \"\\", "a.\n",
		"", "\n\n", "# only\n# comments", "a = nan\nb = -nan\nc = +inf", "'' = 1\n\"\" . '' = 2",
	}
}

// leaves lists the values of a decoded tree by their paths, in a way that two trees can be compared by.
func leaves(tree any, path string, into map[string]string) map[string]string {
	switch v := tree.(type) {
	case map[string]any:
		into[path+"{}"] = ""
		for key, value := range v {
			leaves(value, fmt.Sprintf("%s/%q", path, key), into)
		}
	case []map[string]any:
		for i, value := range v {
			leaves(value, fmt.Sprintf("%s/%d", path, i), into)
		}
	case []any:
		into[path+"[]"] = fmt.Sprint(len(v))
		for i, value := range v {
			leaves(value, fmt.Sprintf("%s/%d", path, i), into)
		}
	default:
		into[path] = fmt.Sprintf("%T %#v", v, v)
	}
	return into
}

// readAll asks every table for every key in every way, as no reader ever would.
func readAll(t *Table) {
	t.Line()
	t.Path()
	for _, key := range append(t.Keys(), "missing") {
		t.LineOf(key)
		t.Has(key)
		t.Text(key)
		t.Number(key)
		t.Integer(key)
		t.Bool(key)
		t.Duration(key)
		t.Time(key)
		t.Texts(key)
		t.Numbers(key)
		t.List(key)
		t.Value(key)
		if inside, ok := t.Table(key); ok {
			readAll(inside)
		}
		if inside, ok := t.Tables(key); ok {
			for _, elem := range inside {
				readAll(elem)
			}
		}
	}
}

// FuzzParse holds the scanner against the decoder: what one accepts the other does, but for what TOML
// forbids and the decoder overlooks, which is a key that is given a second time.
func FuzzParse(f *testing.F) {
	for _, seed := range seeds() {
		f.Add([]byte(seed))
	}
	f.Fuzz(fuzzParse)
}

func fuzzParse(t *testing.T, text []byte) {
	lines := bytes.Count(text, []byte("\n")) + 1
	d, err := Parse("f", text)
	if err != nil {
		var fault *Fault
		if !errors.As(err, &fault) || fault.Line < 0 || fault.Line > lines || strings.ContainsAny(fault.What, "\n") {
			t.Fatalf("not a fault a person could use: %q", err)
		}
	}
	blocks, _, fault := scan("f", text)
	if fault != nil && strings.Contains(fault.What, "deep here") {
		return
	}
	tree, decodingErr := decode(text)
	switch {
	case fault != nil && decodingErr == nil:
		t.Fatalf("the scanner refuses what the decoder accepts: %v", fault)
	case decodingErr != nil && err == nil:
		t.Fatalf("accepted, but the decoder says: %v", decodingErr)
	case decodingErr != nil:
		return
	}
	_, fault = build("f", blocks)
	if fault != nil {
		if !strings.Contains(fault.What, "; the first is on line ") {
			t.Fatalf("the decoder accepts this: %v", fault)
		}
		return
	}
	if err != nil {
		t.Fatalf("the decoder accepts this: %v", err)
	}
	checkReading(t, d, tree, lines)
}

// checkReading looks that everything in a document can be read and stands where the tree says.
func checkReading(t *testing.T, d *Document, tree map[string]any, lines int) {
	readAll(d.Root())
	for _, fault := range d.Faults() {
		if fault.Line < 1 || fault.Line > lines {
			t.Fatalf("a fault on a line that isn't there: %v", fault)
		}
	}
	var visit func(n *node)
	visit = func(n *node) {
		if n.entry != nil && !n.isTable {
			again, err := decode([]byte("x = " + d.raw(n.value.span)))
			if err != nil || !same(n.holds(), again["x"]) {
				t.Fatalf("%q holds %#v, but its bytes say %#v, %v", n.path(), n.holds(), again["x"], err)
			}
			if line := bytes.Count(d.text[:n.entry.parts[0].start], []byte("\n")) + 1; line != n.line {
				t.Fatalf("%q is on line %d, not %d", n.path(), line, n.line)
			}
		}
		for _, child := range append(n.keys, n.elems...) {
			visit(child)
		}
	}
	visit(d.root)
	if got, err := d.Apply(); err != nil || !bytes.Equal(got, d.text) {
		t.Fatalf("no edits changed the text: %v", err)
	}
	if !same(tree, d.root.tree()) {
		t.Fatal("the document holds something else than the decoder says")
	}
}

// reachable lists the tables and the scalar values that an edit can reach.
func reachable(n *node) (tables, values []*node) {
	if n.isTable {
		tables = append(tables, n)
	}
	if n.entry != nil && n.value.kind == scalarValue {
		values = append(values, n)
	}
	for _, child := range n.keys {
		more, others := reachable(child)
		tables, values = append(tables, more...), append(values, others...)
	}
	return tables, values
}

// FuzzApply edits any text at any of its values, and adds keys to any of its tables.
func FuzzApply(f *testing.F) {
	for i, seed := range seeds() {
		f.Add([]byte(seed), uint(i), 28.5, "gain", uint(1))
		f.Add([]byte(seed), uint(i+1), math.Inf(-1), "a \"key\"\n", uint(3))
		f.Add([]byte(seed), uint(i+2), -120.0, "a", uint(2))
	}
	f.Fuzz(fuzzApply)
}

func fuzzApply(t *testing.T, text []byte, place uint, number float64, word string, depth uint) {
	d, err := Parse("f", text)
	if err != nil || math.IsNaN(number) {
		return
	}
	word = strings.ToValidUTF8(word, "?")
	tables, values := reachable(d.root)
	if len(values) > 0 {
		target := values[place%uint(len(values))]
		checkReplaced(t, d, target, number)
		checkReplaced(t, d, target, word)
	}
	checkAdded(t, d, tables[place%uint(len(tables))], word, 1+int(depth%3), number)
}

// checkReplaced sets a value and looks that only its own bytes have changed.
func checkReplaced(t *testing.T, d *Document, target *node, value any) {
	got, err := d.Apply(Edit{target.path(), value})
	if err != nil {
		t.Fatal(err)
	}
	before, after := d.text[:target.value.start], d.text[target.value.end:]
	if !bytes.HasPrefix(got, before) || !bytes.HasSuffix(got, after) || len(got) < len(before)+len(after) {
		t.Fatalf("bytes outside the value have changed: %q", got)
	}
	tree, err := decode(got)
	if err != nil {
		t.Fatalf("%v: %q", err, got)
	}
	old, err := decode(d.text)
	if err != nil {
		t.Fatal(err)
	}
	key := ""
	for _, name := range target.path() {
		key += fmt.Sprintf("/%q", name)
	}
	want, have := leaves(old, "", map[string]string{}), leaves(tree, "", map[string]string{})
	delete(want, key)
	delete(have, key)
	if fmt.Sprint(want) != fmt.Sprint(have) {
		t.Fatalf("another value has changed: %v, %v", want, have)
	}
	if again, err := (Parse("f", got)); err != nil {
		t.Fatal(err)
	} else if third, err := again.Apply(Edit{target.path(), value}); err != nil || !bytes.Equal(third, got) {
		t.Fatalf("the same edit a second time changes %q to %q, %v", got, third, err)
	}
}

// checkAdded adds a key below a table and looks that nothing of the old text is lost.
func checkAdded(t *testing.T, d *Document, table *node, word string, depth int, value any) {
	if table.child(word) != nil || len(table.path())+depth > maxDepth {
		return
	}
	path := table.path()
	for range depth {
		path = append(path, word)
	}
	got, err := d.Apply(Edit{path, value})
	if err != nil {
		t.Fatalf("%v in %q", err, d.text)
	}
	if !isWithin(d.text, got) {
		t.Fatalf("a part of %q is lost in %q", d.text, got)
	}
	tree, err := decode(got)
	if err != nil {
		t.Fatalf("%v: %q", err, got)
	}
	old, err := decode(d.text)
	if err != nil {
		t.Fatal(err)
	}
	want, have := leaves(old, "", map[string]string{}), leaves(tree, "", map[string]string{})
	if len(have) != len(want)+depth {
		t.Fatalf("%d values have become %d in %q", len(want), len(have), got)
	}
	for path, value := range want {
		if have[path] != value {
			t.Fatalf("%s was %s and is %s", path, value, have[path])
		}
	}
}

// isWithin reports whether a text is still there, in its order, with other bytes between; spaces aside,
// which an empty pair of braces may lose.
func isWithin(old, text []byte) bool {
	old = bytes.ReplaceAll(bytes.ReplaceAll(old, []byte(" "), nil), []byte("\t"), nil)
	at := 0
	for _, c := range text {
		if at < len(old) && old[at] == c {
			at++
		}
	}
	return at == len(old)
}
