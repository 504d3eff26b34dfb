package profiles

// fixed is the curve of a control that can't be moved: it has one value.
type fixed struct{ value Value }

func (fixed) Steps() int     { return 1 }
func (f fixed) At(int) Value { return f.value }

// Step takes any number for the one that there is, since it is the nearest that can be
// had. A switch or a word has no nearest: a band that is a shelf is no bell.
func (f fixed) Step(v Value) (int, error) {
	_, wantNumber := v.Number()
	_, haveNumber := f.value.Number()
	if v != f.value && !(wantNumber && haveNumber) {
		return 0, fixedError{want: v, have: f.value}
	}
	return 0, nil
}

// fixedError is the error of a value that a fixed control has not.
type fixedError struct{ want, have Value }

func (e fixedError) Error() string {
	return e.want.String() + " can't be had: on this desk it is always " + e.have.String()
}
