package recall_test

import (
	"fmt"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
)

// However far the swap is when the desk is switched off and on, the position is muted
// or the restart is told, and the same swap again ends all confirmed, and open.
func TestADeskThatRestartsInTheMiddleOfASwap(t *testing.T) {
	for _, takes := range []time.Duration{0, 50 * time.Millisecond, time.Second, 30 * time.Second} {
		t.Run(takes.String(), func(t *testing.T) {
			t.Parallel()
			for after := 1; after <= botanistToPoet; after++ {
				onStage(t, setting{profile: quick}, func(t *testing.T, s *stage) {
					s.must(s.on("lectern", "botanist"))
					restartAfter(t, s, after, takes)
				})
			}
		})
	}
}

func restartAfter(t *testing.T, s *stage, after int, takes time.Duration) {
	t.Helper()
	s.mock.RestartAfter(after, takes)
	target := s.on("lectern", "poet")
	judge := s.judgeFrom(target)
	_, result, err := s.recall(t.Context(), target)
	if result == nil {
		t.Fatalf("restart after %d settings: %v", after, err)
	}
	if err := judge.fault(result); err != nil {
		t.Errorf("restart after %d settings: %v", after, err)
	}
	if s.isOpen("channel.3") && !result.Restarted && result.Complete() {
		t.Errorf("restart after %d settings: open, and not told", after)
	}
	if takes == 30*time.Second && len(result.Confirmed) > 0 {
		t.Errorf("restart after %d settings: of a desk that is off, %d settings are confirmed", after, len(result.Confirmed))
	}
	time.Sleep(takes) // until the desk is back
	s.again()
	s.must(s.on("lectern", "poet"))
	if !s.isOpen("channel.3") {
		t.Errorf("restart after %d settings: it was open before, and is not after the second swap", after)
	}
	for _, w := range target.Wanted {
		if held, _ := s.mock.Holds(w.Parameter); held != w.Value {
			t.Errorf("restart after %d settings: %s is %v, not %v", after, w.Parameter, held, w.Value)
		}
	}
}

// On a desk that was just switched on nothing tells a restart but the mute.
func TestADeskThatRestartsInTheMiddleOfItsFirstSwap(t *testing.T) {
	t.Parallel()
	for after := 1; after <= 32; after++ {
		onStage(t, setting{profile: quick}, func(t *testing.T, s *stage) {
			s.mock.RestartAfter(after, 0)
			target := s.on("lectern", "botanist")
			judge := s.judgeFrom(target)
			_, result, err := s.recall(t.Context(), target)
			if err != nil || !result.Complete() {
				t.Fatalf("restart after %d settings: %v %v", after, err, result)
			}
			if err := judge.fault(result); err != nil {
				t.Errorf("restart after %d settings: %v", after, err)
			}
			if after > 1 && !result.Restarted { // after the mute alone the channel had nothing to lose
				t.Errorf("restart after %d settings is not told", after)
			}
		})
	}
}

// A question may overtake a setting, which is then sent again for nothing, and may come
// after the restart: then it is all that is right of the whole place.
func TestASettingThatWasSentAgainDoesNotHideARestart(t *testing.T) {
	way := mockdesk.Way{Delay: 5 * time.Millisecond}
	for _, seed := range []uint64{24, 31, 45} { // under which that happens
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			for after := 31; after <= 32; after++ {
				trouble := mockdesk.Trouble{Seed: seed, In: way, Out: way, Rate: 500, Queue: 32}
				onStage(t, setting{mock: mockdesk.Options{Trouble: trouble}}, func(t *testing.T, s *stage) {
					s.mock.RestartAfter(after, 0)
					target := opened(s.on("lectern", "botanist"), true)
					judge := s.judgeFrom(target)
					_, result, err := s.recall(t.Context(), target)
					if err != nil {
						t.Fatal(err)
					}
					if err := judge.fault(result); err != nil {
						t.Errorf("restart after %d settings: %v", after, err)
					}
				})
			}
		})
	}
}

