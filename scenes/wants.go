package scenes

import "slices"

// wants are the winners of the layers so far, by their names on the desk. There are some
// dozens at most, so that a row of names is quicker to go through than a map is to fill,
// and tens of thousands of strips are built when a book is checked.
type wants struct {
	names []string
	list  []Wanted
}

// usualWants is how many values a strip has, with room to spare.
const usualWants = 32

func (w *wants) get(name string) (Wanted, bool) {
	if i := slices.Index(w.names, name); i >= 0 {
		return w.list[i], true
	}
	return Wanted{}, false
}

func (w *wants) has(name string) bool { return slices.Contains(w.names, name) }

func (w *wants) set(name string, one Wanted) {
	if i := slices.Index(w.names, name); i >= 0 {
		w.list[i] = one
		return
	}
	if w.list == nil {
		w.names, w.list = make([]string, 0, usualWants), make([]Wanted, 0, usualWants)
	}
	w.names, w.list = append(w.names, name), append(w.list, one)
}

// take takes one out.
func (w *wants) take(name string) (Wanted, bool) {
	i := slices.Index(w.names, name)
	if i < 0 {
		return Wanted{}, false
	}
	one, last := w.list[i], len(w.list)-1
	w.names[i], w.list[i] = w.names[last], w.list[last]
	w.names, w.list = w.names[:last], w.list[:last]
	return one, true
}

// clear takes all out and keeps the room.
func (w *wants) clear() {
	clear(w.list)
	w.names, w.list = w.names[:0], w.list[:0]
}
