package recall_test

import (
	"errors"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// ribbonVenue has phantom power harm the microphone of the roving position, on channel 7.
var ribbonVenue = []string{"[microphones.handheld]\nsensitivity = -54.0\nphantom = false\n",
	"[microphones.handheld]\nsensitivity = -54.0\nphantom = false\nharmed-by-phantom = true\n"}

func TestAReadingThatWouldHarmAMicrophoneIsRefused(t *testing.T) {
	onStage(t, setting{venue: ribbonVenue}, func(t *testing.T, s *stage) {
		on := s.reading("[channel.7]\ninput.phantom = true\n")
		s.refused(t, on, "roving would get phantom power, which harms its microphone, handheld", s.lineOf("harmed-by-phantom"), "only a change of that file")
	})
}

// The desk may lose in the middle what it holds already, and would then be told again.
func TestPhantomPowerThatIsOnAlreadyIsNotWantedThereEither(t *testing.T) {
	onStage(t, setting{venue: ribbonVenue}, func(t *testing.T, s *stage) {
		s.move("channel.7.input.phantom", profiles.Switch(true))
		s.refused(t, s.reading("[channel.7]\ninput.phantom = true\nfader = -20.0\n"), "roving would get phantom power")
	})
}

func TestAnUndoThatWouldHarmAMicrophoneIsRefused(t *testing.T) {
	onStage(t, setting{venue: ribbonVenue}, func(t *testing.T, s *stage) {
		s.move("channel.7.input.phantom", profiles.Switch(true)) // a hand, before the ribbon was plugged in
		s.must(s.on("roving", "pilot"))
		if on, _ := s.holds("channel.7.input.phantom").On(); on {
			t.Fatal("the swap left phantom power on")
		}
		s.heard()
		_, err := s.PrepareUndo(t.Context())
		s.isRefusal(t, err, "roving would get phantom power", s.lineOf("harmed-by-phantom"))
	})
}

func TestPhantomPowerElsewhereAndOffThereIsNotRefused(t *testing.T) {
	onStage(t, setting{venue: ribbonVenue}, func(t *testing.T, s *stage) {
		s.must(s.reading("[channel.6]\ninput.phantom = true\n[channel.7]\ninput.phantom = false\nfader = -20.0\n")...)
	})
}

func TestPhantomPowerThatIsSafeIsNotSentAndNotRefused(t *testing.T) {
	edits := append([]string{`"input.delay"]`, `"input.delay", "roving.input.phantom"]`}, ribbonVenue...)
	onStage(t, setting{venue: edits}, func(t *testing.T, s *stage) {
		s.must(s.reading("[channel.7]\ninput.phantom = true\nfader = -20.0\n")...)
		if on, _ := s.holds("channel.7.input.phantom").On(); on {
			t.Error("phantom power is on")
		}
	})
}

// raft-8 has one phantom switch for channels 1 to 4, and one for 5 to 8. The lectern,
// on channel 2, needs phantom power.
func TestAHandIsNotAskedToPowerABankWithAHarmedMicrophone(t *testing.T) {
	const ribbon = "\n[microphones.ribbon]\nsensitivity = -54.0\nphantom = false\nharmed-by-phantom = true\n"
	for _, c := range []struct {
		name, positions string
		harms           bool
	}{
		{"in the bank", "[positions.stool]\nchannel = 4\nmicrophone = \"ribbon\"\n", true},
		{"in another bank", "[positions.stool]\nchannel = 5\nmicrophone = \"ribbon\"\n", false},
		{"in the drawer", "", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, _ := anyStageAt(t, "raft-8", anyVenue+ribbon+c.positions)
			cast, err := r.Book.CastFor(r.Venue, "lectern", "founder", nil)
			if err != nil {
				t.Fatal(err)
			}
			resolved, err := r.Venue.Resolve(cast)
			if err != nil {
				t.Fatal(err)
			}
			_, err = r.Prepare(t.Context(), []recall.Target{recall.ForPosition(resolved)})
			var refused *recall.Refused
			if errors.As(err, &refused) != c.harms {
				t.Fatal("refused:", err)
			}
			want := "lectern would get phantom power with channels 1 to 4, which harms the microphone of stool, ribbon (venues/room.toml:21)"
			if c.harms && !strings.Contains(err.Error(), want) {
				t.Errorf("%q does not say %q", err, want)
			}
			checkFindsTheBank(t, r.Book, c.harms)
		})
	}
}

func checkFindsTheBank(t *testing.T, b *scenes.Book, harms bool) {
	t.Helper()
	faults := b.Check([]scenes.Named{{Kind: scenes.Venues, Name: "room"}}).Faults
	want := `venues/room.toml:13: the microphone of "lectern" needs phantom power, and raft-8 has one switch of it for this channel and that of "stool", whose microphone is harmed by it (venues/room.toml:21)`
	if (len(faults) == 1) != harms || harms && !strings.HasPrefix(faults[0].Error(), want) {
		t.Errorf("check finds %v", faults)
	}
}
