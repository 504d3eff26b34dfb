package recall_test

import (
	"errors"
	"sync"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

// sleeper is the machine's clock with sleeps in it: the wall goes on, and nothing runs.
type sleeper struct {
	mu    sync.Mutex
	clock desk.Clock
	slept time.Duration
	// after is at which reading it sleeps, 0 for never; length is for how long. At is when
	// it did.
	after  int
	length time.Duration
	at     time.Time
}

func (c *sleeper) now() desk.Moment {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.after--; c.after == 0 {
		c.slept += c.length
		c.at = time.Now()
	}
	m := c.clock()
	m.Wall = m.Wall.Add(c.slept)
	return m
}

// sleepAt has it sleep at so many readings from now.
func (c *sleeper) sleepAt(reading int, length time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.after, c.length, c.at = reading, length, time.Time{}
}

func (c *sleeper) sleptAt() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

// sleeps puts a sleeper into the recaller.
func (s *stage) sleeps() *sleeper {
	c := &sleeper{clock: desk.MachineClock()}
	s.Clock = c.now
	return c
}

// The clock is read before each packet and once a second, so that each reading is a moment at
// which the computer could have slept with another outcome.
func TestARecallAcrossASleepStopsMutedAtAnyMomentAndOpensNothing(t *testing.T) {
	t.Parallel()
	moments := 0
	for whole := false; !whole; moments++ {
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			s.must(s.on("lectern", "botanist"))
			before := s.everything()
			clock := s.sleeps()
			target := s.on("lectern", "poet")
			plan, err := s.Prepare(t.Context(), []recall.Target{target})
			if err != nil {
				t.Fatal(err)
			}
			judge := s.judgeFrom(target)
			clock.sleepAt(moments+1, time.Hour)
			result, err := s.CarryOut(t.Context(), plan)
			if whole = clock.sleptAt().IsZero(); whole {
				s.complete(result)
				return
			}
			if away := new(desk.Away); !errors.As(err, &away) || away.Gap.Ahead.Round(time.Second) != time.Hour {
				t.Fatalf("asleep at reading %d: %v", moments, err)
			}
			s.mustNotSendAfter(t, clock.sleptAt())
			if result == nil { // nothing was sent
				s.isAs(t, before)
				return
			}
			if err := judge.fault(result); err != nil {
				t.Errorf("asleep at reading %d: %v", moments, err)
			}
			s.Clock = nil
			s.finishOrUndo(t, moments, before)
		})
	}
	if moments < botanistToPoet {
		t.Errorf("only %d moments were tried", moments)
	}
}

// mustNotSendAfter sees that the desk took nothing after a time.
func (s *stage) mustNotSendAfter(t *testing.T, slept time.Time) {
	t.Helper()
	s.mu.Lock()
	defer s.mu.Unlock()
	for i, e := range s.events {
		if e.What == mockdesk.Set && s.at[i].After(slept) {
			t.Errorf("%s was set to %v after the sleep", e.Setting.Parameter, e.Setting.Value)
		}
	}
}

func TestAPlanFromBeforeASleepIsNotCarriedOut(t *testing.T) {
	t.Parallel()
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		clock := s.sleeps()
		plan, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "botanist")})
		if err != nil {
			t.Fatal(err)
		}
		before := s.everything()
		clock.sleepAt(1, time.Hour)
		clock.now()
		if result, err := s.CarryOut(t.Context(), plan); result != nil || !errors.As(err, new(*desk.Away)) {
			t.Errorf("%v, %v", result, err)
		}
		s.isAs(t, before)
		s.must(s.on("lectern", "botanist"))
	})
}

func TestWhatIsReadAcrossASleepIsNoPlan(t *testing.T) {
	t.Parallel()
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.sleeps().sleepAt(2, time.Hour) // the first is as it begins
		if _, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "botanist")}); !errors.As(err, new(*desk.Away)) {
			t.Error(err)
		}
	})
}

func TestAClockThatIsSetBackStopsNoRecall(t *testing.T) {
	t.Parallel()
	for _, reading := range []int{1, 5, 15} {
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			s.sleeps().sleepAt(reading, -time.Hour)
			s.must(s.on("lectern", "botanist"))
		})
	}
}

func TestAFadeAcrossASleepGoesNoFurther(t *testing.T) {
	t.Parallel()
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), true))
		clock := s.sleeps()
		target := s.on("lectern", "poet")
		target.Fade = scenes.Fade{Time: 2 * time.Second}
		plan, err := s.Prepare(t.Context(), []recall.Target{target})
		if err != nil {
			t.Fatal(err)
		}
		s.heard()
		clock.sleepAt(40, time.Hour) // on its way down, while it is open
		if _, err = s.CarryOut(t.Context(), plan); !errors.As(err, new(*desk.Away)) {
			t.Fatal(err)
		}
		s.mustNotSendAfter(t, clock.sleptAt())
		if muted := s.holds("channel.3.mute"); muted != profiles.Switch(false) {
			t.Error("it slept too late: it was muted already")
		}
	})
}

// A bundle waits until the pace allows for all that is in it.
func TestABundleThatWaitedThroughASleepIsNotSent(t *testing.T) {
	t.Parallel()
	const step = 7 * time.Millisecond
	moments := 0
	for whole := false; !whole; moments++ {
		onStage(t, setting{profile: []string{"burst = 16 ", "bundle = 400\nburst = 1 "}}, func(t *testing.T, s *stage) {
			s.must(s.on("lectern", "botanist"))
			clock := s.sleeps()
			plan, err := s.Prepare(t.Context(), []recall.Target{s.on("lectern", "poet")})
			if err != nil {
				t.Fatal(err)
			}
			s.heard()
			time.AfterFunc(time.Duration(moments)*step, func() {
				clock.sleepAt(1, time.Hour)
				clock.now()
			})
			_, err = s.CarryOut(t.Context(), plan)
			if whole = err == nil; whole {
				return
			}
			if !errors.As(err, new(*desk.Away)) {
				t.Errorf("asleep at moment %d: %v", moments, err)
			}
			s.mustNotSendAfter(t, clock.sleptAt())
		})
	}
	if moments < botanistToPoet {
		t.Errorf("only %d moments were tried", moments)
	}
}
