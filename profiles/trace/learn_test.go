package trace_test

import (
	"fmt"
	"strings"
	"testing"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/trace"
)

// script is a recording as a test writes it: a mark, or an address and one argument or
// several, a line.
type script struct {
	t testing.TB
	r trace.Recording
}

func (s *script) mark(text string) {
	s.t.Helper()
	m, err := trace.ParseMark(text)
	if err != nil {
		s.t.Fatal(err)
	}
	s.r.Events = append(s.r.Events, trace.Event{Mark: m})
}

func (s *script) say(address string, arguments ...any) {
	s.t.Helper()
	packet, err := osc.Message{Address: address, Arguments: arguments}.Encode()
	if err != nil {
		s.t.Fatal(err)
	}
	s.r.Events = append(s.r.Events, trace.Event{Packet: packet})
}

// sweep is a fader of nine steps from 0 to 1.
func (s *script) sweep(address string) {
	s.t.Helper()
	for _, step := range []int{8, 0, 1, 2, 3, 4, 5, 6, 7, 8} {
		s.say(address, float32(step)/8)
	}
}

// learn learns from a script for a desk of 8 channels and 2 bands.
func (s *script) learn(head string) *trace.Findings {
	s.t.Helper()
	known, err := trace.ReadKnown(profiles.ShippedLibrary, []byte(head))
	if err != nil {
		s.t.Fatal(err)
	}
	found, err := trace.Learn(&s.r, known)
	if err != nil {
		s.t.Fatal(err)
	}
	return found
}

const eightChannels = "name = \"x\"\nchannels = 8\nbands = 2\n"

// twoMore moves a control at two more channels by a little.
func twoMore(s *script, name string, say func(n int)) {
	for _, n := range []int{2, 8} {
		s.mark(fmt.Sprintf("moved: channel.%d.%s", n, name))
		say(n)
	}
}

// What the traffic can't say is asked, and nothing is made up in its place.
func TestWhatTheTrafficCantSayIsAsked(t *testing.T) {
	for _, c := range []struct {
		name   string
		script func(s *script)
		want   string
	}{
		{"what the desk shows, with what any desk could mean", func(s *script) {
			s.mark("moved: channel.1.input.gain from bottom to top")
			s.sweep("/a/1")
			s.mark("moved: channel.2.input.gain")
			s.say("/a/2", float32(0.5))
			s.mark("moved: channel.8.input.gain")
			s.say("/a/8", float32(0.5))
		}, "channel.1.input.gain: what does the desk show at the bottom, in the middle, at the top, and wherever its scale changes? (any desk: -40.0 dB to 90.0 dB)"},
		{"what the desk shows for a width, which may be octaves", func(s *script) {
			s.mark("moved: main.eq.1.q from bottom to top")
			s.sweep("/a/1")
			s.mark("moved: main.eq.2.q")
			s.say("/a/2", float32(0.5))
		}, "main.eq.1.q: what does the desk show at the bottom, in the middle, at the top, and wherever its scale changes? (any desk: 0.05 to 200.0; type octaves as 0.7 oct)"},
		{"an end that was not read off", func(s *script) {
			s.mark("moved: channel.1.input.gain from bottom to top")
			s.sweep("/a/1")
			s.mark("shows: 60.0 dB")
			s.say("/a/1", float32(0.5))
			s.mark("shows: 27.0 dB")
			s.mark("moved: channel.2.input.gain")
			s.say("/a/2", float32(0.5))
			s.mark("moved: channel.8.input.gain")
			s.say("/a/8", float32(0.5))
		}, "channel.1.input.gain: what does the desk show at the bottom?"},
		{"another place", func(s *script) {
			s.mark("moved: channel.1.mute on, off, on")
			s.say("/a/1", int32(0))
			s.say("/a/1", int32(1))
		}, "channel.1.mute: where its number stands: move channel.2.mute, too"},
		{"the last of many, which may have another prefix", func(s *script) {
			s.mark("moved: channel.1.mute on, off, on")
			s.say("/a/1", int32(0))
			s.say("/a/1", int32(1))
			s.mark("moved: channel.2.mute")
			s.say("/a/2", int32(1))
		}, "channel.1.mute: where its number stands: move channel.8.mute, too"},
		{"where a second way of counting begins", func(s *script) {
			s.mark("moved: channel.1.mute on, off, on")
			s.say("/a/1", int32(0))
			s.say("/a/1", int32(1))
			s.mark("moved: channel.2.mute")
			s.say("/a/2", int32(1))
			s.mark("moved: channel.8.mute")
			s.say("/b/3", int32(1))
		}, "channel.1.mute: where its number stands: move channel.6.mute, too"},
		{"how many steps there are, where the values are spaced in no way", func(s *script) {
			s.mark("moved: channel.1.input.gain from bottom to top")
			for _, v := range []float32{1, 0, 0.1234567, 0.2718281, 0.3141592, 0.5772156, 0.7071067, 0.8660254, 1} {
				s.say("/a/1", v)
			}
			s.mark("shows: 60 dB")
			s.mark("moved: channel.2.input.gain")
			s.say("/a/2", float32(0.5))
			s.mark("moved: channel.8.input.gain")
			s.say("/a/8", float32(0.5))
		}, "channel.1.input.gain: how many steps has it? 8 values were seen, at no equal distances"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := &script{t: t}
			c.script(s)
			found := s.learn(eightChannels)
			if len(found.Entries) > 0 || len(found.Troubles) > 0 || len(found.Questions) != 1 {
				t.Fatalf("%v %v %v", found.Entries, found.Questions, found.Troubles)
			}
			if q := found.Questions[0]; q.Parameter.String()+": "+q.Text != c.want {
				t.Errorf("asked %s: %s\nnot   %s", q.Parameter, q.Text, c.want)
			}
		})
	}
}

