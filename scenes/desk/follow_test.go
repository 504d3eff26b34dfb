package desk_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
)

func TestADeskThatIsFollowedTellsItsChangesUntilTheContextEnds(t *testing.T) {
	onStage(t, setting{profile: []string{`lapses = "8s"`, `lapses = "90ms"`}}, func(t *testing.T, s *stage) {
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- s.Follow(ctx) }()
		q := parameter(t, "channel.1.pan")
		for i := range 20 {
			time.Sleep(50 * time.Millisecond) // of the stage's clock: the request would have lapsed long ago
			synctest.Wait()
			if _, err := s.mock.Move(q, profiles.Number(float64(i+1))); err != nil {
				t.Fatal(err)
			}
		}
		stop()
		if err := <-ended; !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
		synctest.Wait()
		for i, n := range s.news {
			if n != (profiles.Setting{Parameter: q, Value: profiles.Number(float64(i + 1))}) {
				t.Errorf("news %d is %v", i, n)
			}
		}
		if len(s.news) != 20 {
			t.Errorf("%d of 20 changes were told", len(s.news))
		}
	})
}

func TestTheRequestToFollowSurvivesTheLossOfTwoInARow(t *testing.T) {
	onStage(t, setting{profile: []string{`lapses = "8s"`, `lapses = "1s"`}}, func(t *testing.T, s *stage) {
		n := 0
		s.cable.fates = func([]byte) []time.Duration {
			if n++; n%3 != 1 {
				return nil
			}
			return []time.Duration{0}
		}
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- s.Follow(ctx) }()
		for i := range 100 {
			time.Sleep(99 * time.Millisecond)
			synctest.Wait()
			if _, err := s.mock.Move(parameter(t, "channel.1.pan"), profiles.Number(float64(i%90+1))); err != nil {
				t.Fatal(err)
			}
		}
		stop()
		<-ended
		synctest.Wait()
		if len(s.news) != 100 {
			t.Errorf("%d of 100 changes were told", len(s.news))
		}
	})
}

func TestADeskThatCanNotBeFollowedIsAnError(t *testing.T) {
	none := []string{"[follow]\nask = \"/quay/keep-telling\"\nlapses = \"8s\"\n", ""}
	onStage(t, setting{profile: none, mock: mockdesk.Options{}}, func(t *testing.T, s *stage) {
		if err := s.Follow(t.Context()); err == nil || !strings.Contains(err.Error(), "quay-24 can't be followed") {
			t.Error(err)
		}
	})
}

func TestFollowEndsWithTheLink(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		ended := make(chan error, 1)
		go func() { ended <- s.Follow(t.Context()) }()
		synctest.Wait()
		s.Close()
		if err := <-ended; err == nil {
			t.Error("no error")
		}
	})
}
