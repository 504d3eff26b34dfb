package recall_test

import (
	"os"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
	"deskhand/testdata"
)

// stage is the example book, a mock desk, and a recaller between them.
type stage struct {
	*recall.Recaller
	mock *mockdesk.Desk
}

func newStage(t *testing.T, o mockdesk.Options) *stage {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, testdata.Book()); err != nil {
		t.Fatal(err)
	}
	book, err := scenes.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	venue, err := book.Venue("net-loft")
	if err != nil {
		t.Fatal(err)
	}
	mock, err := mockdesk.Start(venue.Desk.Profile, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { mock.Close() })
	memory, err := book.Memory(venue)
	if err != nil {
		t.Fatal(err)
	}
	d, err := desk.Open(t.Context(), venue.Desk.Profile, mock.Addr(), desk.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close() })
	return &stage{&recall.Recaller{Book: book, Venue: venue, Memory: memory, Desk: d}, mock}
}

func (s *stage) target(t *testing.T, position, performer string) []recall.Target {
	t.Helper()
	cast, err := s.Book.CastFor(s.Venue, position, performer, nil)
	if err != nil {
		t.Fatal(err)
	}
	r, err := s.Venue.Resolve(cast)
	if err != nil {
		t.Fatal(err)
	}
	return []recall.Target{recall.ForPosition(r)}
}

func TestASwapLeavesOnTheDeskWhatTheBookSays(t *testing.T) {
	s := newStage(t, mockdesk.Options{})
	plan, err := s.Prepare(t.Context(), s.target(t, "lectern", "botanist"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range plan.Changes() {
		t.Log(c.Parameter, c.Spec.Say(c.From), c.Spec.Say(c.To), c.Origin, c.Note)
	}
	result, err := s.CarryOut(t.Context(), plan)
	if err != nil {
		t.Fatal(err)
	}
	if !result.Complete() {
		t.Errorf("not confirmed: %v", result.Unproved)
	}
	t.Log(len(result.Sent), len(result.Confirmed), result.Took, s.mock.Counts())
	q, _ := profiles.ParseParameter("channel.3.input.gain")
	t.Log(s.mock.Holds(q))
}
