package recall_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// fadeTime is the fade of these tests: long beside what else a recall takes.
const fadeTime = 2 * time.Second

// faded is a target that fades, down first or together.
func faded(t recall.Target, together bool) recall.Target {
	t.Fade = scenes.Fade{Time: fadeTime, Together: together}
	return t
}

// taken is a setting that the desk took, and when by its own clock.
type taken struct {
	profiles.Setting
	at time.Time
}

// taken gives what came over the network since it was last asked for, with the times.
func (s *stage) taken() []taken {
	s.mu.Lock()
	defer s.mu.Unlock()
	var all []taken
	s.glides = nil
	for i, e := range s.events {
		switch e.What {
		case mockdesk.Set:
			all = append(all, taken{e.Setting, s.at[i]})
		case mockdesk.FollowRequest:
			s.glides = append(s.glides, s.at[i])
		}
	}
	s.events, s.at = nil, nil
	return all
}

func of(all []taken, q profiles.Parameter) []taken {
	return slices.DeleteFunc(slices.Clone(all), func(t taken) bool { return t.Parameter != q })
}

func decibels(v profiles.Value) float64 { n, _ := v.Number(); return n }

// onLine holds the steps of a fade against the line that begins with the first of them and
// takes so long: right before and right after each, none is farther away than 0.5 dB, and
// none is larger than 1.5 dB. What the desk took is the judge.
func onLine(t *testing.T, steps []taken, began time.Time, from, to float64) {
	t.Helper()
	held := from
	far := func(at time.Time) float64 {
		along := min(at.Sub(began).Seconds()/fadeTime.Seconds(), 1)
		return math.Abs(held - (from + along*(to-from)))
	}
	if len(steps) == 0 {
		t.Fatal("nothing was sent")
	}
	worst := 0.0
	for _, s := range steps {
		v := decibels(s.Value)
		if step := math.Abs(v - held); step > 1.5 {
			t.Errorf("%s goes %.2f dB at once, to %.2f", s.Parameter, step, v)
		}
		worst = max(worst, far(s.at))
		held = v
		worst = max(worst, far(s.at))
	}
	if worst = max(worst, far(began.Add(fadeTime))); worst > 0.5 {
		t.Errorf("%s is up to %.2f dB from its line", steps[0].Parameter, worst)
	}
}

// isAsWanted holds the desk against what is wanted at a place.
func (s *stage) isAsWanted(t *testing.T, target recall.Target) {
	t.Helper()
	for _, w := range target.Wanted {
		if held, _ := s.mock.Holds(w.Parameter); held != w.Value {
			t.Errorf("%s is %v, not %v", w.Parameter, held, w.Value)
		}
	}
}

func TestWhereOnlyLevelsDifferAnOpenPlaceFadesWithoutAMute(t *testing.T) {
	for _, together := range []bool{false, true} {
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			s.must(s.on("lectern", "botanist"))
			end := decibels(s.holds("channel.3.fader"))
			from := decibels(s.move("channel.3.fader", profiles.Number(-16)))
			s.move("channel.3.label", profiles.Word("Gast"))
			send := s.holds("channel.3.send.2.level")
			high := decibels(s.move("channel.3.send.2.level", profiles.Number(-2)))
			s.taken()
			result := s.must(faded(s.on("lectern", "botanist"), together))
			all := s.taken()
			down, up := of(all, s.parameter("channel.3.send.2.level")), of(all, s.parameter("channel.3.fader"))
			if n := len(of(all, s.parameter("channel.3.mute"))); n != 0 || len(down)+len(up)+1 != len(all) {
				t.Errorf("%d mutes, %d of %d settings are levels", n, len(down)+len(up), len(all))
			}
			onLine(t, down, s.began(down[0]), high, decibels(send))
			onLine(t, up, s.began(up[0]), from, end)
			if before := down[len(down)-1].at.Before(up[0].at); before == together {
				t.Error("all down before anything comes up:", before)
			}
			if s.holds("channel.3.fader") != profiles.Number(end) || s.holds("channel.3.send.2.level") != send || !s.isOpen("channel.3") {
				t.Error(s.holds("channel.3.fader"), s.holds("channel.3.send.2.level"))
			}
			if result.Faded < fadeTime || result.Faded > fadeTime+20*time.Millisecond || len(result.Moved)+len(result.Overruled) > 0 {
				t.Error(result.Faded, result.Moved, result.Overruled)
			}
		})
	}
}