func TestWhyNothingCouldBeMadeOutOfAControl(t *testing.T) {
	for _, c := range []struct {
		name   string
		script func(s *script)
		want   string
	}{
		{"nothing came", func(s *script) {
			s.mark("moved: channel.1.mute on, off, on")
		}, "no message with a value that changes was heard while it was moved"},
		{"it came by itself all the time", func(s *script) {
			s.mark("quiet")
			s.sweep("/meter")
			s.mark("moved: channel.1.fader from bottom to top")
			s.sweep("/meter")
		}, "no message with a value that changes was heard while it was moved"},
		{"a choice was not put into each position", func(s *script) {
			s.mark("moved: channel.1.eq.1.kind bell, notch, low-pass, bell")
			s.say("/a/1", int32(1))
			s.say("/a/1", int32(0))
		}, "3 positions were named and 2 values came (/a/1)"},
		{"a word that no desk means", func(s *script) {
			s.mark("moved: channel.1.eq.1.kind bell, nothc, bell")
			s.say("/a/1", int32(1))
			s.say("/a/1", int32(0))
			twoMore(s, "eq.1.kind", func(n int) { s.say(fmt.Sprintf("/a/%d", n), int32(1)) })
		}, `"nothc" is no choice for eq.band.kind: did you mean "notch"?`},
		{"values at no equal distances", func(s *script) {
			s.mark("moved: channel.1.eq.1.kind bell, notch, low-pass, bell")
			for _, v := range []int32{3, 7, 0} {
				s.say("/a/1", v)
			}
			twoMore(s, "eq.1.kind", func(n int) { s.say(fmt.Sprintf("/a/%d", n), int32(3)) })
		}, "its values [0 3 7] are not at equal distances, which no profile can say"},
		{"another channel said nothing", func(s *script) {
			s.mark("moved: channel.1.mute on, off, on")
			s.say("/a/1", int32(0))
			s.say("/a/1", int32(1))
			s.mark("moved: channel.2.mute")
		}, "nothing like /a/1 was heard while channel.2.mute was moved: move it again there"},
		{"the display went back while the control went on", func(s *script) {
			s.mark("moved: channel.1.input.gain from bottom to top")
			s.sweep("/a/1")
			for _, shows := range []string{"0 -6.0 dB", "0.5 70.0 dB", "1 60.0 dB"} {
				var v float32
				fmt.Sscan(shows, &v)
				s.say("/a/1", v)
				_, text, _ := strings.Cut(shows, " ")
				s.mark("shows: " + text)
			}
			twoMore(s, "input.gain", func(n int) { s.say(fmt.Sprintf("/a/%d", n), float32(1)) })
		}, "what the desk showed does not rise, or fall, all the way along the control"},
		{"what was shown is no number", func(s *script) {
			s.mark("moved: channel.1.input.gain from bottom to top")
			s.sweep("/a/1")
			s.mark("shows: loud")
			twoMore(s, "input.gain", func(n int) { s.say(fmt.Sprintf("/a/%d", n), float32(1)) })
		}, `"loud" is no number in dB: write it as -6.0 dB, 2.5 kHz or -inf`},
		{"a width shown as octaves and as Q", func(s *script) {
			s.mark("moved: channel.1.eq.1.q from bottom to top")
			s.sweep("/a/1")
			s.mark("shows: 0.7 oct")
			s.say("/a/1", float32(0))
			s.mark("shows: Q 6.0")
			twoMore(s, "eq.1.q", func(n int) { s.say(fmt.Sprintf("/a/%d", n), float32(1)) })
		}, "the desk showed both octaves and Q: read off the one that it shows"},
		{"a text", func(s *script) {
			s.mark("moved: channel.1.label a, b, a")
			s.say("/a/1", "b")
			s.say("/a/1", "a")
			twoMore(s, "label", func(n int) { s.say(fmt.Sprintf("/a/%d", n), "b") })
		}, "a text has no steps to learn: write text = N, the bytes that the desk holds, by hand"},
		{"no such parameter", func(s *script) {
			s.mark("moved: channel.1.volume from bottom to top")
			s.sweep("/a/1")
		}, "the catalogue has no such parameter at a channel"},
		{"steps that the values don't fit", func(s *script) {
			s.mark("moved: channel.1.input.gain from bottom to top")
			s.sweep("/a/1")
			s.mark("shows: 60.0 dB")
			s.mark("steps: 12")
			twoMore(s, "input.gain", func(n int) { s.say(fmt.Sprintf("/a/%d", n), float32(1)) })
		}, "it can't have 12 steps: the values that came are spaced as those of 9"},
		{"not all steps of a curve in the unit itself", func(s *script) {
			s.mark("moved: channel.1.fader from bottom to top")
			for _, v := range []float32{10, -90, -60, -57.5, -30, -21, -20.5, -7, 3.25, 10} {
				s.say("/a/1", v)
			}
			s.mark("shows: 10.0 dB")
			s.say("/a/1", float32(-30))
			s.mark("shows: -30.0 dB")
			s.mark("steps: 400")
			twoMore(s, "fader", func(n int) { s.say(fmt.Sprintf("/a/%d", n), float32(1)) })
		}, "9 of its 400 steps were seen: move it more slowly, through each step"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := &script{t: t}
			c.script(s)
			found := s.learn(eightChannels)
			if len(found.Entries) > 0 || len(found.Questions) > 0 || len(found.Troubles) != 1 {
				t.Fatalf("%v %v %v", found.Entries, found.Questions, found.Troubles)
			}
			if got := found.Troubles[0].Err.Error(); !strings.HasPrefix(got, c.want) {
				t.Errorf("%s\nnot %s", got, c.want)
			}
		})
	}
}

