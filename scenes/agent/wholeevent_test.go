package agent_test

import (
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/agent"
)

// The example event from its first scene to its last, with a network that loses one packet in
// twenty each way, hands that move things, and a desk that is switched off and on: it ends
// confirmed, and what hands have moved is in the files or in the record.
func TestTheExampleEventOnABadNetworkEndsConfirmed(t *testing.T) {
	s := newStage(t)
	s.mock.Misbehave(mockdesk.Trouble{In: mockdesk.Way{Lose: 0.05}, Out: mockdesk.Way{Lose: 0.05}})
	s.run(live)
	s.foreseen()
	s.put(1)
	s.movedAndSeen(0, "channel.3.fader", profiles.Number(-4)) // kept
	if e := s.agent.Ask(t.Context(), agent.AskKeep{Position: "lectern"}); e.Err != nil || e.Kind != agent.Wrote {
		t.Fatalf("keep: %s", sayEvent(e))
	}
	s.movedAndSeen(1, "channel.5.pan", profiles.Number(-20)) // not kept: the record has it
	s.put(2)
	s.mock.Restart(100 * time.Millisecond)
	s.view("the restart was noticed", func(v *agent.View) bool {
		return v.Desk == agent.DeskThere && v.Positions[0].Proof == agent.Unread
	})
	s.put(2) // once more, on a desk that begins anew
	s.put(3)
	s.movedAndSeen(2, "channel.6.fader", profiles.Number(-12))
	s.put(4)
	for _, at := range s.foreseen().Positions {
		if at.Performer != "" && at.Proof != agent.Proved {
			t.Errorf("%s ends %s", at.Position, at.Proof)
		}
	}
	s.mustBeMuted(false, 3, 7)
	s.mustBeMuted(true, 5, 6)
	s.inTheRecord("channel.5.pan", -20)
	s.inTheRecord("channel.6.fader", -12)
}

// put puts a scene on, with as many keys as it takes.
func (s *stage) put(number int) {
	s.t.Helper()
	for range 5 {
		e := s.agent.Ask(s.t.Context(), agent.AskItem{Number: number})
		if e.Err == nil && e.Result != nil && e.Result.Complete() {
			s.isOn(number)
			return
		}
		s.t.Logf("scene %d, again: %s", number, sayEvent(e))
		s.view("the desk is there", func(v *agent.View) bool { return v.Desk == agent.DeskThere })
	}
	s.t.Fatalf("scene %d could not be put on", number)
}

// movedAndSeen has a hand move something at a position, and waits until that shows.
func (s *stage) movedAndSeen(position int, path string, to profiles.Value) {
	s.t.Helper()
	s.hand(path, to)
	s.view("the hand's move of "+path+" shows", func(v *agent.View) bool { return len(v.Positions[position].Moves) > 0 })
}

// inTheRecord looks for a hand's move in the evening's record.
func (s *stage) inTheRecord(path string, to float64) {
	s.t.Helper()
	memory, err := s.readBook().Memory(s.venue)
	if err != nil {
		s.t.Fatal(err)
	}
	lines, unread, err := memory.Record(scenes.Evening(time.Now()))
	if err != nil || unread > 0 {
		s.t.Fatalf("%d lines unread, %v", unread, err)
	}
	for _, line := range lines {
		for _, c := range line.Changes {
			if n, _ := c.To.Number(); line.By == scenes.ByHand && c.Parameter == path && n == to {
				return
			}
		}
	}
	s.t.Errorf("no hand's move of %s to %v in the record: %+v", path, to, lines)
}
