package desk_test

import (
	"context"
	"errors"
	"net"
	"strings"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes/desk"

	"github.com/google/go-cmp/cmp"
)

func TestTheDeskOfTheProfileIsKnownByItsAnswer(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		if err := s.Identify(t.Context()); err != nil {
			t.Error(err)
		}
	})
}

func TestAnotherDeskIsNamed(t *testing.T) {
	onStage(t, setting{mock: mockdesk.Options{Says: "quay-48"}}, func(t *testing.T, s *stage) {
		var other *desk.OtherDesk
		if err := s.Identify(t.Context()); !errors.As(err, &other) || *other != (desk.OtherDesk{Address: "quay", Want: "quay-24", Says: "quay-48"}) {
			t.Error(err)
		}
	})
}

func TestADeskThatSaysNothingIsSilentAfterAtMostThreeSeconds(t *testing.T) {
	onStage(t, setting{mock: mockdesk.Options{Silent: true}}, func(t *testing.T, s *stage) {
		began := time.Now() // the stage's clock
		if err := s.Identify(t.Context()); !errors.Is(err, desk.ErrSilent) {
			t.Error(err)
		}
		if took := time.Since(began); took > 3*time.Second {
			t.Errorf("it took %v", took)
		}
	})
}

// A profile may be very patient; who waits for the desk's name is not.
func TestAPatientProfileDoesNotMakeTheSilenceLonger(t *testing.T) {
	patient := []string{"tries = 8", "tries = 100"}
	onStage(t, setting{mock: mockdesk.Options{Silent: true}, profile: patient}, func(t *testing.T, s *stage) {
		began := time.Now()
		if err := s.Identify(t.Context()); !errors.Is(err, desk.ErrSilent) || time.Since(began) > 3*time.Second {
			t.Error(err, time.Since(began))
		}
	})
}

func TestWhoStopsWaitingForTheDeskIsNotToldThatItIsSilent(t *testing.T) {
	onStage(t, setting{mock: mockdesk.Options{Silent: true}}, func(t *testing.T, s *stage) {
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		if err := s.Identify(ctx); !errors.Is(err, context.DeadlineExceeded) || errors.Is(err, desk.ErrSilent) {
			t.Error(err)
		}
	})
}

func TestALinkThatHasEndedIsToldApartFromSilence(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		s.Close()
		if err := s.Identify(t.Context()); !errors.Is(err, net.ErrClosed) {
			t.Error(err)
		}
	})
}

func TestNobodyAtTheAddressIsASilentDesk(t *testing.T) {
	taken, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := taken.LocalAddr().String()
	taken.Close()
	d, err := desk.Open(t.Context(), loadProfile(t, []string{`wait = "100ms"`, `wait = "1ms"`, "tries = 8", "tries = 2"}), address, desk.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if err := d.Identify(t.Context()); !errors.Is(err, desk.ErrSilent) {
		t.Error(err)
	}
}

func TestAReadingHasEveryParameterOfTheDesk(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		all := s.profile.Parameters()
		told := 0
		values, missing, err := s.Read(t.Context(), all, func(done, of int) { told = done })
		if err != nil || len(missing) > 0 || told != len(all) {
			t.Fatal(missing, told, err)
		}
		for _, q := range all {
			if held, _ := s.mock.Holds(q); values[q] != held {
				t.Errorf("%s was read as %v, and is %v", q, values[q], held)
			}
		}
	})
}

func TestWhatADeskDoesNotAnswerForIsListed(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		pan, fader := parameter(t, "channel.1.pan"), parameter(t, "channel.1.fader")
		s.cable.fates = func(packet []byte) []time.Duration {
			if string(packet[:len("/lane/1/out/side")]) == "/lane/1/out/side" {
				return nil
			}
			return []time.Duration{0}
		}
		values, missing, err := s.Read(t.Context(), []profiles.Parameter{pan, fader}, nil)
		if _, ok := values[fader]; err != nil || !ok || len(values) != 1 || len(missing) != 1 || missing[0] != pan {
			t.Error(values, missing, err)
		}
	})
}

