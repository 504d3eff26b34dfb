package source

import "errors"

// Edit sets the value at a path of keys.
type Edit struct {
	Path  []string
	Value any // float64, int64, int, bool or string
}

func keyText(name string) string {
	for i := range len(name) {
		if !isBare(name[i]) {
			return basicText(name)
		}
	}
	if name == "" {
		return `""`
	}
	return name
}

// Apply gives the text with the edits made, everything else to the byte.
func (d *Document) Apply(edits ...Edit) ([]byte, error) {
	return nil, errors.New("editing is not written yet")
}
