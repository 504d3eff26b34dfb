package source

import (
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"github.com/BurntSushi/toml"
)

// Document is a TOML text with the place of everything in it. It is not safe for use by several goroutines.
type Document struct {
	file   string
	text   []byte
	blocks []*block
	root   *node
	found  Faults
	noted  map[Fault]bool
}

// Parse reads a text. The file's name is for messages only; nothing is read from disk. The error, if
// any, is of type Faults and names the line.
func Parse(file string, text []byte) (*Document, error) {
	d := &Document{file: file, text: append([]byte{}, text...)}
	if fault := d.read(); fault != nil {
		return nil, Faults{fault}
	}
	return d, nil
}

// read goes through the text in three steps, each of which makes the next one safe: the scanner bounds
// size and depth, the builder refuses what is given twice, and the decoder says what each value holds. In
// a plain text the scanner knows that already.
func (d *Document) read() *Fault {
	blocks, plain, fault := scan(d.file, d.text)
	if fault != nil {
		return fault
	}
	root, fault := build(d.file, blocks)
	if fault != nil {
		return fault
	}
	d.blocks, d.root = blocks, root
	if plain {
		return nil
	}
	decoded, err := decode(d.text)
	if err != nil {
		return decodingFault(d.file, d.text, err)
	}
	return agree(d.file, root, decoded)
}

// decode gives the values of a text as the decoder sees them. A panic of the decoder is an error like any other.
func decode(text []byte) (tree map[string]any, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("this can't be read as TOML: %v", r)
		}
	}()
	_, err = toml.Decode(string(text), &tree)
	return tree, err
}

// decodingFault puts the decoder's words into ours, with the line in its place.
func decodingFault(file string, text []byte, err error) *Fault {
	var parse toml.ParseError
	if !errors.As(err, &parse) {
		return &Fault{file, 0, cleanWords(err.Error())}
	}
	return &Fault{file, faultLine(text, parse), cleanWords(parse.Message)}
}

// faultLine is the line on which the decoder found fault, kept within the text: where the text ends
// too soon, the decoder may count one line too few or one too many.
func faultLine(text []byte, parse toml.ParseError) int {
	lines := strings.Count(strings.TrimSuffix(string(text), "\n"), "\n") + 1
	return min(max(parse.Position.Line, 1), lines)
}

// cleanWords makes one line in lower case out of a message of the decoder.
func cleanWords(message string) string {
	message = strings.TrimPrefix(message, "toml: ")
	message, _, _ = strings.Cut(message, "\n")
	if len(message) > 1 && message[1] >= 'a' && message[1] <= 'z' {
		message = strings.ToLower(message[:1]) + message[1:]
	}
	return strings.TrimRight(message, ". ")
}

// agree checks that scanner and decoder saw the same document, and keeps the decoder's scalars in the tree.
func agree(file string, n *node, decoded any) *Fault {
	inside, ok := n.pair(decoded)
	if !ok {
		what := fmt.Sprintf("%q can't be read with certainty; write it in a simpler way", dotted(n.path()))
		return &Fault{file, n.line, what}
	}
	if n.value != nil && n.value.kind == scalarValue {
		n.decoded = decoded
	}
	for child, value := range inside {
		if fault := agree(file, child, value); fault != nil {
			return fault
		}
	}
	return nil
}

// pair puts each node inside this one beside its decoded value. It reports false when they don't match.
func (n *node) pair(decoded any) (iter.Seq2[*node, any], bool) {
	switch decoded := decoded.(type) {
	case map[string]any:
		return func(yield func(*node, any) bool) {
			for _, child := range n.keys {
				if !yield(child, decoded[child.name]) {
					return
				}
			}
		}, n.isTable && len(decoded) == len(n.keys)
	case []map[string]any:
		return pairElems(n, decoded), n.isTables && len(decoded) == len(n.elems)
	case []any:
		return pairElems(n, decoded), n.isList() && len(decoded) == len(n.elems)
	case string, int64, float64, bool, time.Time:
		return pairElems[any](n, nil), n.value != nil && n.value.kind == scalarValue
	}
	return nil, false // also what a missing key gives
}

func pairElems[T any](n *node, decoded []T) iter.Seq2[*node, any] {
	return func(yield func(*node, any) bool) {
		for i, elem := range n.elems {
			if !yield(elem, any(decoded[i])) {
				return
			}
		}
	}
}

// File is the name that the document was parsed under.
func (d *Document) File() string { return d.file }

// Text is a copy of the text as it was parsed; never nil, so that Replace can take it for the old text.
func (d *Document) Text() []byte { return append([]byte{}, d.text...) }

// Root is the table of the whole document.
func (d *Document) Root() *Table { return d.table(d.root) }

// AddFault notes a fault that a reader of the document has found. Line 0 means the whole file. The
// same fault on the same line is kept once.
func (d *Document) AddFault(line int, format string, args ...any) {
	fault := Fault{d.file, line, fmt.Sprintf(format, args...)}
	if !d.noted[fault] {
		if d.noted == nil {
			d.noted = map[Fault]bool{}
		}
		d.noted[fault] = true
		d.found = append(d.found, &fault)
	}
}

// Faults is what the reading has found wrong so far, with the keys that nobody asked for in the tables
// that were visited, sorted by line. Call it when all has been read.
func (d *Document) Faults() Faults {
	return slices.Concat(d.found, d.unread(d.root)).Sorted()
}

// unread finds the unknown keys of a table and of the tables inside it, as far as they were visited.
func (d *Document) unread(n *node) Faults {
	var faults Faults
	if n.isTable && n.read == nil {
		return nil
	}
	for _, child := range n.keys {
		if child.wasAsked {
			faults = append(faults, d.unread(child)...)
			continue
		}
		what := fmt.Sprintf("unknown key %q%s", child.name, DidYouMean(child.name, n.words()))
		faults = append(faults, &Fault{d.file, child.line, what})
	}
	for _, elem := range n.elems {
		faults = append(faults, d.unread(elem)...)
	}
	return faults
}
