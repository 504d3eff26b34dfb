package trace_test

import (
	"fmt"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/trace"

	"github.com/google/go-cmp/cmp"
)

// fader is a finding to put into profiles.
func fader() *trace.Findings {
	return &trace.Findings{
		Lines:   []trace.Line{{Table: "numbers", Key: "channel", TOML: "[{ first = 0 }]"}},
		Entries: []trace.Entry{{Part: profiles.Channel, Name: "fader", Fields: []trace.Field{{Key: "at", TOML: `"/a/{channel}"`}, {Key: "steps", TOML: "9"}}}},
	}
}

const faderLine = `fader = { at = "/a/{channel}", steps = 9 }`

func TestFindingsGoIntoAProfileAndAllElseStays(t *testing.T) {
	for _, c := range []struct{ name, before, after string }{
		{
			"no tables yet", "name = \"x\"   # ours\n",
			"name = \"x\"   # ours\n\n[numbers]\nchannel = [{ first = 0 }]\n\n[channel]\n" + faderLine + "\n",
		},
		{
			"after the last of its table, before the next one's remark",
			"[numbers]\nmix = [{ first = 0 }]\n\n# Channels.\n[channel]\npan = { at = \"/p/{channel}\" }  # side\n\n# The mixes.\n[mix]\nmute = { at = \"/m/{mix}\" }\n",
			"[numbers]\nmix = [{ first = 0 }]\nchannel = [{ first = 0 }]\n\n# Channels.\n[channel]\npan = { at = \"/p/{channel}\" }  # side\n" + faderLine + "\n\n# The mixes.\n[mix]\nmute = { at = \"/m/{mix}\" }\n",
		},
		{
			"how it counts comes before the curves and their remark",
			"[link]\nport = 1\n\n# Curves.\n[curves]\na = { linear = [0, 1], steps = 2 }\n\n[channel]\n",
			"[link]\nport = 1\n\n[numbers]\nchannel = [{ first = 0 }]\n\n# Curves.\n[curves]\na = { linear = [0, 1], steps = 2 }\n\n[channel]\n" + faderLine + "\n",
		},
		{
			"in place of what is there, with its remark",
			"[numbers]\nchannel = [{ first = 0 }]\n[channel]\n  fader  = { at = \"/old#/{channel}\" }   # \"the\" fader\npan = 1\n",
			"[numbers]\nchannel = [{ first = 0 }]\n[channel]\n  fader  = { at = \"/a/{channel}\", steps = 9 }   # \"the\" fader\npan = 1\n",
		},
		{
			"a last line without an end", "[numbers]\nchannel = [{ first = 0 }]\n[channel]\npan = 1",
			"[numbers]\nchannel = [{ first = 0 }]\n[channel]\npan = 1\n" + faderLine + "\n",
		},
		{
			"ends of lines as they are", "[numbers]\r\nchannel = [{ first = 0 }]\r\n[channel]\r\npan = 1\r\n",
			"[numbers]\r\nchannel = [{ first = 0 }]\r\n[channel]\r\npan = 1\r\n" + faderLine + "\r\n",
		},
		{
			"what looks like a table inside a text",
			"[numbers]\nchannel = [{ first = 0 }]\n[link]\nx = '''\n[channel]\n'''\n[channel]\npan = 1\n",
			"[numbers]\nchannel = [{ first = 0 }]\n[link]\nx = '''\n[channel]\n'''\n[channel]\npan = 1\n" + faderLine + "\n",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := fader().Into("x.toml", []byte(c.before))
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(c.after, string(got)); diff != "" {
				t.Error(diff)
			}
			again, err := fader().Into("x.toml", got)
			if err != nil || string(again) != string(got) {
				t.Errorf("a second time changes it: %v\n%s", err, again)
			}
		})
	}
}

func TestAnEntryThatCantBePutSafelyIsForTheUserToWrite(t *testing.T) {
	for _, before := range []string{
		"channel = { pan = 1 }\n[numbers]\nchannel = [{ first = 0 }]\n",
		"[numbers]\nchannel = [{ first = 0 }]\n[channel.fader]\nat = \"/old\"\n",
	} {
		_, err := fader().Into("x.toml", []byte(before))
		if err == nil || !strings.HasPrefix(err.Error(), "x.toml: there is no place where fader can be put without a risk; write it into [channel] by hand: fader = {") {
			t.Errorf("%v", err)
		}
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
