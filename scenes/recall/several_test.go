package recall_test

import (
	"slices"
	"sync/atomic"
	"testing"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

// deaf is a link on which messages that set one address never arrive.
type deaf struct {
	osc.Link
	to    string
	heard atomic.Int32
}

func (d *deaf) Send(packet []byte) error {
	messages, err := osc.Decode(packet)
	if err == nil && len(messages) == 1 && messages[0].Address == d.to && len(messages[0].Arguments) > 0 {
		d.heard.Add(1)
		return nil
	}
	return d.Link.Send(packet)
}

// deafStage is a stage whose desk never takes one parameter.
func deafStage(t *testing.T, path string, play func(t *testing.T, s *stage)) {
	t.Helper()
	link, socket := osc.Link(nil), mockdesk.Socket(nil)
	onStage(t, setting{profile: quick}, func(t *testing.T, s *stage) {
		s.mock.Close()
		s.Desk.Close()
		var err error
		link, socket = mockdesk.Cable()
		if s.mock, err = mockdesk.Start(s.Venue.Desk.Profile, mockdesk.Options{Socket: socket, Watch: s.watch}); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { s.mock.Close() })
		s.Desk = desk.Over(&deaf{Link: link, to: s.Venue.Desk.Profile.Address(s.parameter(path))}, s.Venue.Desk.Profile, s.mock.Addr(), desk.Options{})
		t.Cleanup(func() { s.Desk.Close() })
		play(t, s)
	})
}

func TestOfTwoPositionsTheOneThatFailsStaysMutedAndTheOtherOpens(t *testing.T) {
	deafStage(t, "channel.5.input.gain", func(t *testing.T, s *stage) {
		_, result, err := s.recall(t.Context(), s.on("lectern", "botanist"), s.on("table-left", "pilot"))
		if err != nil {
			t.Fatal(err)
		}
		if !s.isOpen("channel.3") || s.isOpen("channel.5") {
			t.Errorf("the lectern is open: %v, the table: %v", s.isOpen("channel.3"), s.isOpen("channel.5"))
		}
		gain := s.parameter("channel.5.input.gain")
		i := slices.IndexFunc(result.Unproved, func(u recall.Unproved) bool { return u.Parameter == gain })
		if i < 0 || result.Unproved[i].Found != profiles.Number(0) {
			t.Error("told:", result.Unproved)
		}
		// The fader was not reached, and is not confirmed; nothing else is in doubt.
		if len(result.Unproved) != 2 {
			t.Error("told:", result.Unproved)
		}
		if len(result.StillMuted) != 1 || result.StillMuted[0].Position != "table-left" {
			t.Error("told as muted:", result.StillMuted)
		}
		if s.Memory.On["lectern"] != "botanist" || s.Memory.On["table-left"] != "" {
			t.Error("on:", s.Memory.On)
		}
		if _, ok := s.Memory.Unfinished["lectern"]; ok || !s.Memory.Unfinished["table-left"] {
			t.Error("unfinished:", s.Memory.Unfinished)
		}
	})
}

func TestAPositionWhoseMuteDoesNotTakeIsNotTouched(t *testing.T) {
	deafStage(t, "channel.3.mute", func(t *testing.T, s *stage) {
		_, result, err := s.recall(t.Context(), s.on("lectern", "botanist"), s.on("table-left", "pilot"))
		if err != nil || result.Complete() {
			t.Fatal(result, err)
		}
		for _, set := range sets(s.heard()) {
			if set.Parameter.Place.Number == 3 {
				t.Error("sent", set)
			}
		}
		if !s.isOpen("channel.5") {
			t.Error("the other position is muted")
		}
	})
}

func TestASettingThatIsNeverTakenIsGivenUp(t *testing.T) {
	deafStage(t, "channel.3.fader", func(t *testing.T, s *stage) {
		_, result, err := s.recall(t.Context(), s.on("lectern", "botanist"))
		if err != nil || len(result.Unproved) != 1 || result.Unproved[0].Parameter.Name != "fader" {
			t.Fatal(result, err)
		}
		if s.isOpen("channel.3") || len(result.StillMuted) != 1 {
			t.Error("open:", s.isOpen("channel.3"))
		}
	})
}
