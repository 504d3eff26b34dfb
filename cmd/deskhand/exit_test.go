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