// began is when the lines began of which a setting is the first step: a fade has the desk
// tell its changes right before.
func (s *stage) began(first taken) time.Time {
	s.t.Helper()
	i := slices.IndexFunc(s.glides, func(at time.Time) bool { return at.After(first.at) })
	if i < 0 {
		i = len(s.glides)
	}
	return s.glides[i-1]
}

// lineBegan is when the ways up begin: the first steps, to -60 dB, are sent one after the
// other at a fade's share of the pace, 320 messages a second, and then all begin at once.
func lineBegan(all []taken, opened time.Time) (began time.Time) {
	first := make(map[profiles.Parameter]bool)
	for _, s := range all {
		if s.at.After(opened) && !first[s.Parameter] {
			first[s.Parameter] = true
			began = s.at.Add(time.Second / 320)
		}
	}
	return began
}

// checkFade holds the swap of an open place against its order: down on lines, mute, body,
// open with all levels down, up on lines. It gives the times of the mute and the opening.
func checkFade(t *testing.T, s *stage, all []taken, target recall.Target, before scenes.Values) (muted, opened time.Time) {
	t.Helper()
	mute := profiles.Parameter{Place: target.Place, Name: "mute"}
	mutes := of(all, mute)
	if len(mutes) != 2 || mutes[0].Value != profiles.Switch(true) || mutes[1].Value != profiles.Switch(false) {
		t.Fatal("mutes:", mutes)
	}
	muted, opened = mutes[0].at, mutes[1].at
	for _, name := range []string{"fader", "send.2.level", "send.3.level"} {
		q := profiles.Parameter{Place: target.Place, Name: name}
		steps := of(all, q)
		n := slices.IndexFunc(steps, func(s taken) bool { return !s.at.Before(muted) })
		down, up := steps[:n], steps[n:]
		if last := down[len(down)-1].Value; last != profiles.Silence {
			t.Errorf("%s is at %v when the place is muted", name, last)
		}
		from, end := decibels(before[q]), decibels(up[len(up)-1].Value)
		onLine(t, down[:len(down)-1], s.began(down[0]), from, -60)
		if up[0].at.Before(opened) || math.Abs(decibels(up[0].Value)+60) > 0.2 {
			t.Errorf("%s comes up from %v, %v after the opening", name, up[0].Value, up[0].at.Sub(opened))
		}
		onLine(t, up[1:], lineBegan(all, opened), decibels(up[0].Value), end)
	}
	for _, set := range all {
		isSend := set.Parameter.Name == "send.1.level"
		if n := set.Parameter.Name; n == "mute" || n == "fader" || n == "send.2.level" || n == "send.3.level" || isSend {
			continue
		}
		if set.at.Before(muted) || !set.at.Before(opened) {
			t.Errorf("%s is set while the place is open", set.Parameter)
		}
	}
	return muted, opened
}

func TestAnotherPerformerFadesInAndOutAroundTheMute(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		before := s.everything()
		s.taken()
		target := faded(s.on("lectern", "pilot"), false)
		result := s.must(target)
		all := s.taken()
		muted, opened := checkFade(t, s, all, target, before)
		t.Logf("%d messages; mute %v after the first step, open %v later, all in %v", len(all), muted.Sub(all[0].at), opened.Sub(muted), result.Took)
		s.isAsWanted(t, target)
		if !s.isOpen("channel.3") || s.Memory.On["lectern"] != "pilot" || len(s.Memory.Unfinished) > 0 {
			t.Error(s.isOpen("channel.3"), s.Memory.On, s.Memory.Unfinished)
		}
		if undone, err := s.undo(t.Context()); err != nil || !undone.Complete() {
			t.Fatal(err)
		}
		s.isAs(t, before)
	})
}