// A profile that counts otherwise than the messages do is not bent to them.
func TestMessagesThatDontAgreeWithTheProfileAreNoEntry(t *testing.T) {
	s := &script{t: t}
	s.mark("moved: channel.1.mute on, off, on")
	s.say("/a/01", int32(0))
	s.say("/a/01", int32(1))
	s.mark("moved: channel.2.mute")
	s.say("/a/02", int32(1))
	found := s.learn(eightChannels + "[numbers]\nchannel = [{ first = 0 }]\n")
	if len(found.Troubles) != 1 || !strings.Contains(found.Troubles[0].Err.Error(), "the desk counts its channels in another way here than elsewhere") {
		t.Errorf("%v %v", found.Entries, found.Troubles)
	}
}

// A message of several values of which one was moved is no message of one value.
func TestAnEntryThatIsOneOfSeveralSaysWhichAreUnknown(t *testing.T) {
	s := &script{t: t}
	s.mark("moved: channel.1.mute on, off, on")
	s.say("/a/1", float32(0.25), int32(0), "x")
	s.say("/a/1", float32(0.25), int32(1), "x")
	for _, n := range []int{2, 8} {
		s.mark(fmt.Sprintf("moved: channel.%d.mute", n))
		s.say(fmt.Sprintf("/a/%d", n), float32(0.75), int32(1), "y")
	}
	found := s.learn(eightChannels)
	if len(found.Entries) != 1 {
		t.Fatalf("%v %v", found.Questions, found.Troubles)
	}
	e := found.Entries[0]
	if e.String() != `mute = { at = "/a/{channel}", slot = 2 }` || len(e.Notes) != 1 || !strings.Contains(e.Notes[0], "of number 1, 3 nothing is known") {
		t.Errorf("%s %q", e, e.Notes)
	}
}

