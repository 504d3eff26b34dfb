package desk_test

import (
	"testing"
	"testing/synctest"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
)

// together makes gain and polarity of the quay-24 one message, and has it tell nobody of
// its changes.
var together = []string{
	"[follow]\nask = \"/quay/keep-telling\"\nlapses = \"8s\"\n", "",
	`at = "/lane/{channel}/front/gain", `, `at = "/lane/{channel}/front", slot = 1, `,
	`at = "/lane/{channel}/front/normal", `, `at = "/lane/{channel}/front", slot = 2, `,
}

// The second gain has to wait until the first can't be under way any more. Meanwhile a
// hand turns the polarity, which goes along.
func TestWhatGoesAlongIsReadAfterTheWait(t *testing.T) {
	onStage(t, setting{profile: together}, func(t *testing.T, s *stage) {
		invert := parameter(t, "channel.1.input.invert")
		if len(s.profile.Beside(invert)) != 1 {
			t.Fatal("gain and polarity are not one message")
		}
		s.write(s.set("channel.1.input.gain", profiles.Number(10)), s.set("channel.1.input.invert", profiles.Switch(false)))
		time.AfterFunc(s.profile.Link.Linger/2, func() { _, _ = s.mock.Move(invert, profiles.Switch(true)) })
		s.write(s.set("channel.1.input.gain", profiles.Number(20)))
		synctest.Wait()
		if held, _ := s.mock.Holds(invert); held != profiles.Switch(true) {
			t.Error("the hand's move is lost")
		}
	})
}

// The message for the polarity says the old gain, and is doubled on its way.
func TestAMessageThatArrivesTwiceDoesNotSetBackWhatIsSentAfterIt(t *testing.T) {
	onStage(t, setting{profile: together}, func(t *testing.T, s *stage) {
		s.cable.fates = func(packet []byte) []time.Duration {
			if isQuestion(packet) {
				return []time.Duration{0}
			}
			return []time.Duration{0, s.profile.Link.Linger * 9 / 10}
		}
		s.write(s.set("channel.1.input.invert", profiles.Switch(true)))
		s.write(s.set("channel.1.input.gain", profiles.Number(20)), s.set("channel.1.input.invert", profiles.Switch(true)))
		time.Sleep(2 * s.profile.Link.Linger)
		synctest.Wait()
		if held, _ := s.mock.Holds(parameter(t, "channel.1.input.gain")); held != profiles.Number(20) {
			t.Errorf("the gain is %v", held)
		}
	})
}

func TestADeskIsFollowedMeanwhileAndNotAfterwards(t *testing.T) {
	onStage(t, setting{profile: []string{`lapses = "8s"`, `lapses = "300ms"`}}, func(t *testing.T, s *stage) {
		requests := func() (n int) {
			for _, e := range s.heard() {
				if e.What == mockdesk.FollowRequest {
					n++
				}
			}
			return n
		}
		end, err := s.FollowMeanwhile(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if n := requests(); n != 1 {
			t.Errorf("%d requests before it returned", n)
		}
		time.Sleep(250 * time.Millisecond) // of the stage's clock: one each 100 ms
		end()
		if n := requests(); n != 3 {
			t.Errorf("%d requests meanwhile", n)
		}
		time.Sleep(time.Second)
		if n := requests(); n != 3 {
			t.Errorf("%d requests in the end", n)
		}
	})
}

func TestADeskThatCanNotBeFollowedIsLeftAloneMeanwhile(t *testing.T) {
	onStage(t, setting{profile: together}, func(t *testing.T, s *stage) {
		end, err := s.FollowMeanwhile(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		end()
		if events := s.heard(); len(events) > 0 {
			t.Error(events)
		}
		if lost, err := s.Overwritten(t.Context()); err != nil || len(lost) > 0 {
			t.Error(lost, err)
		}
	})
}
