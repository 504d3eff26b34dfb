package recall_test

import (
	"fmt"
	"os"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/recall"

	"github.com/google/go-cmp/cmp"
)

// recorded gives the lines of the record in short.
func (s *stage) recorded() []string {
	s.t.Helper()
	lines, unread, err := s.Memory.Record(scenes.Evening(time.Now()))
	if err != nil || unread > 0 {
		s.t.Fatal(unread, err)
	}
	var short []string
	for _, l := range lines {
		short = append(short, fmt.Sprintf("%s by %s at %s: %s>%s %t", l.What, l.By, l.Position, l.Was, l.Performer, l.Confirmed))
	}
	return short
}

// A plan that is made anew, after a hand was faster, tells a hand's moves once; a rehearsal
// tells nothing, and an undo is a recall like any other.
func TestTheRecordHasEachRecallOnceAndAHandsMovesBeforeIt(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		s.By = scenes.ByRemote
		s.move("channel.3.pan", profiles.Number(40))
		for range 2 { // the first plan is given up
			if _, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "poet")}); err != nil {
				t.Fatal(err)
			}
		}
		s.must(s.on("lectern", "poet"))
		s.Rehearse = true
		if _, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "pilot")}); err != nil {
			t.Fatal(err)
		}
		s.Rehearse, s.By = false, ""
		if _, err := s.undo(t.Context()); err != nil {
			t.Fatal(err)
		}
		want := []string{
			"recalled by deskhand at lectern: >botanist true",
			"moved by hand at lectern: >botanist false",
			"recalled by remote at lectern: botanist>poet true",
			"recalled by deskhand at lectern: poet>botanist true",
		}
		if diff := cmp.Diff(want, s.recorded()); diff != "" {
			t.Error(diff)
		}
	})
}

func TestARefusalIsInTheRecordWithItsReason(t *testing.T) {
	onStage(t, setting{venue: []string{"gain = 50.0", "gain = 20.0"}}, func(t *testing.T, s *stage) {
		if _, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "botanist")}); err == nil {
			t.Fatal("it was not refused")
		}
		if diff := cmp.Diff([]string{"refused by deskhand at lectern: >botanist false"}, s.recorded()); diff != "" {
			t.Error(diff)
		}
	})
}

func TestARecordThatCannotBeWrittenIsToldAndStopsNothing(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		if err := os.MkdirAll(s.Book.Path(".deskhand/net-loft"), 0o777); err != nil {
			t.Fatal(err)
		}
		write(t, s.Book.Path(".deskhand/net-loft/record"), "a file where the folder would be")
		var told []error
		s.Warn = func(err error) { told = append(told, err) }
		s.complete(s.must(s.on("lectern", "botanist")))
		if len(told) != 1 {
			t.Error("told:", told)
		}
	})
}