// A width that the desk shows in octaves is learned as one, whichever way it travels.
// From 0.25 to 4 octaves in equal ratios, the middle is 1 octave.
func TestAWidthThatTheDeskShowsInOctavesIsLearnedAsOne(t *testing.T) {
	for _, c := range []struct {
		name   string
		script func(s *script)
		want   string
	}{
		{"along the travel", func(s *script) {
			s.sweep("/a/1")
			for _, at := range []struct {
				v     float32
				shows string
			}{{0, "0.25 oct"}, {0.5, "1.0"}, {1, "4.00 Octaves"}} {
				s.say("/a/1", at.v)
				s.mark("shows: " + at.shows)
			}
		}, `eq.1.q = { at = "/a/{channel}", log = [0.25, 4.0], steps = 9, octaves = true }`},
		{"as octaves", func(s *script) {
			for _, v := range []float32{1, 0.25, 0.5, 0.75, 1} {
				s.say("/a/1", v)
			}
			s.mark("shows: 1.00 oct")
			s.say("/a/1", float32(0.25))
			s.mark("shows: 0.25 oct")
		}, `eq.1.q = { at = "/a/{channel}", linear = [0.25, 1.0], steps = 4, octaves = true, wire = "unit" }`},
		{"as a text that says so", func(s *script) {
			for _, v := range []string{"1.0 oct.", "0.4 oct.", "0.6 oct.", "0.8 oct.", "1.0 oct."} {
				s.say("/a/1", v)
			}
		}, `eq.1.q = { at = "/a/{channel}", linear = [0.4, 1.0], steps = 4, octaves = true, as = "text", write = "{} oct." }`},
		{"as a Q", func(s *script) {
			for _, v := range []string{"Q 1.0", "Q 0.4", "Q 0.6", "Q 0.8", "Q 1.0"} {
				s.say("/a/1", v)
			}
		}, `eq.1.q = { at = "/a/{channel}", linear = [0.4, 1.0], steps = 4, as = "text", write = "Q {}" }`},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := &script{t: t}
			s.mark("moved: channel.1.eq.1.q from bottom to top")
			c.script(s)
			twoMore(s, "eq.1.q", func(n int) {
				first := s.r.Events[1].Packet
				m, err := osc.Decode(first)
				if err != nil {
					t.Fatal(err)
				}
				s.say(fmt.Sprintf("/a/%d", n), m[0].Arguments...)
			})
			found := s.learn(eightChannels)
			if len(found.Entries) != 1 {
				t.Fatalf("%v %v", found.Questions, found.Troubles)
			}
			if got := found.Entries[0].String(); got != c.want {
				t.Errorf("%s\nnot %s", got, c.want)
			}
			profile, err := found.Into("x.toml", []byte(eightChannels+"[link]\nport = 9\n[ask]\nnever = true\n"))
			if err != nil {
				t.Fatal(err)
			}
			p, err := profiles.Load("x.toml", profile)
			if err != nil {
				t.Fatal(err)
			}
			if n, against, err := trace.Prove(&s.r, p); err != nil || n == 0 || len(against) > 0 {
				t.Errorf("%d messages agree; against it: %v %v", n, against, err)
			}
		})
	}
}

// A profile that takes octaves for Q is told by what the desk showed.
func TestOctavesTakenForQAreHeldAgainstTheProfile(t *testing.T) {
	p, err := profiles.Load("punt-16.toml", shippedText(t, "punt-16", "octaves = true, ", ""))
	if err != nil {
		t.Fatal(err)
	}
	_, against, err := trace.Prove(recording(t, "punt-16.trace"), p)
	if err != nil || len(against) != 1 || against[0].Parameter.Name != "eq.1.q" {
		t.Errorf("%v %v", against, err)
	}
}

// A profile that says otherwise than what was heard is told, with the control.
func TestAProfileIsHeldAgainstTheRecording(t *testing.T) {
	p, err := profiles.Load("quay-24.toml", shippedText(t, "quay-24", `linear = [-6.0, 60.0], steps = 133`, `linear = [0.0, 60.0], steps = 121`))
	if err != nil {
		t.Fatal(err)
	}
	_, against, err := trace.Prove(recording(t, "quay-24.trace"), p)
	if err != nil || len(against) != 1 || against[0].Parameter.Name != "input.gain" {
		t.Errorf("%v %v", against, err)
	}
}

func shippedText(t *testing.T, name, old, instead string) []byte {
	t.Helper()
	_, text := shippedProfile(t, name)
	changed := strings.Replace(string(text), old, instead, 1)
	if changed == string(text) {
		t.Fatalf("%s has no %q", name, old)
	}
	return []byte(changed)
}
