package agent_test

import (
	"context"
	"os"
	"strings"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/agent"
)

func TestASaveIsHeardAndNothingElseIsSent(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true})
	s.edit(botanist, "fader = -6.0", "fader = -4.0")
	s.confirmed("channel.3.fader -6 -> -4")
	s.mustSend("channel.3.fader")
	s.mustHold("channel.3.fader", -4.0)
	s.mustHold("channel.3.mute", false) // it was open, and is again

	s.edit(botanist, "lowcut.frequency = 120.0", "lowcut.frequency = 80.0")
	e := s.confirmed()
	s.mustSend("channel.3.lowcut.frequency")
	if e.Position != "lectern" || e.Performer != "botanist" {
		t.Errorf("it was at %s, of %s", e.Position, e.Performer)
	}
}

func TestWithoutFlagsItOnlyTells(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{})
	s.edit(botanist, "fader = -6.0", "fader = -4.0")
	s.expect(agent.Saved, "channel.3.fader -6 -> -4")
	text := s.read(botanist)
	s.hand("channel.3.pan", number(20))
	s.expect(agent.Moved, "channel.3.pan 0 -> 20")
	// Each is told once for each value, and once more when it has been otherwise.
	s.hand("channel.3.pan", number(0))
	s.hand("channel.3.main", profiles.Switch(false))
	s.expect(agent.Moved, "channel.3.main true -> false")
	s.hand("channel.3.pan", number(20))
	s.expect(agent.Moved, "channel.3.pan 0 -> 20")
	s.mustSend()
	if s.read(botanist) != text {
		t.Error("the file was changed")
	}
	s.mustHold("channel.3.fader", -6.0)
}

// Each way in which editors and tools save. The last save of the file is the one that
// counts, and one burst is one recall.
func TestEachWayOfSaving(t *testing.T) {
	ways := map[string]func(s *stage, text string){
		"in place": func(s *stage, text string) { s.write(botanist, text) },
		"a new file renamed over it": func(s *stage, text string) {
			s.write("performers/botanist.toml.new~", text)
			rename(s, "performers/botanist.toml.new~", botanist)
		},
		"the old one moved away first": func(s *stage, text string) {
			rename(s, botanist, botanist+"~")
			s.save(botanist, text)
		},
		"in two halves": func(s *stage, text string) {
			f, err := os.Create(s.path(botanist))
			check(s, err)
			_, err = f.WriteString(text[:len(text)/2])
			check(s, err)
			_, err = f.WriteString(text[len(text)/2:])
			check(s, err)
			check(s, f.Close())
		},
		"removed and brought back": func(s *stage, text string) {
			check(s, os.Remove(s.path(botanist)))
			s.save(botanist, text)
		},
		"the folder renamed": func(s *stage, text string) {
			check(s, os.CopyFS(s.path("others"), os.DirFS(s.path("performers"))))
			s.write("others/botanist.toml", text)
			rename(s, "performers", "before")
			rename(s, "others", "performers")
		},
		"many at once": func(s *stage, text string) {
			for _, name := range []string{"pilot", "poet", "bell-founder"} {
				s.write("performers/"+name+".toml", s.read("performers/"+name+".toml")+"\n# another branch\n")
			}
			s.save(botanist, text)
			s.write("scenes/opening.toml", s.read("scenes/opening.toml")+"\n# another branch\n")
		},
	}
	for name, save := range ways {
		t.Run(name, func(t *testing.T) {
			s := newStage(t)
			s.run(agent.Options{ToDesk: true})
			save(s, replaced(t, s.read(botanist), "fader = -6.0", "fader = -4.0"))
			s.confirmed("channel.3.fader -6 -> -4")
			s.mustSend("channel.3.fader")
			// Nothing comes after it but the next save.
			s.write(botanist, s.read(botanist))
			s.edit(botanist, "pan = 0", "pan = 10")
			s.confirmed("channel.3.pan 0 -> 10")
			s.mustSend("channel.3.pan")
		})
	}
}

func TestSavesAreFoundByLookingToo(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true, Poll: 100 * time.Millisecond})
	s.edit(botanist, "fader = -6.0", "fader = -4.0")
	s.confirmed("channel.3.fader -6 -> -4")
}

func TestWhatIsSavedBeforeTheAgentRunsIsHeard(t *testing.T) {
	s := newStage(t)
	s.edit(botanist, "fader = -6.0", "fader = -4.0")
	s.run(agent.Options{ToDesk: true})
	s.confirmed("channel.3.fader -6 -> -4")
}

func TestAFileWithAFaultLeavesItsLastGoodVersionInForce(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true, ToFiles: true})
	good := s.read(botanist)
	bad := replaced(t, good, "fader = -6.0", "fader = minus six")
	s.save(botanist, bad)
	e := s.expect(agent.Fault)
	if len(e.Faults) != 1 || e.Faults[0].File != botanist || e.Faults[0].Line != 13 {
		t.Fatalf("the fault is %v", e.Faults)
	}
	s.save(botanist, bad+"\n# again\n")
	// A hand's work is not lost: it goes into the file once that is right again.
	s.hand("channel.3.pan", number(20))
	s.save(botanist, replaced(t, good, "lowcut.frequency = 120.0", "lowcut.frequency = 80.0"))
	s.sawBoth(agent.Recalled, agent.Wrote)
	s.mustSend("channel.3.lowcut.frequency")
	want := replaced(t, replaced(t, good, "lowcut.frequency = 120.0", "lowcut.frequency = 80.0"), "pan = 0", "pan = 20")
	if got := s.read(botanist); got != want {
		t.Errorf("the file is\n%s", got)
	}
	// The same fault once more is told once more.
	s.save(botanist, bad)
	s.expect(agent.Fault)
}

