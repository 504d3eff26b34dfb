package recall_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

// The bell founder's strip asks for one band, a bell at 1.25 kHz, which every shipped
// desk has.
const anyVenue = `
[desk]
profile = "PROFILE"
address = "127.0.0.1"

[mixes]
wedge = 1

[microphones.headset]
sensitivity = -42.0
phantom = true

[positions.lectern]
channel = 2
microphone = "headset"
distance = 0.05
`

const anyPerformer = `
[dialled-in]
sensitivity = -42.0
distance = 0.05

[strip]
input.gain = 18.0
lowcut.on = true
fader = -9.0
eq.2 = { frequency = 1250.0, gain = -2.0, q = 1.0 }
send.wedge.level = -12.0
`

// anyStage is a book with one venue on one of the shipped desks, its mock desk, and a
// link between them as the profile says.
func anyStage(t *testing.T, profile string) (*recall.Recaller, *mockdesk.Desk) {
	t.Helper()
	return anyStageAt(t, profile, anyVenue)
}

// anyStageAt is the same with another venue.
func anyStageAt(t *testing.T, profile, venueText string) (*recall.Recaller, *mockdesk.Desk) {
	t.Helper()
	dir := t.TempDir()
	for file, text := range map[string]string{
		"book.toml": `venue = "room"`, "venues/room.toml": strings.Replace(venueText, "PROFILE", profile, 1), "performers/founder.toml": anyPerformer,
	} {
		path := filepath.Join(dir, file)
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		write(t, path, text)
	}
	book, err := scenes.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	venue, err := book.Venue("room")
	if err != nil {
		t.Fatal(err)
	}
	memory, err := book.Memory(venue)
	if err != nil {
		t.Fatal(err)
	}
	mock, err := mockdesk.Start(venue.Desk.Profile, mockdesk.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { mock.Close() })
	d, err := desk.Open(t.Context(), venue.Desk.Profile, mock.Addr(), desk.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close() })
	return &recall.Recaller{Book: book, Venue: venue, Memory: memory, Desk: d}, mock
}

func TestTheSameSwapOnEveryShippedDesk(t *testing.T) {
	for _, name := range profiles.ShippedNames() {
		t.Run(name, func(t *testing.T) {
			r, mock := anyStage(t, name)
			r.Hand = handAt(t, mock)
			result := swapOn(t, r)
			readable := r.Venue.Desk.Profile.CanAnswer()
			if result.Complete() != readable {
				t.Errorf("complete: %t, not confirmed: %v", result.Complete(), result.Unproved)
			}
			for _, part := range result.Plan.Parts {
				for _, w := range part.Wanted {
					if held, _ := mock.Holds(w.Parameter); held != w.Value {
						t.Errorf("%s: the desk holds %v, not %v", w.Parameter, held, w.Value)
					}
					if _, proved := result.Confirmed[w.Parameter]; proved && !readable {
						t.Errorf("%s is confirmed by a desk that can't answer", w.Parameter)
					}
				}
			}
			if readable {
				if again := swapOn(t, r); len(again.Sent) > 0 {
					t.Errorf("the same again sends %v", again.Sent)
				}
			}
		})
	}
}

// handAt is a hand that does what it is asked for, which must be while the place is muted.
func handAt(t *testing.T, mock *mockdesk.Desk) func(context.Context, []scenes.Change) (bool, error) {
	return func(_ context.Context, changes []scenes.Change) (bool, error) {
		for _, c := range changes {
			if muted, _ := mock.Holds(profiles.Parameter{Place: c.Parameter.Place, Name: "mute"}); muted != profiles.Switch(true) {
				t.Errorf("%s is asked for while the position is not muted", c.Parameter)
			}
			if _, err := mock.Move(c.Parameter, c.To); err != nil {
				t.Errorf("the hand: %v", err)
			}
		}
		return true, nil
	}
}

func swapOn(t *testing.T, r *recall.Recaller) *recall.Result {
	t.Helper()
	result, err := r.CarryOut(t.Context(), planOn(t, r))
	if err != nil {
		t.Fatal(err)
	}
	return result
}

func planOn(t *testing.T, r *recall.Recaller) *recall.Plan {
	t.Helper()
	cast, err := r.Book.CastFor(r.Venue, "lectern", "founder", nil)
	if err != nil {
		t.Fatal(err)
	}
	resolved, err := r.Venue.Resolve(cast)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := r.Prepare(t.Context(), []recall.Target{recall.ForPosition(resolved)})
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

func TestAPositionWhoseHandDidNothingStaysMuted(t *testing.T) {
	r, mock := anyStage(t, "raft-8")
	plan := planOn(t, r)
	for range 2 { // the second time the mute is remembered, and sent all the same
		result, err := r.CarryOut(t.Context(), plan)
		if err != nil {
			t.Fatal(err)
		}
		if result.Complete() || len(result.NotDone) != 2 {
			t.Errorf("not done: %v", result.NotDone)
		}
		lectern := profiles.Place{Part: profiles.Channel, Number: 2}
		if muted, _ := mock.Holds(profiles.Parameter{Place: lectern, Name: "mute"}); muted != profiles.Switch(true) {
			t.Error("the position is not muted")
		}
		if fader, _ := mock.Holds(profiles.Parameter{Place: lectern, Name: "fader"}); fader != profiles.Silence {
			t.Errorf("the fader was moved to %v", fader)
		}
		plan = planOn(t, r)
	}
}
