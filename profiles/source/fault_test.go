package source

import (
	"errors"
	"testing"
)

func TestFaultsComeInTheOrderOfFilesAndLines(t *testing.T) {
	faults := Faults{
		{"b.toml", 2, "second"},
		{"b.toml", 0, "the whole file"},
		{"a.toml", 10, "tenth"},
		{"b.toml", 2, "second again"},
	}
	want := "a.toml:10: tenth\nb.toml: the whole file\nb.toml:2: second\nb.toml:2: second again"
	if got := faults.Err().Error(); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	var fault *Fault
	if !errors.As(faults.Err(), &fault) {
		t.Error("a fault can't be found in the list")
	}
}

func TestNoFaultsAreNoError(t *testing.T) {
	if err := (Faults{}).Err(); err != nil {
		t.Errorf("got %v", err)
	}
}
