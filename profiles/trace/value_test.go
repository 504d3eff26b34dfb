package trace_test

import (
	"fmt"
	"math"
	"testing"
)

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
