package scenes

import (
	"bytes"
	"fmt"
	"slices"
	"time"

	"deskhand/profiles/source"
)

// Running is how far an event has come.
type Running struct {
	// Order is the running order's name.
	Order string
	// Number is the scene that is on, from 1; 0 before the first.
	Number int
	// Title is what it was called: the file may have changed since.
	Title string
	// Since is when it was put on.
	Since time.Time
	// Came are the recalls that have put other scenes on, the latest last, so that an undo
	// knows which scene it goes back to.
	Came []Came
}

// Came is a recall that put another scene on.
type Came struct {
	// From is the scene that was on before.
	From int
	// undo and taken tell its undo from all others.
	undo  int
	taken time.Time
}

// writeRunning writes where a running order is, if one runs.
func writeRunning(b *bytes.Buffer, r Running) {
	if r.Order == "" {
		return
	}
	fmt.Fprintf(b, "\n[running]\norder = %s\nnumber = %d\ntitle = %s\nsince = %s\n", source.Quote(r.Order), r.Number, source.Quote(r.Title), r.Since.Format(time.RFC3339))
	for _, c := range r.Came[max(len(r.Came)-keptUndos, 0):] {
		fmt.Fprintf(b, "\n[[running.came]]\nfrom = %d\nundo = %d\ntaken = %s\n", c.From, c.undo, c.taken.Format(time.RFC3339))
	}
}

func readCame(t *source.Table) []Came {
	tables, _ := t.Tables("came")
	var came []Came
	for _, c := range tables {
		from, okFrom := c.Integer("from")
		undo, okUndo := c.Integer("undo")
		taken, okTaken := c.Time("taken")
		if okFrom && okUndo && okTaken {
			came = append(came, Came{from, undo, taken})
		}
	}
	return came
}

// IsSame reports whether two readings are one undo. Nothing is as nothing.
func (r *Reading) IsSame(other *Reading) bool {
	if r == nil || other == nil {
		return r == other
	}
	return r.undo == other.undo && r.Taken.Equal(other.Taken)
}

// Step notes that a scene of a running order is on, from when on, and that undoing what put
// it on goes back to the scene before; nil where nothing had to be sent for it.
func (m *Memory) Step(to Running, undo *Reading) {
	var came []Came
	if m.Running.Order == to.Order {
		came = m.Running.Came
	}
	if undo != nil {
		came = slices.DeleteFunc(slices.Clone(came), func(c Came) bool { return c.undo >= undo.undo }) // those are gone
		came = append(came, Came{m.Running.Number, undo.undo, undo.Taken})
	}
	m.Running = to
	m.Running.Came = came
}

// StepBack notes that an undo was carried out: where that had put another scene on, the one
// before is on again.
func (m *Memory) StepBack(undone *Reading) {
	for i, c := range m.Running.Came {
		if c.undo == undone.undo && c.taken.Equal(undone.Taken) {
			m.Running.Number, m.Running.Came = c.From, m.Running.Came[:i]
			m.Running.Title = "" // the number tells
			return
		}
	}
}
