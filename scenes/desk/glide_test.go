package desk_test

import (
	"context"
	"errors"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/desk"
)

const fader = "channel.1.fader"

// line is a line of the stage's desk, which holds its begin.
func (s *stage) line(path string, from, to float64) desk.Line {
	s.t.Helper()
	q := parameter(s.t, path)
	held, err := s.mock.Move(q, profiles.Number(from))
	if err != nil {
		s.t.Fatal(err)
	}
	return desk.Line{Parameter: q, From: held, To: profiles.Number(to)}
}

func (s *stage) glide(over time.Duration, lines ...desk.Line) desk.Glided {
	s.t.Helper()
	glided, err := s.Glide(s.t.Context(), lines, over, desk.GlideOptions{})
	if err != nil {
		s.t.Fatal(err)
	}
	return glided
}

// holds is what the desk holds in dB.
func (s *stage) holds(path string) float64 {
	s.t.Helper()
	synctest.Wait()
	v, _ := s.mock.Holds(parameter(s.t, path))
	n, ok := v.Number()
	if !ok {
		s.t.Fatal(path, v)
	}
	return n
}

// stamped is a level that the desk took, and when by its own clock.
type stamped struct {
	at   time.Time
	held float64
}

// taken gives the levels that came over the network.
func (s *stage) taken(q profiles.Parameter) []stamped {
	events := s.heard()
	s.mu.Lock()
	defer s.mu.Unlock()
	var all []stamped
	for i, e := range events {
		if e.What == mockdesk.Set && e.Setting.Parameter == q {
			n, _ := e.Setting.Value.Number()
			all = append(all, stamped{s.at[i], n})
		}
	}
	return all
}

// onLine holds what the desk took of a level against its line, from the moment it began:
// right before and right after each step, which are the worst moments. Silence and the way
// from there to the begin of the line are not on it. It gives the largest distance and the
// largest step in dB.
func onLine(t *testing.T, took []stamped, began time.Time, from, to float64, over time.Duration) (far, largest float64) {
	t.Helper()
	held := from
	distance := func(at time.Time) float64 {
		along := min(float64(at.Sub(began))/float64(over), 1)
		return math.Abs(held - (from + along*(to-from)))
	}
	for _, s := range took {
		if math.IsInf(s.held, -1) {
			continue
		}
		far = max(far, distance(s.at))
		largest = max(largest, math.Abs(s.held-held))
		held = s.held
		far = max(far, distance(s.at))
	}
	if far = max(far, distance(began.Add(over))); far > 0.5 || largest > 1.5 {
		t.Errorf("up to %.3f dB from the line, in steps of up to %.3f dB", far, largest)
	}
	return far, largest
}

// The last way would take 24 / 0.75 = 32 messages in 0.1 s, of which the glide's share of
// the pace, 320 a second, takes 0.1 s: it takes a little longer.
func TestALevelIsByItsLineAtEachMomentAndEndsExactly(t *testing.T) {
	for _, way := range []struct {
		from, to float64
		over     time.Duration
	}{
		{0, -12, 2 * time.Second}, {-12, 0, 2 * time.Second}, {-40, 5, 500 * time.Millisecond},
		{-6, -5.9, time.Second}, {5, -60, 60 * time.Second}, {-30, -6, 100 * time.Millisecond},
	} {
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			line := s.line(fader, way.from, way.to)
			from, _ := line.From.Number()
			control, _ := s.profile.Control(line.Parameter)
			end, _ := control.Nearest(line.To)
			to, _ := end.Number()
			began := time.Now()
			glided := s.glide(way.over, line)
			took := s.taken(line.Parameter)
			far, largest := onLine(t, took, began, from, to, glided.Took)
			t.Logf("%v: %d messages, %.3f dB from the line, steps of %.3f dB", way, len(took), far, largest)
			if s.holds(fader) != to || len(glided.Confirmed) != 1 || glided.Confirmed[0].Setting().Value != end || len(glided.Moved)+len(glided.Doubts) > 0 {
				t.Errorf("holds %v; %+v", s.holds(fader), glided)
			}
			if glided.Took != way.over && (way.over > 100*time.Millisecond || glided.Took > 120*time.Millisecond) {
				t.Errorf("took %v, not %v", glided.Took, way.over)
			}
			for i := 1; i < len(took); i++ {
				if took[i].held == took[i-1].held {
					t.Errorf("%v was sent twice running", took[i].held)
				}
			}
		})
	}
}

