package desk_test

import (
	"context"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// deaf is a quay-24 that tells nobody of its changes.
var deaf = []string{"[follow]\nask = \"/quay/keep-telling\"\nlapses = \"8s\"\n", ""}

// hand has a hand move a control after a time from now, at each of the values, a
// millisecond apart.
func (s *stage) hand(after time.Duration, path string, values ...float64) {
	q := parameter(s.t, path)
	for i, v := range values {
		time.AfterFunc(after+time.Duration(i)*time.Millisecond, func() { _, _ = s.mock.Move(q, profiles.Number(v)) })
	}
}

func TestAHandOnAGlidingLevelWinsWhereTheDeskTellsIt(t *testing.T) {
	for _, to := range []float64{3, -39, -6, math.Inf(-1)} { // above, behind, at the end of the line, off
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			lines := []desk.Line{s.line(fader, -40, -6), s.line("channel.1.send.1.level", -6, -40)}
			s.hand(time.Second, fader, to)
			glided := s.glide(2*time.Second, lines...)
			held := s.holds(fader)
			if math.Abs(held-to) > 0.12 {
				t.Errorf("the hand set %v dB, and the desk holds %v", to, held)
			}
			if len(glided.Moved) != 1 || glided.Moved[0].Wanted.Parameter != lines[0].Parameter || glided.Moved[0].Found != profiles.Number(held) {
				t.Errorf("told: %v", glided.Moved)
			}
			if len(glided.Confirmed) != 1 || math.Abs(s.holds("channel.1.send.1.level")+40) > 0.12 {
				t.Errorf("the other level: %v, %v", glided.Confirmed, s.holds("channel.1.send.1.level"))
			}
		})
	}
}

// The hand turns the control up and holds on to it: it is told, or caught by one of the
// questions, of which there are four a second.
func TestAHandOnAGlidingLevelWinsWhereTheDeskHasToBeAsked(t *testing.T) {
	onStage(t, setting{profile: deaf}, func(t *testing.T, s *stage) {
		lines := []desk.Line{s.line(fader, -40, -6), s.line("channel.1.send.1.level", -6, -40)}
		var turned []float64
		for i := range 500 {
			turned = append(turned, float64(i)/100)
		}
		s.hand(800*time.Millisecond, fader, turned...)
		glided := s.glide(2*time.Second, lines...)
		if held := s.holds(fader); math.Abs(held-4.99) > 0.05 {
			t.Errorf("the hand left it at 4.99 dB, and the desk holds %v", held)
		}
		if len(glided.Moved) != 1 || len(glided.Confirmed) != 1 {
			t.Errorf("%+v", glided)
		}
		asked := 0
		for _, e := range s.heard() {
			if e.What == mockdesk.Asked {
				asked++
			}
		}
		if asked > 2*(2*4+2)+2 {
			t.Errorf("%d questions", asked)
		}
	})
}

// Steps of a quarter of a dB, one a second: a question comes in between.
func TestASingleMoveOfAHandIsSeenBetweenTwoSteps(t *testing.T) {
	onStage(t, setting{profile: deaf}, func(t *testing.T, s *stage) {
		line := s.line(fader, -8, -6)
		s.hand(3100*time.Millisecond, fader, 2)
		glided := s.glide(8*time.Second, line)
		if held := s.holds(fader); math.Abs(held-2) > 0.05 || len(glided.Moved) != 1 {
			t.Errorf("it is at %v dB; told: %v", held, glided.Moved)
		}
	})
}

func TestAHandThatMovesTheLevelAsTheEndIsAskedForWins(t *testing.T) {
	for _, profile := range [][]string{nil, deaf} {
		onStage(t, setting{profile: profile}, func(t *testing.T, s *stage) {
			line := s.line(fader, -20, -6)
			s.hand(time.Second+50*time.Millisecond, fader, 2)
			glided := s.glide(time.Second, line)
			if held := s.holds(fader); math.Abs(held-2) > 0.05 || len(glided.Moved) != 1 || len(glided.Doubts) > 0 {
				t.Errorf("it is at %v dB; %+v", held, glided)
			}
		})
	}
}

// However packets fare, what we sent ourselves is taken for no hand's.
func TestNoStepOfOurOwnPassesForAHand(t *testing.T) {
	for _, profile := range [][]string{nil, deaf} {
		for seed := range uint64(30) {
			way := mockdesk.Way{Lose: 0.1, Double: 0.1, Reorder: 0.3, Delay: 20 * time.Millisecond}
			onStage(t, setting{profile: profile, mock: mockdesk.Options{Trouble: mockdesk.Trouble{Seed: seed, In: way, Out: way}}}, func(t *testing.T, s *stage) {
				glided := s.glide(2*time.Second, s.line(fader, -40, -6), s.line("channel.1.send.1.level", -6, -40))
				if len(glided.Moved) > 0 || len(glided.Confirmed) != 2 {
					t.Errorf("seed %d: %v", seed, glided.Moved)
				}
			})
		}
	}
}