func TestAReadingIsNoOlderThanTheCall(t *testing.T) {
	late := mockdesk.Trouble{Out: mockdesk.Way{Delay: 60 * time.Millisecond, Double: 1}}
	onStage(t, setting{mock: mockdesk.Options{Trouble: late}}, func(t *testing.T, s *stage) {
		q := parameter(t, "channel.1.pan")
		for i := range 40 {
			want, err := s.mock.Move(q, profiles.Number(float64(i)))
			if err != nil {
				t.Fatal(err)
			}
			values, _, err := s.Read(t.Context(), []profiles.Parameter{q}, nil)
			if err != nil || values[q] != want {
				t.Fatalf("read %v, and the desk held %v before: %v", values[q], want, err)
			}
		}
	})
}

func TestSettingsGoOutOnceEachInTheirOrderOnTheGrid(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		told := 0
		settings := []profiles.Setting{
			s.set("channel.1.fader", profiles.Number(-6)),
			s.set("channel.1.input.gain", profiles.Number(20.1)), // the grid has 20.0 and 20.5
			s.set("main.mute", profiles.Switch(true)),
		}
		hoped, err := s.Write(t.Context(), settings, func(done, of int) { told = 10*done + of })
		if err != nil || told != 33 {
			t.Fatal(told, err)
		}
		want := []profiles.Setting{settings[0], s.set("channel.1.input.gain", profiles.Number(20)), settings[2]}
		var got, reported []profiles.Setting
		for _, e := range s.heard() {
			got = append(got, e.Setting)
		}
		for _, h := range hoped {
			reported = append(reported, h.Setting())
		}
		compare := cmp.AllowUnexported(profiles.Value{})
		if diff := cmp.Diff(want, got, compare); diff != "" {
			t.Error("wanted, taken:", diff)
		}
		if diff := cmp.Diff(want, reported, compare); diff != "" {
			t.Error("wanted, told:", diff)
		}
	})
}

func TestWhereOneSettingCanNotBeSaidNoneIsSent(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		hoped, err := s.Write(t.Context(), []profiles.Setting{
			s.set("channel.1.fader", profiles.Number(-6)),
			s.set("channel.99.fader", profiles.Number(-6)),
		}, nil)
		if err == nil || len(hoped) > 0 || len(s.heard()) > 0 {
			t.Error(hoped, err)
		}
	})
}

func TestWhoStopsAWriteIsToldWhatWasSent(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		settings := []profiles.Setting{
			s.set("channel.1.fader", profiles.Number(-6)), s.set("channel.1.pan", profiles.Number(5)),
			s.set("channel.1.mute", profiles.Switch(true)),
		}
		hoped, err := s.Write(ctx, settings, func(done, of int) {
			if done == 2 {
				cancel()
			}
		})
		if !errors.Is(err, context.Canceled) || len(hoped) != 2 || len(s.heard()) != 2 {
			t.Error(hoped, s.heard(), err)
		}
	})
}

func TestADeskThatFallsSilentInAWholeReadingIsGivenUpSoon(t *testing.T) {
	onStage(t, setting{}, func(t *testing.T, s *stage) {
		answers := 0
		began := time.Now()
		values, missing, err := s.Read(t.Context(), s.profile.Parameters(), func(done, _ int) {
			if answers = done; done == 100 {
				s.mock.Misbehave(mockdesk.Trouble{Out: mockdesk.Way{Lose: 1}})
			}
		})
		if err != nil || answers < 100 || len(values)+len(missing) != len(s.profile.Parameters()) || len(missing) == 0 {
			t.Errorf("%d values, %d missing, %v", len(values), len(missing), err)
		}
		// 100 of 2367 answers at 400 a second, then 3.2 s of patience. To ask all the
		// others to the end would take minutes.
		if took := time.Since(began); took > 5*time.Second {
			t.Errorf("it took %s of the test's own clock", took)
		}
	})
}

func TestADeskThatCallsItselfSomethingEndlessIsToldInAShortLine(t *testing.T) {
	onStage(t, setting{mock: mockdesk.Options{Says: strings.Repeat("quay ", 5000)}}, func(t *testing.T, s *stage) {
		var other *desk.OtherDesk
		if err := s.Identify(t.Context()); !errors.As(err, &other) || len(err.Error()) > 250 {
			t.Errorf("%.300v", err)
		}
	})
}