// The quay-24's step nearest to -60 dB is -60.0: 160 steps of 0.225 dB from -72 up.
func TestAGlideFromSilenceBeginsAtMinus60AndOneToSilenceEndsThere(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		silent := math.Inf(-1)
		line := s.line(fader, silent, -6)
		began := time.Now()
		s.glide(2*time.Second, line)
		up := s.taken(line.Parameter)
		first := up[0].held
		if math.Abs(first+60) > 0.12 {
			t.Errorf("it begins at %v dB", first)
		}
		onLine(t, up[1:], began, first, s.holds(fader), 2*time.Second)
		if end := s.holds(fader); math.Abs(end+6) > 0.05 {
			t.Errorf("it ends at %v dB", end)
		}
		down := desk.Line{Parameter: line.Parameter, From: profiles.Number(-6), To: profiles.Silence}
		began = time.Now()
		s.glide(2*time.Second, down)
		all := s.taken(line.Parameter)[len(up):]
		onLine(t, all, began, up[len(up)-1].held, first, 2*time.Second)
		last := all[len(all)-2:]
		if last[0].held != first || !math.IsInf(last[1].held, -1) || !math.IsInf(s.holds(fader), -1) {
			t.Error("the last steps are", last)
		}
	})
}

func TestLevelsBelowTheFloorAreLeftAndReachedInOneStep(t *testing.T) {
	silent := math.Inf(-1)
	for _, way := range [][2]float64{{silent, -65}, {-65, silent}, {-70, -62}} {
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			line := s.line(fader, way[0], way[1])
			glided := s.glide(time.Second, line)
			if n := len(s.taken(line.Parameter)); n != 1 || len(glided.Confirmed) != 1 {
				t.Error(way, "took", n, "messages:", glided)
			}
		})
	}
}

func TestALevelThatIsThereAlreadyIsNotSent(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		glided := s.glide(time.Second, s.line(fader, -6, -6.01))
		if sent := s.taken(parameter(t, fader)); len(sent)+len(glided.Sent) > 0 {
			t.Error(sent, glided)
		}
	})
}

// Twelve levels of 24 dB, at 20 messages a second: 12 x 24 / 0.75 = 384 messages take 24 s
// at the 16 a second that a glide takes of that pace.
func TestMoreThanADeskCanTakeInTheTimeTakesLonger(t *testing.T) {
	slow := []string{"pace = 400", "pace = 20", "burst = 16", "burst = 1", "mixes = 8", "mixes = 5"}
	onStage(t, setting{profile: slow}, func(t *testing.T, s *stage) {
		var lines []desk.Line
		for _, channel := range []string{"channel.1", "channel.2"} {
			for _, level := range []string{"fader", "send.1.level", "send.2.level", "send.3.level", "send.4.level", "send.5.level"} {
				lines = append(lines, s.line(channel+"."+level, -30, -6))
			}
		}
		began := time.Now()
		glided := s.glide(2*time.Second, lines...)
		if glided.Took < 20*time.Second || glided.Took > 40*time.Second || len(glided.Confirmed) != len(lines) {
			t.Errorf("it took %v, confirmed %d", glided.Took, len(glided.Confirmed))
		}
		for _, l := range lines {
			from, _ := l.From.Number()
			took := s.taken(l.Parameter)
			onLine(t, took, began, from, took[len(took)-1].held, glided.Took)
		}
		t.Logf("12 levels of 24 dB at 20 messages a second: %d messages, %v", len(glided.Sent), glided.Took)
	})
}

