package recall_test

import (
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

var (
	rivalSeeds = flag.Int("rivals.seeds", 16, "how often two recall one position at a time")
	rivalSeed  = flag.Uint64("rivals.seed", 1, "the first of the seeds")
)

// twoMachines are two people at one desk, each with a book, a memory and a link of their
// own: no lock is between them.
func twoMachines(t *testing.T, trouble mockdesk.Trouble) (one, two *stage) {
	links, socket := mockdesk.Cables(2)
	one = newStage(t, setting{mock: mockdesk.Options{Trouble: trouble, Socket: socket}, link: links[0], venue: noLimits})
	two = newStage(t, setting{link: links[1], at: one.mock, venue: noLimits})
	return one, two
}

// outcome is what one of the two was told.
type outcome struct {
	target   recall.Target
	result   *recall.Result
	err      error
	from, to time.Time // of the first setting sent but for the mute, and the last
}

func (o outcome) complete() bool { return o.err == nil && o.result != nil && o.result.Complete() }

func (o outcome) String() string {
	switch {
	case o.err != nil:
		return fmt.Sprintf("%s: %v", o.target.Performer, o.err)
	case o.complete():
		return fmt.Sprintf("%s: all confirmed after %v, moved %d, overruled %d, rivals %d", o.target.Performer, o.result.Took, len(o.result.Moved), len(o.result.Overruled), len(o.result.Rivals))
	}
	return fmt.Sprintf("%s: not confirmed after %v: %d, still muted %d, moved %d, overruled %d", o.target.Performer, o.result.Took, len(o.result.Unproved), len(o.result.StillMuted), len(o.result.Moved), len(o.result.Overruled))
}

func TestTwoWhoRecallOnePositionFromTwoMachinesNeverLeaveAMixtureOpen(t *testing.T) {
	var counts rivalCounts
	t.Run("seeds", func(t *testing.T) {
		for i := range *rivalSeeds {
			t.Run(fmt.Sprint(i), func(t *testing.T) {
				t.Parallel()
				synctest.Test(t, func(t *testing.T) { twoAtOnce(t, &counts, *rivalSeed+uint64(i)) })
			})
		}
	})
	t.Log(counts.table())
}

// twoAtOnce has two people swap the lectern, the second some time after the first.
func twoAtOnce(t *testing.T, counts *rivalCounts, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 7))
	one, two := twoMachines(t, mockdesk.Trouble{Seed: seed})
	one.must(opened(one.on("lectern", performers[2]), true))
	time.Sleep(time.Second)
	way := mockdesk.Way{Delay: time.Duration(rng.IntN(30)) * time.Millisecond, Lose: 0.1 * rng.Float64(), Double: 0.1 * rng.Float64()}
	if rng.IntN(3) == 0 {
		way = mockdesk.Way{}
	}
	one.mock.Misbehave(mockdesk.Trouble{In: way, Out: way})
	wait := time.Duration(rng.IntN(1500)) * time.Millisecond
	var outcomes [2]outcome
	var both sync.WaitGroup
	for i, who := range []*stage{one, two} {
		target := opened(who.on("lectern", performers[i]), true)
		fades := rng.IntN(6) == 0
		if fades {
			target.Fade = scenes.Fade{Time: 300 * time.Millisecond}
		}
		if *rivalSeeds == 1 {
			last, start := "", time.Now()
			who.Progress = func(what string, done, of int) {
				if what != last {
					t.Logf("%v %s: %s of %d", time.Since(start), target.Performer, what, of)
				}
				last = what
			}
		}
		both.Go(func() {
			time.Sleep(time.Duration(i) * wait)
			outcomes[i] = who.told(t, target)
		})
	}
	both.Wait()
	time.Sleep(underWay)
	counts.add(one.rivalsFault(outcomes), outcomes, one.isOpen("channel.3"))
	if fault := one.rivalsFault(outcomes); fault != nil {
		t.Errorf("seed %d, %v later: %v\n%v\n%v", seed, wait, fault, outcomes[0], outcomes[1])
	}
}

// told recalls, and gives what is told.
func (s *stage) told(t *testing.T, target recall.Target) outcome {
	s.link.first.Store(nil)
	o := outcome{target: target}
	_, o.result, o.err = s.recall(t.Context(), target)
	if first, last := s.link.first.Load(), s.link.last.Load(); first != nil {
		o.from, o.to = *first, *last
	}
	if o.err != nil && !errors.Is(o.err, desk.ErrSilent) {
		t.Error(o.err)
	}
	return o
}

// rivalsFault says what must not be, after two recalled the lectern.
func (s *stage) rivalsFault(outcomes [2]outcome) error {
	holds := s.everything()
	others := func(o outcome) (found []string) {
		for _, w := range o.target.Wanted {
			if _, safe := s.Venue.SafeFor(w.Parameter); !safe && holds[w.Parameter] != w.Value {
				found = append(found, fmt.Sprintf("%s %v, not %v", w.Parameter, holds[w.Parameter], w.Value))
			}
		}
		return found
	}
	wholly := func(o outcome) bool { return len(others(o)) == 0 }
	a, b := outcomes[0], outcomes[1]
	if a.to.After(b.to) {
		a, b = b, a // b ended last
	}
	switch {
	case s.isOpen("channel.3") && !wholly(a) && !wholly(b):
		return fmt.Errorf("it is open with a mixture: %q, %q, %v, %v", others(a), others(b), a.result.Moved, b.result.Moved)
	case a.complete() && b.complete() && b.from.Before(a.to) && len(a.result.Rivals)+len(b.result.Rivals) == 0:
		return errors.New("both are told that all is confirmed, at the same time")
	case b.complete() && !wholly(b):
		return errors.New("the last one is told that all is confirmed, and it isn't")
	}
	return nil
}

// rivalCounts counts what came of it.
type rivalCounts struct {
	mu                            sync.Mutex
	one, both, neither, open, bad int
	moved                         int // with a setting that was told as a hand's
	longest                       time.Duration
}

func (c *rivalCounts) add(fault error, outcomes [2]outcome, open bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	switch a, b := outcomes[0].complete(), outcomes[1].complete(); {
	case fault != nil:
		c.bad++
	case a && b:
		c.both++
	case a || b:
		c.one++
	default:
		c.neither++
	}
	if open {
		c.open++
	}
	for _, o := range outcomes {
		if o.complete() {
			c.moved += len(o.result.Moved)
		}
		c.longest = max(c.longest, o.to.Sub(o.from))
	}
}

func (c *rivalCounts) table() string {
	return fmt.Sprintf("one was confirmed and the other told: %d, one after the other: %d, both told: %d, wrong: %d; open in the end: %d; told as moved by a hand: %d; longest %v",
		c.one, c.both, c.neither, c.bad, c.open, c.moved, c.longest)
}