// sawBoth waits for two events, in any order.
func (s *stage) sawBoth(x, y agent.Kind) {
	s.t.Helper()
	first := s.next()
	if first.Kind == y {
		x, y = y, x
	}
	if first.Kind != x {
		s.t.Fatalf("what happened is %s", sayEvent(first))
	}
	s.expect(y)
}

// A file that is empty is in the middle of a save, as far as anybody can tell.
func TestAnEmptyFileIsNotHeard(t *testing.T) {
	s := newStage(t)
	s.run(both)
	text := s.read(botanist)
	s.write(botanist, "")
	s.expect(agent.Fault)
	s.hand("channel.3.fader", number(-4))
	s.save(botanist, replaced(t, text, "pan = 0", "pan = 10"))
	s.sawBoth(agent.Recalled, agent.Wrote)
	s.mustSend("channel.3.pan")
}

func TestARefusedSaveIsToldOnceAndTriedWithTheNextOne(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true})
	s.edit(botanist, "input.gain = 34.0", "input.gain = 54.0") // over the venue's 50 dB
	e := s.expect(agent.Refused)
	if e.Err == nil || !strings.Contains(e.Err.Error(), "over the limit") {
		t.Errorf("refused: %v", e.Err)
	}
	s.save(botanist, s.read(botanist)+"# touched\n")
	s.edit(botanist, "input.gain = 54.0", "input.gain = 35.0")
	s.confirmed()
	s.mustSend("channel.3.input.gain")
}

func TestWhatIsSafeIsNeverSent(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true, ToFiles: true})
	s.edit(botanist, "fader = -6.0", "fader = -6.0\ninput.delay = 10.0")
	e := s.expect(agent.Saved, "channel.3.input.delay 0 -> 10")
	if e.Changes[0].Safe == nil {
		t.Error("it does not say that this is safe")
	}
	s.edit(botanist, "pan = 0", "pan = 5")
	s.confirmed("channel.3.pan 0 -> 5")
	s.mustSend("channel.3.pan")
	// A hand's move of it is the house's, and not the performer's.
	s.edit(botanist, "\ninput.delay = 10.0", "")
	text := s.read(botanist)
	s.hand("channel.3.input.delay", number(20))
	e = s.expect(agent.Moved, "channel.3.input.delay 0 -> 20")
	if len(e.Apart) != 1 || !strings.Contains(e.Apart[0].Why, "safe") {
		t.Errorf("it does not say why: %v", e.Apart)
	}
	if s.read(botanist) != text {
		t.Error("it went into the file")
	}
}

func TestARecallThatIsCutShortEndsSoonAndTellsWhatIsMuted(t *testing.T) {
	s := newStage(t)
	s.hand("channel.3.mute", profiles.Switch(false))
	s.run(agent.Options{ToDesk: true})
	s.mock.Misbehave(slowDesk)
	muted := make(chan struct{}, 1)
	s.atSet(func(set profiles.Setting) {
		if on, _ := set.Value.On(); set.Parameter.Name == "mute" && on {
			select {
			case muted <- struct{}{}:
			default:
			}
		}
	})
	s.edit(botanist, "lowcut.frequency = 120.0", "lowcut.frequency = 80.0")
	<-muted
	s.stop()
	e := s.until(agent.Recalled)
	if e.Result == nil || len(e.Result.StillMuted)+len(e.Result.Unproved) == 0 || e.Err != nil && !strings.Contains(e.Err.Error(), context.Canceled.Error()) {
		t.Fatalf("it told %s", sayEvent(e))
	}
	// The next one says so, and leaves the place alone.
	s.mock.Misbehave(noTrouble)
	s.atSet(nil)
	s.launch(agent.Options{ToDesk: true, ToFiles: true})
	if e := s.expect(agent.Trouble); e.Position != "lectern" {
		t.Fatalf("it told %s", sayEvent(e))
	}
	s.expect(agent.Began)
	s.sent()
	s.swap("lectern", "botanist")
	s.mustHold("channel.3.mute", false)
	s.hand("channel.3.pan", number(20))
	s.expect(agent.Wrote, "channel.3.pan 0 -> 20")
}

func TestAHandThatMovesWhileARecallRuns(t *testing.T) {
	s := newStage(t)
	s.run(agent.Options{ToDesk: true, ToFiles: true})
	check(s, s.mock.MoveAfter(1, profiles.Setting{Parameter: parameter(t, "channel.3.pan"), Value: number(20)}))
	s.edit(botanist, "lowcut.frequency = 120.0", "lowcut.frequency = 80.0")
	s.confirmed()
	s.expect(agent.Wrote, "channel.3.pan 0 -> 20")
	s.mustSend("channel.3.lowcut.frequency")
	s.mustHold("channel.3.pan", 20.0)
}

// slowDesk takes so few messages that a recall is long under way.
var (
	slowDesk  = mockdesk.Trouble{Rate: 60}
	noTrouble = mockdesk.Trouble{}
)

func rename(s *stage, from, to string) {
	s.t.Helper()
	check(s, os.Rename(s.path(from), s.path(to)))
}

func check(s *stage, err error) {
	s.t.Helper()
	if err != nil {
		s.t.Fatal(err)
	}
}