func TestManyLevelsAtOnceOnAQuickDeskKeepTheTime(t *testing.T) {
	onStage(t, setting{profile: []string{"mixes = 8", "mixes = 3"}}, func(t *testing.T, s *stage) {
		var lines []desk.Line
		for _, path := range []string{fader, "channel.1.send.1.level", "channel.1.send.2.level", "channel.1.send.3.level"} {
			lines = append(lines, s.line(path, -60, -6))
		}
		began := time.Now()
		glided := s.glide(2*time.Second, lines...)
		far := 0.0
		for _, l := range lines {
			from, _ := l.From.Number()
			took := s.taken(l.Parameter)
			one, _ := onLine(t, took, began, from, took[len(took)-1].held, 2*time.Second)
			far = max(far, one)
		}
		if glided.Took > 2*time.Second+10*time.Millisecond { // the last step may wait for its turn
			t.Error("it took", glided.Took)
		}
		t.Logf("4 levels of 54 dB in 2 s: %d messages, %.3f dB from the lines", len(glided.Sent), far)
	})
}

func TestWithPacketsLostTheEndIsConfirmedAllTheSame(t *testing.T) {
	for seed := range uint64(40) {
		loss := mockdesk.Trouble{Seed: seed, In: mockdesk.Way{Lose: 0.05, Double: 0.05, Reorder: 0.05}, Out: mockdesk.Way{Lose: 0.05, Double: 0.05, Reorder: 0.05}}
		onStage(t, setting{mock: mockdesk.Options{Trouble: loss}}, func(t *testing.T, s *stage) {
			lines := []desk.Line{s.line(fader, -40, -6), s.line("channel.1.send.1.level", -6, math.Inf(-1))}
			glided := s.glide(time.Second, lines...)
			if len(glided.Confirmed) != 2 || len(glided.Moved)+len(glided.Doubts) > 0 {
				t.Errorf("seed %d: confirmed %d, moved %v, in doubt %v", seed, len(glided.Confirmed), glided.Moved, glided.Doubts)
			}
			for _, c := range glided.Confirmed {
				if held, _ := s.mock.Holds(c.Setting().Parameter); held != c.Setting().Value {
					t.Errorf("seed %d: %s is %v", seed, c.Setting().Parameter, held)
				}
			}
		})
	}
}

func TestAStoppedGlideSaysWhatWasSent(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		line := s.line(fader, -40, -10)
		glided, err := s.Glide(ctx, []desk.Line{line}, 2*time.Second, desk.GlideOptions{})
		if !errors.Is(err, context.DeadlineExceeded) || len(glided.Sent) == 0 || len(glided.Confirmed) > 0 {
			t.Error(len(glided.Sent), glided.Confirmed, err)
		}
		if held := s.holds(fader); math.Abs(held+25) > 0.5 {
			t.Errorf("half-way it is at %v dB", held)
		}
	})
}

func TestOnADeskThatFallsSilentTheEndIsInDoubt(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		line := s.line(fader, -20, -10)
		time.AfterFunc(100*time.Millisecond, func() { s.mock.Misbehave(mockdesk.Trouble{Out: mockdesk.Way{Lose: 1}}) })
		glided := s.glide(time.Second, line)
		if len(glided.Doubts) != 1 || !glided.Doubts[0].Found.IsZero() || len(glided.Confirmed) > 0 {
			t.Errorf("%+v", glided)
		}
	})
}

func TestWhatIsNoLevelDoesNotGlide(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		for _, l := range []desk.Line{
			{Parameter: parameter(t, "channel.1.mute"), From: profiles.Switch(true), To: profiles.Switch(false)},
			{Parameter: parameter(t, "channel.9.fader"), From: profiles.Number(0), To: profiles.Number(-6)},
			{Parameter: parameter(t, fader), From: profiles.Number(0), To: profiles.Number(400)},
			{Parameter: parameter(t, fader), To: profiles.Number(0)},
		} {
			if _, err := s.Glide(t.Context(), []desk.Line{l}, time.Second, desk.GlideOptions{}); err == nil {
				t.Error("no error for", l)
			}
		}
		if len(s.heard()) > 0 {
			t.Error("something was sent")
		}
	})
}
