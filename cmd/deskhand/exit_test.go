package main

import (
	"errors"
	"fmt"
	"testing"

	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

func TestExitCodesOfWhatStopsARecall(t *testing.T) {
	stale := &recall.Stale{Moved: make([]recall.Unproved, 1)}
	for _, c := range []struct {
		err  error
		want int
	}{
		{nil, 0},
		{fmt.Errorf("nothing was sent: %w", stale), 2}, // no limit forbids it: again, and look
		{fmt.Errorf("nothing was sent: %w", desk.ErrSilent), 3},
		{&desk.OtherDesk{}, 3},
		{unfinished{&desk.OtherDesk{}}, 4},
		{errors.Join(&recall.Refused{}, errors.New("something else")), 5},
	} {
		if got := codeOf(c.err); got != c.want {
			t.Errorf("%v: exit %d, not %d", c.err, got, c.want)
		}
	}
}

func TestAFlagIsNamedOnlyWhereItLetsARiseThrough(t *testing.T) {
	for rise, want := range map[float64]string{
		24:              "; --allow-rise 24.0 would let it through this once",
		24.000000000001: "; --allow-rise 24.0 would let it through this once",
		24.01:           "; --allow-rise 24.1 would let it through this once",
		40:              "; --allow-rise 40.0 would let it through this once",
		40.1:            "; --allow-rise goes no further than 40",
	} {
		if got := sayAllow(rise); got != want {
			t.Errorf("%v: %s", rise, got)
		}
	}
}