func TestAPlaceThatClosesFadesOutAndHoldsItsLevelsMuted(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		fader := s.holds("channel.3.fader")
		s.taken()
		target := faded(opened(s.on("lectern", "botanist"), false), false)
		s.must(target)
		all := s.taken()
		mute := of(all, s.parameter("channel.3.mute"))
		if len(mute) != 1 || s.isOpen("channel.3") {
			t.Fatal(mute)
		}
		q := s.parameter("channel.3.fader")
		steps := of(all, q)
		n := len(steps) - 1
		onLine(t, steps[:n-1], s.began(steps[0]), decibels(fader), -60)
		if steps[n-1].Value != profiles.Silence || !steps[n-1].at.Before(mute[0].at) || steps[n].Value != fader || !steps[n].at.After(mute[0].at) {
			t.Error(steps[n-1], mute[0], steps[n])
		}
		s.isAsWanted(t, target)
	})
}

func TestAPlaceThatOpensFadesInFromSilence(t *testing.T) {
	for _, together := range []bool{false, true} {
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			s.must(opened(s.on("lectern", "botanist"), false))
			s.taken()
			target := faded(opened(s.on("lectern", "poet"), true), together)
			s.must(target)
			all := s.taken()
			mute := of(all, s.parameter("channel.3.mute"))
			if len(mute) != 1 || mute[0].Value != profiles.Switch(false) {
				t.Fatal(mute)
			}
			steps := of(all, s.parameter("channel.3.fader"))
			if steps[0].Value != profiles.Silence || !steps[0].at.Before(mute[0].at) || !steps[1].at.After(mute[0].at) {
				t.Error(steps[:2], mute)
			}
			onLine(t, steps[2:], lineBegan(all, mute[0].at), decibels(steps[1].Value), decibels(steps[len(steps)-1].Value))
			s.isAsWanted(t, target)
		})
	}
}

// A hand mutes the position whenever it is opened: what is down until then is not as wanted.
func TestALevelThatIsDownWhereAFadeBreaksOffIsNotToldAsConfirmed(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(opened(s.on("lectern", "botanist"), false))
		mute := s.parameter("channel.3.mute")
		s.atSet(func() {
			if e := s.events[len(s.events)-1]; e.Setting.Parameter == mute && e.Setting.Value == profiles.Switch(false) {
				go s.mock.Move(mute, profiles.Switch(true))
			}
		})
		plan, result, err := s.recall(t.Context(), faded(opened(s.on("lectern", "poet"), true), false))
		if err != nil || result.Complete() {
			t.Fatal(result, err)
		}
		s.checkAccount(t, plan, result)
		fader := s.parameter("channel.3.fader")
		if !slices.ContainsFunc(result.Unproved, func(u recall.Unproved) bool { return u.Parameter == fader && u.Found == profiles.Silence }) {
			t.Errorf("of a fader that is down it is told: %+v", result.Unproved)
		}
	})
}

// The botanist goes and the poet comes at the lectern, the pilot's table closes, and the
// bench opens for the bell founder.
func TestASceneFadesDownFirstOrTogether(t *testing.T) {
	for _, together := range []bool{false, true} {
		onStage(t, setting{}, func(t *testing.T, s *stage) {
			s.must(s.on("lectern", "botanist"), opened(s.on("table-left", "pilot"), true), opened(s.on("bench", "botanist"), false))
			s.taken()
			targets := []recall.Target{
				faded(s.on("lectern", "poet"), together),
				faded(opened(s.on("table-left", "pilot"), false), together),
				faded(opened(s.on("bench", "bell-founder"), true), together),
			}
			judge := s.judgeFrom(targets...)
			s.heard()
			result := s.must(targets...)
			all := s.taken()
			if err := judge.fault(result); err != nil {
				t.Error(err)
			}
			lectern, table, bench := of(all, s.parameter("channel.3.fader")), of(all, s.parameter("channel.5.fader")), of(all, s.parameter("channel.6.fader"))
			silent := func(t taken) bool { return t.Value == profiles.Silence }
			lecternDown, tableDown := slices.IndexFunc(lectern, silent), slices.IndexFunc(table, silent)
			benchUp := bench[slices.IndexFunc(bench, silent)+1]
			downs := []time.Time{lectern[lecternDown].at, table[tableDown].at}
			for _, down := range downs {
				if down.Before(benchUp.at) == together {
					t.Errorf("together %v: the bench comes up at %v, another is down at %v", together, benchUp.at, down)
				}
			}
			if mute := of(all, s.parameter("channel.3.mute")); !lectern[lecternDown+1].at.After(mute[1].at) || mute[0].at.Before(lectern[lecternDown].at) {
				t.Error("the lectern comes up before it was opened, or is muted before it is down")
			}
			for _, target := range targets {
				s.isAsWanted(t, target)
			}
			if !s.isOpen("channel.3") || s.isOpen("channel.5") || !s.isOpen("channel.6") {
				t.Error("open:", s.isOpen("channel.3"), s.isOpen("channel.5"), s.isOpen("channel.6"))
			}
			t.Logf("together %v: %d messages, %v", together, len(all), result.Took)
		})
	}
}

