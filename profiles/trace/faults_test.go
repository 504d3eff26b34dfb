package trace_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/trace"
)

// atTwoMore has a control of a channel moved at the second and at the last.
func (s *script) atTwoMore(name string, say func(n int)) {
	s.t.Helper()
	for _, n := range []int{2, 8} {
		s.mark(fmt.Sprintf("moved: channel.%d.%s", n, name))
		say(n)
	}
}

// one learns the one entry of a script, for a profile with such a head.
func (s *script) one(head string) string {
	s.t.Helper()
	found := s.learn(head)
	if len(found.Entries) != 1 || len(found.Questions)+len(found.Troubles) > 0 {
		s.t.Fatalf("%v %v %v", found.Entries, found.Questions, found.Troubles)
	}
	return found.Entries[0].String()
}

func TestTheAddressThatSetsAControlMayBeSaidAtAnyOfItsPlaces(t *testing.T) {
	s := &script{t: t}
	s.mark("moved: channel.1.mute on, off, on")
	s.say("/a/1/is", int32(0))
	s.say("/a/1/is", int32(1))
	s.mark("moved: channel.2.mute")
	s.say("/a/2/is", int32(1))
	s.mark("sets: /a/2")
	s.mark("moved: channel.8.mute")
	s.say("/a/8/is", int32(1))
	if got, want := s.one(eightChannels), `mute = { at = "/a/{channel}" }`; got != want {
		t.Errorf("%s, not %s", got, want)
	}
}

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

// What a profile says of all switches is not taken for one that is otherwise.
func TestWordsThatAreTheUsualOnesAreSaidWhereTheProfileHasOthers(t *testing.T) {
	s := &script{t: t}
	s.mark("moved: channel.1.mute on, off, on")
	s.say("/a/1", "off")
	s.say("/a/1", "on")
	s.atTwoMore("mute", func(n int) { s.say(fmt.Sprintf("/a/%d", n), "on") })
	head := eightChannels + "[values]\nswitch = { as = \"word\", words = [\"open\", \"shut\"] }\n"
	if got, want := s.one(head), `mute = { at = "/a/{channel}", words = ["off", "on"] }`; got != want {
		t.Errorf("%s, not %s", got, want)
	}
}

// Nothing is learned of values that no control can have.
func TestSwitchesWithoutTwoValuesOfOneKindAreNoEntry(t *testing.T) {
	for _, c := range []struct {
		off, on any
		want    string
	}{
		{int32(0), true, "its values are of several types: 0 and true"},
		{float32(0), float32(math.Inf(1)), "+Inf is no number that a control can have"},
		{float32(0), float32(math.NaN()), "NaN is no number that a control can have"},
	} {
		s := &script{t: t}
		s.mark("moved: channel.1.mute off, on")
		s.say("/a/1", c.off)
		s.say("/a/1", c.on)
		s.atTwoMore("mute", func(n int) { s.say(fmt.Sprintf("/a/%d", n), c.off) })
		found := s.learn(eightChannels)
		if len(found.Troubles) != 1 || found.Troubles[0].Err.Error() != c.want {
			t.Errorf("%v and %v: %v %v", c.off, c.on, found.Entries, found.Troubles)
		}
	}
}

// A desk with one mix has no second one to be moved.
func TestTheOnlyMixOfADeskIsLearnedWithoutAnother(t *testing.T) {
	s := &script{t: t}
	s.mark("moved: mix.1.mute on, off, on")
	s.say("/mix/mute", int32(0))
	s.say("/mix/mute", int32(1))
	if got, want := s.one(eightChannels+"mixes = 1\n"), `mute = { at = "/mix/mute" }`; got != want {
		t.Errorf("%s, not %s", got, want)
	}
}

