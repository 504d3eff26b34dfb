package trace_test

import (
	"fmt"
	"strings"
	"testing"

	"deskhand/profiles/trace"
)

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
