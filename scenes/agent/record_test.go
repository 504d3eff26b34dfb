package agent_test

import (
	"fmt"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/agent"

	"github.com/google/go-cmp/cmp"
)

// A hand's moves are in the record once, whether a key keeps them or a recall takes them away.
func TestAnEventsRecordHasEachThingOnce(t *testing.T) {
	s := eventOf(t)
	s.ask(next(0))
	s.hand("channel.3.fader", profiles.Number(-4))
	s.view("the fader's move shows", func(v *agent.View) bool { return len(v.Positions[0].Moves) == 1 })
	if e := s.agent.Ask(t.Context(), agent.AskKeep{Position: "lectern"}); e.Kind != agent.Wrote {
		t.Fatal(sayEvent(e))
	}
	s.hand("channel.3.pan", profiles.Number(20))
	s.view("the pan's move shows", func(v *agent.View) bool { return len(v.Positions[0].Moves) == 1 })
	s.ask(next(1))
	memory, err := s.readBook().Memory(s.venue)
	if err != nil {
		t.Fatal(err)
	}
	lines, unread, err := memory.Record(scenes.Evening(time.Now()))
	if err != nil || unread > 0 {
		t.Fatal(unread, err)
	}
	var got []string
	for _, l := range lines {
		if l.What == scenes.DidMove || l.What == scenes.DidKeep || l.What == scenes.DidBegin {
			text := l.What + " by " + l.By
			for _, c := range l.Changes {
				text += fmt.Sprintf(", %s", c.Words)
			}
			got = append(got, text)
		}
	}
	want := []string{
		"begun by deskhand", "moved by hand, fader -6.0 dB -> -4.0 dB", "kept by deskhand, fader -6.0 dB -> -4.0 dB",
		"moved by hand, pan centre -> R20",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}
