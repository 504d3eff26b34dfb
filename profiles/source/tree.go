package source

import (
	"fmt"
	"strconv"
	"strings"
)

// form is the way in which a table came to be in the text.
type form uint8

const (
	impliedTable form = iota // only as a parent in somebody else's header
	headerTable              // by its own [header]
	dottedTable              // by dotted keys
	bracedTable              // in braces
)

// node is a key of the document with what it holds: a value, a table, or a list of tables.
type node struct {
	name   string
	line   int
	parent *node

	// Beside each other, so that they take a word together: a book has hundreds of thousands of these.
	isTable  bool
	isTables bool // [[header]]s
	form     form // of a table
	wasAsked bool // for by the reader of its table

	keys  []*node          // of a table, in the order of the text
	index map[string]*node // of the keys, once there are many
	elems []*node          // the tables of a list of tables; the elements of a list value

	entry *entry // the key and value, for all that has a value of its own
	value *value
	block *block // where a table's header stands, or its first dotted key

	decoded any // what a scalar holds

	read  *reading // what has been asked of a table, nil as long as it wasn't visited
	known int      // the how-manieth key it was to become known to the reader of its table, 0 for not
}

// fewKeys is how many keys are found without an index.
const fewKeys = 8

// child finds a key of a table, nil if it has none such.
func (n *node) child(name string) *node {
	if n.index != nil {
		return n.index[name]
	}
	for _, child := range n.keys {
		if child.name == name {
			return child
		}
	}
	return nil
}

func (n *node) add(child *node) *node {
	child.parent = n
	n.keys = append(n.keys, child)
	switch {
	case n.index != nil:
		n.index[child.name] = child
	case len(n.keys) > fewKeys:
		n.index = make(map[string]*node, 2*len(n.keys))
		for _, child := range n.keys {
			n.index[child.name] = child
		}
	}
	return child
}

// holds is what the node holds as the decoder gives it: a new tree of maps and lists, or a scalar.
func (n *node) holds() any {
	switch {
	case n.isTable:
		table := make(map[string]any, len(n.keys))
		for _, child := range n.keys {
			table[child.name] = child.holds()
		}
		return table
	case n.isTables:
		tables := make([]map[string]any, len(n.elems))
		for i, elem := range n.elems {
			tables[i], _ = elem.holds().(map[string]any)
		}
		return tables
	case n.isList():
		list := make([]any, len(n.elems))
		for i, elem := range n.elems {
			list[i] = elem.holds()
		}
		return list
	}
	return n.decoded
}

// tree is what a table holds.
func (n *node) tree() map[string]any {
	tree, _ := n.holds().(map[string]any)
	return tree
}

// isList reports whether this is a value in square brackets.
func (n *node) isList() bool { return n.value != nil && n.value.kind == arrayValue }

// path is the names that lead here; an element of a list goes by its place in it, from 0.
func (n *node) path() []string {
	if n.parent == nil {
		return nil
	}
	return append(n.parent.path(), n.name)
}

// builder makes the tree of a document out of its blocks. It keeps to the rules of TOML about what may
// be given once only, more strictly than the decoder, which lets some second definitions pass and drops a value.
type builder struct {
	file  string
	nodes slab[node]
}

// table makes an empty table.
func (b *builder) table(name string, line int, f form) *node {
	n := b.nodes.one()
	n.name, n.line, n.isTable, n.form = name, line, true, f
	return n
}

func build(file string, blocks []*block) (*node, *Fault) {
	parts := 0
	for _, block := range blocks {
		parts += 1 + len(block.entries)
	}
	b := &builder{file: file, nodes: slabFor[node](parts + parts/4)}
	root := b.table("", 1, headerTable)
	root.block = blocks[0]
	for _, block := range blocks {
		table := root
		if block.head != nil {
			var fault *Fault
			if table, fault = b.open(root, block); fault != nil {
				return nil, fault
			}
		}
		for _, e := range block.entries {
			if fault := b.put(table, block, e); fault != nil {
				return nil, fault
			}
		}
	}
	return root, nil
}