func TestARestartRestoresThePositionsThatDidNotChange(t *testing.T) {
	onStage(t, setting{profile: quick}, func(t *testing.T, s *stage) {
		left := opened(s.on("table-left", "pilot"), true)
		s.must(opened(s.on("lectern", "botanist"), true), left)
		s.mock.RestartAfter(5, 0)
		result := s.must(s.on("lectern", "poet"), s.on("table-left", "pilot"))
		if !result.Restarted || !s.isOpen("channel.5") || !s.isOpen("channel.3") {
			t.Error(result.Restarted, s.isOpen("channel.5"), s.isOpen("channel.3"))
		}
		for _, w := range left.Wanted {
			if held, _ := s.mock.Holds(w.Parameter); held != w.Value {
				t.Errorf("%s is %v, not %v", w.Parameter, held, w.Value)
			}
		}
	})
}

// A desk that was just switched on is open, but nobody has wished for that.
func TestARestartDoesNotOpenAChannelThatWasMuted(t *testing.T) {
	onStage(t, setting{profile: quick}, func(t *testing.T, s *stage) {
		s.move("channel.2.mute", profiles.Switch(true))
		s.move("channel.2.gate.attack", profiles.Number(50)) // which tells the restart
		s.mock.RestartAfter(2, 0)
		if result := s.must(s.reading("[channel.2]\neq.1.gain = -6.0\neq.2.gain = -6.0\neq.3.gain = -6.0\n")...); !result.Restarted {
			t.Error("the restart is not told")
		}
		if s.isOpen("channel.2") {
			t.Error("it is open")
		}
	})
}

// What was to be undone is what a desk holds that was just switched on, so that after
// the restart nothing is left to send.
func TestAnUndoThatARestartHasDoneIsConfirmed(t *testing.T) {
	onStage(t, setting{profile: quick}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		s.move("channel.3.gate.attack", profiles.Number(50)) // which tells the restart
		s.mock.RestartAfter(10, 0)
		result, err := s.undo(t.Context())
		if err != nil || !result.Restarted {
			t.Fatal(result, err)
		}
		s.complete(result)
	})
}

func TestADeskThatNeverStopsRestartingIsLeftMuted(t *testing.T) {
	onStage(t, setting{profile: quick}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		for after := 12; after < 200; after += 12 {
			s.mock.RestartAfter(after, 0)
		}
		_, result, err := s.recall(t.Context(), s.on("lectern", "poet"))
		if err != nil || result.Complete() || !result.Restarted {
			t.Fatal(result, err)
		}
		if s.isOpen("channel.3") || len(result.StillMuted) != 1 || len(result.Confirmed) != 1 {
			t.Error("open:", s.isOpen("channel.3"), "told as muted:", len(result.StillMuted))
		}
	})
}

// What a recall left half done must not be opened only because a restart, or nobody,
// has opened it.
func TestAPositionThatWasMutedBeforeAnUnfinishedRecallStaysMuted(t *testing.T) {
	onStage(t, setting{profile: quick}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), false))
		if _, result, _ := s.recall(s.stopAfter(t, 5), s.on("lectern", "poet")); result.Complete() {
			t.Fatal("it came to its end")
		}
		s.mock.Restart(0)
		s.again()
		s.must(s.on("lectern", "poet"))
		if s.isOpen("channel.3") {
			t.Error("it is open")
		}
	})
}

// The first two restarts have the mute and then every setting sent twice, so that none of
// them is a witness that was sent once. The third comes just as the fader is set.
func TestAnotherRestartBeforeTheOpeningIsNoticed(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		fader := s.parameter("channel.3.fader")
		done := false
		s.atSet(func() {
			if last := s.events[len(s.events)-1].Setting; last.Parameter == fader && !done {
				done = true
				go s.mock.Restart(50 * time.Millisecond)
			}
		})
		s.mock.RestartAfter(1, 0)
		s.mock.RestartAfter(31, 300*time.Millisecond) // two mutes and all but the fader
		target := opened(s.on("lectern", "botanist"), true)
		judge := s.judgeFrom(target)
		result := s.must(target)
		if err := judge.fault(result); err != nil {
			t.Error(err)
		}
		if !done || !result.Restarted {
			t.Error("restarts:", done, result.Restarted)
		}
	})
}
