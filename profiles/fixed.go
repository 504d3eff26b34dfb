package profiles

// fixed is a control that can't be moved: it has one value.
type fixed struct{ value Value }

func (fixed) Steps() int     { return 1 }
func (f fixed) At(int) Value { return f.value }

// Step takes any value of the same kind for the one that there is, but for a choice:
// a band that is a shelf is no bell.
func (f fixed) Step(v Value) (int, error) {
	if v.form != f.value.form {
		return 0, kindError{v, f.value}
	}
	if v.form == wordValue && v != f.value {
		return 0, kindError{v, f.value}
	}
	return 0, nil
}

type kindError struct{ got, have Value }

func (e kindError) Error() string {
	return e.got.String() + " can't be had: on this desk it is always " + e.have.String()
}