// twice is the fault of a key that is defined already.
func (b *builder) twice(line int, n *node) *Fault {
	what := "is given a second time"
	switch {
	case n.isTables:
		what = "is already a list of tables"
	case n.isTable && n.form == bracedTable:
		what = "is already a table in braces, which is complete as it stands"
	case n.isList():
		what = "is already a list"
	case n.isTable && n.form == dottedTable:
		what = "is already a table made by dotted keys"
	}
	return &Fault{b.file, line, fmt.Sprintf("%q %s; the first is on line %d", dotted(n.path()), what, n.line)}
}

// open finds or makes the table of a header.
func (b *builder) open(root *node, block *block) (*node, *Fault) {
	head := block.head
	at := root
	last := len(head.parts) - 1
	for _, part := range head.parts[:last] {
		child := at.child(part.name)
		switch {
		case child == nil:
			child = at.add(b.table(part.name, head.line, impliedTable))
		case child.isTables:
			child = child.elems[len(child.elems)-1]
		case !child.isTable || child.form == bracedTable:
			return nil, b.twice(head.line, child)
		}
		at = child
	}
	name := head.parts[last].name
	if head.array {
		return b.openElement(at, name, block)
	}
	table := at.child(name)
	switch {
	case table == nil:
		table = at.add(b.table(name, head.line, headerTable))
	case table.isTable && table.form == impliedTable:
		table.form = headerTable
		table.line = head.line
	default:
		return nil, b.twice(head.line, table)
	}
	table.block = block
	return table, nil
}

// openElement adds one more table to a list of tables.
func (b *builder) openElement(at *node, name string, block *block) (*node, *Fault) {
	list := at.child(name)
	if list == nil {
		list = b.nodes.one()
		list.name, list.line, list.isTables = name, block.head.line, true
		at.add(list)
	}
	if !list.isTables {
		return nil, b.twice(block.head.line, list)
	}
	elem := b.table(strconv.Itoa(len(list.elems)), block.head.line, headerTable)
	elem.parent, elem.block = list, block
	list.elems = append(list.elems, elem)
	return elem, nil
}

// put enters a key with its value below a table.
func (b *builder) put(table *node, block *block, e *entry) *Fault {
	at := table
	last := len(e.parts) - 1
	for _, part := range e.parts[:last] {
		child := at.child(part.name)
		switch {
		case child == nil:
			child = at.add(b.table(part.name, e.line, dottedTable))
			child.block = block
		case child.isTable && child.form == impliedTable:
			child.form = dottedTable
			child.block = block
		case !child.isTable || child.form != dottedTable:
			return b.twice(e.line, child)
		}
		at = child
	}
	name := e.parts[last].name
	if old := at.child(name); old != nil {
		return b.twice(e.line, old)
	}
	child := b.nodes.one()
	child.name, child.line, child.entry, child.value, child.block = name, e.line, e, e.value, block
	return b.fill(at.add(child))
}

// fill enters what is inside the value of a node.
func (b *builder) fill(n *node) *Fault {
	switch n.value.kind {
	case scalarValue:
		n.decoded = n.value.plain
	case inlineValue:
		n.isTable, n.form = true, bracedTable
		for _, e := range n.value.entries {
			if fault := b.put(n, n.block, e); fault != nil {
				return fault
			}
		}
	case arrayValue:
		for i, v := range n.value.elems {
			elem := b.nodes.one()
			elem.name, elem.line, elem.parent, elem.value, elem.block = strconv.Itoa(i), v.line, n, v, n.block
			if fault := b.fill(elem); fault != nil {
				return fault
			}
			n.elems = append(n.elems, elem)
		}
	}
	return nil
}

// dotted writes a path as TOML would, with quotes only where they are needed.
func dotted(path []string) string {
	names := make([]string, len(path))
	for i, name := range path {
		names[i] = keyText(name)
	}
	return strings.Join(names, ".")
}