// faderAndPan makes the fader and the pan of a channel one message.
var faderAndPan = []string{
	`pan = { at = "/lane/{channel}/out/side", `, `pan = { at = "/lane/{channel}/out/level", slot = 2, `,
	`fader = { at = "/lane/{channel}/out/level", `, `fader = { at = "/lane/{channel}/out/level", slot = 1, `,
}

// A hand turns the pan while the fader glides, in the same message. On a desk that tells
// its changes, or is asked before each step, the hand's pan goes along from then on.
func TestWhatGoesAlongWithAGlidingLevelIsTheHands(t *testing.T) {
	for _, profile := range [][]string{faderAndPan, append(faderAndPan[:len(faderAndPan):len(faderAndPan)], deaf...)} {
		onStage(t, setting{profile: profile}, func(t *testing.T, s *stage) {
			line := s.line("channel.1.fader", -30, -6)
			pan := parameter(t, "channel.1.pan")
			if len(s.profile.Beside(line.Parameter)) != 1 {
				t.Fatal("fader and pan are not one message")
			}
			s.hand(time.Second+100*time.Microsecond, "channel.1.pan", 40)
			began := time.Now()
			glided := s.glide(2*time.Second, line)
			if held, _ := s.mock.Holds(pan); held != profiles.Number(40) {
				t.Error("the pan is", held)
			}
			if len(glided.Confirmed) != 1 {
				t.Errorf("%+v", glided)
			}
			from, _ := line.From.Number()
			onLine(t, s.taken(line.Parameter), began, from, s.holds(fader), glided.Took)
		})
	}
}

// When a hand takes the one of two levels that are in one message, it goes along with the
// other as the hand has it.
func TestALevelThatAHandHasGoesAlongAsTheHandHasIt(t *testing.T) {
	together := []string{
		`send.mix.level = { at = "/lane/{channel}/toward/{mix}/level", `, `send.mix.level = { at = "/lane/{channel}/out/level/{mix}", slot = 1, `,
		`send.mix.on = { at = "/lane/{channel}/toward/{mix}/in" `, `send.mix.on = { at = "/lane/{channel}/out/level/{mix}", slot = 2 `,
	}
	onStage(t, setting{profile: together}, func(t *testing.T, s *stage) {
		on := parameter(t, "channel.1.send.1.on")
		_, _ = s.mock.Move(on, profiles.Switch(true))
		line := s.line("channel.1.send.1.level", -6, math.Inf(-1))
		s.hand(time.Second, "channel.1.send.1.level", 1)
		glided := s.glide(2*time.Second, line)
		if len(glided.Moved) != 1 || math.Abs(s.holds("channel.1.send.1.level")-1) > 0.05 {
			t.Errorf("%+v", glided)
		}
		synctest.Wait()
		if held, _ := s.mock.Holds(on); held != profiles.Switch(true) {
			t.Error("the send is switched off")
		}
	})
}

func TestAStoppedGlideLeavesNothingRunning(t *testing.T) {
	for _, profile := range [][]string{nil, deaf} {
		onStage(t, setting{profile: profile}, func(t *testing.T, s *stage) {
			ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
			defer cancel()
			if _, err := s.Glide(ctx, []desk.Line{s.line(fader, -40, -10)}, 2*time.Second, desk.GlideOptions{}); err == nil {
				t.Error("no error")
			}
			before := len(s.heard())
			time.Sleep(20 * time.Second)
			if after := len(s.heard()); after != before {
				t.Errorf("%d events afterwards", after-before)
			}
		})
	}
}

// The pan says that the desk has lost what it held. It is asked for every 500 ms.
func TestAGlideEndsOnADeskThatHasLostWhatItHeld(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		pan := parameter(t, "channel.1.pan")
		_, _ = s.mock.Move(pan, profiles.Number(40))
		time.AfterFunc(time.Second+time.Millisecond, func() { s.mock.Restart(0) })
		line := s.line(fader, -40, -6)
		glided, err := s.Glide(t.Context(), []desk.Line{line}, 4*time.Second, desk.GlideOptions{
			Witnesses: []profiles.Parameter{pan}, IsLost: func(v scenes.Values) bool { return v[pan] == profiles.Number(0) },
		})
		if err != nil || !glided.Lost || len(glided.Confirmed) > 0 {
			t.Error(glided.Lost, glided.Confirmed, err)
		}
		if glided.Took < time.Second || glided.Took > 2*time.Second {
			t.Error("it ended after", glided.Took)
		}
	})
}
