package trace_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

func TestMovingAgainForgetsHowManyStepsWereSaid(t *testing.T) {
	s := &script{t: t}
	for _, steps := range []string{"steps: 12", "note: that was wrong"} {
		s.mark("moved: channel.1.input.gain from bottom to top")
		s.sweep("/a/1")
		for _, at := range []float32{0, 0.25, 0.5, 1} {
			s.say("/a/1", at)
			s.mark(fmt.Sprintf("shows: %.1f dB", at*60))
		}
		s.mark(steps)
	}
	s.atTwoMore("input.gain", func(n int) { s.say(fmt.Sprintf("/a/%d", n), float32(1)) })
	if got, want := s.one(eightChannels), `input.gain = { at = "/a/{channel}", linear = [0.0, 60.0], steps = 9 }`; got != want {
		t.Errorf("%s, not %s", got, want)
	}
}

// readOff has a control of nine steps along its travel read off at some of them.
func (s *script) readOff(name string, shows map[float32]string) {
	s.t.Helper()
	s.mark("moved: channel.1." + name + " from bottom to top")
	s.sweep("/a/1")
	for _, at := range []float32{0, 0.25, 0.5, 0.75, 1} {
		if text, ok := shows[at]; ok {
			s.say("/a/1", at)
			s.mark("shows: " + text)
		}
	}
	s.atTwoMore(name, func(n int) { s.say(fmt.Sprintf("/a/%d", n), float32(1)) })
}

// Through three places there is always a power, and always two straight stretches.
func TestABentCurveIsReadOffAtMoreThanThreePlaces(t *testing.T) {
	s := &script{t: t}
	s.readOff("fader", map[float32]string{0: "-60.0 dB", 0.5: "-12.0 dB", 1: "10.0 dB"})
	found := s.learn(eightChannels)
	if len(found.Questions) != 1 || !strings.HasPrefix(found.Questions[0].Text, "what does the desk show at a quarter and at three quarters of the way") {
		t.Fatalf("%v %v %v", found.Entries, found.Questions, found.Troubles)
	}
	s = &script{t: t}
	s.readOff("fader", map[float32]string{0: "-60.0 dB", 0.25: "-36.0 dB", 0.5: "-12.0 dB", 0.75: "-1.0 dB", 1: "10.0 dB"})
	if got, want := s.one(eightChannels), `fader = { at = "/a/{channel}", points = [[0.0, -60.0], [0.5, -12.0], [1.0, 10.0]], steps = 9 }`; got != want {
		t.Errorf("%s, not %s", got, want)
	}
}

// inUnit has a control moved of which the messages have the numbers that it shows.
func (s *script) inUnit(name string, values []any, shows map[any]string) {
	s.t.Helper()
	s.mark("moved: channel.1." + name + " from bottom to top")
	for _, v := range values {
		s.say("/a/1", v)
	}
	for v, text := range shows {
		s.say("/a/1", v)
		s.mark("shows: " + text)
	}
	s.atTwoMore(name, func(n int) { s.say(fmt.Sprintf("/a/%d", n), values[0]) })
}

// The lowest number of a level may stand for silence: only the desk's display says.
func TestTheLowestNumberOfALevelIsReadOff(t *testing.T) {
	values := []any{float32(-144), float32(-20), float32(-10), float32(0), float32(10)}
	shows := map[any]string{float32(0): "0.0 dB", float32(10): "10.0 dB"}
	s := &script{t: t}
	s.inUnit("fader", values, shows)
	found := s.learn(eightChannels)
	if len(found.Questions) != 1 || found.Questions[0].Text != "what does the desk show at the bottom?" {
		t.Fatalf("%v %v %v", found.Entries, found.Questions, found.Troubles)
	}
	shows[float32(-144)] = "-inf"
	s = &script{t: t}
	s.inUnit("fader", values, shows)
	if got, want := s.one(eightChannels), `fader = { at = "/a/{channel}", linear = [-20.0, 10.0], silence = true, steps = 5, wire = "unit", silent = -144.0 }`; got != want {
		t.Errorf("%s, not %s", got, want)
	}
}

// A number in a text may be of another unit than the one that we take it for.
func TestNumbersInTextsAreHeldAgainstWhatTheDeskShows(t *testing.T) {
	values := []any{"0.001 s", "0.002 s", "0.003 s", "0.004 s"}
	s := &script{t: t}
	s.inUnit("input.delay", values, nil)
	found := s.learn(eightChannels)
	if len(found.Questions) != 1 || found.Questions[0].Want.String() != "shows: " {
		t.Fatalf("%v %v %v", found.Entries, found.Questions, found.Troubles)
	}
	s = &script{t: t}
	s.inUnit("input.delay", values, map[any]string{"0.001 s": "1 ms"})
	found = s.learn(eightChannels)
	if want := "the desk showed 1 ms where its message had 0.001: no profile can say a text in another unit"; len(found.Troubles) != 1 || found.Troubles[0].Err.Error() != want {
		t.Errorf("%v %v %v", found.Entries, found.Questions, found.Troubles)
	}
}

// Values at two distances are all steps of a bent scale, or some of an even one.
func TestHowManyStepsThereAreIsAskedWhereTheValuesLeaveItOpen(t *testing.T) {
	var values []any
	for _, v := range []float32{10, -60, -56, -52, -48, -44, -40, -38, -36, -34, -32, -30, -28, -26, -24, -22, -20, -10, 0, 10} {
		values = append(values, v)
	}
	shows := map[any]string{float32(-60): "-60.0 dB", float32(10): "10.0 dB"}
	s := &script{t: t}
	s.inUnit("fader", values, shows)
	found := s.learn(eightChannels)
	if want := "how many steps has it? 19 were seen, and as they are spaced it may have 36"; len(found.Questions) != 1 || found.Questions[0].Text != want {
		t.Fatalf("%v %v %v", found.Entries, found.Questions, found.Troubles)
	}
	for steps, want := range map[string]string{
		"19": `points = [[0.0, -60.0], [0.277778, -40.0], [0.833333, -20.0], [1.0, 10.0]], steps = 19`,
		"36": `linear = [-60.0, 10.0], steps = 36`,
	} {
		s := &script{t: t}
		s.inUnit("fader", values, shows)
		s.mark("moved: channel.1.fader")
		s.mark("steps: " + steps)
		if got, want := s.one(eightChannels), `fader = { at = "/a/{channel}", `+want+`, wire = "unit" }`; got != want {
			t.Errorf("%s, not %s", got, want)
		}
	}
}

// The smallest input: two numbers so near that their logarithms are the same.
func TestNumbersThatHaveOneLogarithmAreNoGrid(t *testing.T) {
	near := math.Nextafter(1000, 2000)
	values := []any{1000.0, near, 1501.0, 1502.0, 2000.0}
	s := &script{t: t}
	s.inUnit("eq.1.frequency", values, map[any]string{1000.0: "1000 Hz", 2000.0: "2000 Hz"})
	if got := s.one(eightChannels); !strings.Contains(got, "steps = 5,") {
		t.Errorf("%s", got)
	}
}