// A flat number that was not seen of the last may be another there, as any number.
func TestAFlatNumberIsSeenAtTheLastBeforeItIsBelieved(t *testing.T) {
	s := &script{t: t}
	s.mark("moved: channel.1.mute on, off, on")
	s.say("/a", int32(100), int32(0))
	s.say("/a", int32(100), int32(1))
	s.mark("moved: channel.2.mute")
	s.say("/a", int32(116), int32(1))
	found := s.learn(eightChannels)
	if len(found.Questions) != 1 || found.Questions[0].Want.String() != "moved: channel.8.mute" {
		t.Fatalf("%v %v %v", found.Entries, found.Questions, found.Troubles)
	}
	s.mark("moved: channel.8.mute")
	s.say("/a", int32(212), int32(1))
	if got, want := s.one(eightChannels), `mute = { at = "/a" }`; got != want {
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

// A desk may send arguments that no profile can have beside a value.
func TestWhatStandsBesideAValueAndIsNothingForAProfileIsToldAsTrouble(t *testing.T) {
	s := &script{t: t}
	s.mark("moved: channel.1.mute on, off, on")
	s.say("/a", nil, int32(1), int32(0))
	s.say("/a", nil, int32(1), int32(1))
	s.atTwoMore("mute", func(n int) { s.say("/a", nil, int32(n), int32(1)) })
	found := s.learn(eightChannels)
	if want := "argument 1 is N, which no profile can say"; len(found.Troubles) != 1 || found.Troubles[0].Err.Error() != want {
		t.Errorf("%v %v %v", found.Entries, found.Questions, found.Troubles)
	}
}

// What the trace says of a desk's size goes into a profile that does not say it.
func TestHowManyThereAreGoesIntoAProfileThatDoesNotSayIt(t *testing.T) {
	s := &script{t: t}
	s.mark("desk: channels 8, mixes 3")
	s.mark("moved: channel.1.mute on, off, on")
	s.say("/a/1", int32(0))
	s.say("/a/1", int32(1))
	s.atTwoMore("mute", func(n int) { s.say(fmt.Sprintf("/a/%d", n), int32(1)) })
	const head = "name = \"x\"   # ours\nmixes = 2\n\n[link]\nport = 9\n\n[ask]\nnever = true\n"
	text, err := s.learn(head).Into("x.toml", []byte(head))
	if err != nil {
		t.Fatal(err)
	}
	p, err := profiles.Load("x.toml", text)
	if err != nil || p.Channels != 8 || p.Mixes != 2 {
		t.Errorf("%v\n%s", err, text)
	}
}

// A desk that counts in no way at all would be as many ways as it has channels.
func TestThereIsAnEndToTheWaysInWhichADeskCounts(t *testing.T) {
	s := &script{t: t}
	s.mark("moved: channel.1.mute on, off, on")
	s.say("/a/7", int32(0))
	s.say("/a/7", int32(1))
	for n := 2; n <= 40; n++ {
		s.mark(fmt.Sprintf("moved: channel.%d.mute", n))
		s.say(fmt.Sprintf("/a/%d", 7*n*n), int32(1))
	}
	found := s.learn("name = \"x\"\nchannels = 40\n")
	if want := "the desk counts its channels in more than 32 ways: write [numbers] by hand"; len(found.Troubles) != 1 || found.Troubles[0].Err.Error() != want {
		t.Errorf("%v %v %v", found.Entries, found.Questions, found.Troubles)
	}
}

func TestMessagesOfAnEndlessAddressAreOfNoControl(t *testing.T) {
	s := &script{t: t}
	s.mark("moved: channel.1.mute on, off, on")
	s.say("/"+strings.Repeat("a/", 30_000), int32(0))
	s.say("/"+strings.Repeat("a/", 30_000), int32(1))
	if found := s.learn(eightChannels); len(found.Troubles) != 1 {
		t.Errorf("%v %v", found.Entries, found.Questions)
	}
}

// What a profile says of settings does not change what the one below it says of answers.
func TestAnswersAreAsTheProfileBelowSaysThoughSettingsAreOtherwise(t *testing.T) {
	library := func(name string) (string, []byte, error) {
		return "base.toml", []byte("name = \"base\"\n[answer]\nat = \"/is{at}\"\n"), nil
	}
	known, err := trace.ReadKnown(library, []byte(eightChannels+"based = \"base\"\n[tell]\nat = \"/set{at}\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	s := &script{t: t}
	s.mark("moved: channel.1.mute on, off, on")
	s.say("/is/a/1", int32(0))
	s.say("/is/a/1", int32(1))
	s.atTwoMore("mute", func(n int) { s.say(fmt.Sprintf("/is/a/%d", n), int32(1)) })
	found, err := trace.Learn(&s.r, known)
	if err != nil || len(found.Entries) != 1 || found.Entries[0].String() != `mute = { at = "/a/{channel}" }` {
		t.Errorf("%v %v", found, err)
	}
}