func TestALevelThatNoFileSetsEndsAsItWas(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		was := s.move("channel.3.fader", profiles.Number(-3))
		target := s.on("lectern", "botanist")
		target.Wanted = slices.DeleteFunc(target.Wanted, func(w scenes.Wanted) bool { return w.Parameter.Name == "fader" })
		target.Performer = "poet" // somebody else with the same strip
		s.move("channel.3.pan", profiles.Number(40))
		s.must(faded(target, false))
		if got := s.holds("channel.3.fader"); got != was || !s.isOpen("channel.3") {
			t.Errorf("the fader is %v, not %v", got, was)
		}
	})
}

func TestAMixFadesWithoutAMute(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		from := decibels(s.move("mix.1.fader", profiles.Number(-14)))
		targets := s.reading("[mix.1]\neq.1.gain = -6.0\nfader = -3.0\n")
		for i := range targets {
			targets[i].Fade = scenes.Fade{Time: fadeTime}
		}
		s.taken()
		s.must(targets...)
		all := s.taken()
		steps := of(all, s.parameter("mix.1.fader"))
		if len(all) != len(steps)+1 || all[0].Parameter.Name != "eq.1.gain" {
			t.Error(len(all), len(steps), all[0])
		}
		end := decibels(s.holds("mix.1.fader"))
		onLine(t, steps, s.began(steps[0]), from, end)
	})
}

func TestAFadeCountsItsEndAgainstTheLimits(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.must(s.on("lectern", "botanist"))
		s.move("channel.3.fader", profiles.Number(-30))
		s.must(s.on("table-left", "pilot")) // so that the move at the lectern is what was last heard
		loud := func(fade bool) error {
			target := s.on("lectern", "botanist")
			if fade {
				target = faded(target, false)
			}
			_, err := s.Prepare(t.Context(), []recall.Target{target})
			return err
		}
		at, fading := loud(false), loud(true)
		if at == nil || fading == nil || at.Error() != fading.Error() {
			t.Errorf("%v; with a fade: %v", at, fading)
		}
	})
}

func TestAFadeOnEveryShippedDesk(t *testing.T) {
	for _, name := range profiles.ShippedNames() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r, mock := anyStage(t, name)
			plan := planOn(t, r)
			for round := range 3 { // opened by the first, faded by the others
				open := true
				plan.Parts[0].Open = &open
				target := plan.Parts[0].Target
				if round > 0 {
					target.Fade = scenes.Fade{Time: 300 * time.Millisecond}
					target.Performer = []string{"", "founder", "somebody"}[round]
					lectern := profiles.Place{Part: profiles.Channel, Number: 2}
					_, _ = mock.Move(profiles.Parameter{Place: lectern, Name: "pan"}, profiles.Number(20))
					_, _ = mock.Move(profiles.Parameter{Place: lectern, Name: "lowcut.on"}, profiles.Switch(false))
				}
				r.Hand = handAt(t, mock)
				next, err := r.Prepare(t.Context(), []recall.Target{target})
				if err != nil {
					t.Fatal(err)
				}
				result, err := r.CarryOut(t.Context(), next)
				if err != nil || r.Venue.Desk.Profile.CanAnswer() != result.Complete() {
					t.Fatal(result.Unproved, err)
				}
				for _, w := range target.Wanted {
					if held, _ := mock.Holds(w.Parameter); held != w.Value {
						t.Errorf("round %d: %s: the desk holds %v, not %v", round, w.Parameter, held, w.Value)
					}
				}
				if round > 0 && result.Faded == 0 {
					t.Error("nothing faded")
				}
			}
		})
	}
}
