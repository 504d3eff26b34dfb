package profiles_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"deskhand/osc"
	"deskhand/profiles"

	"github.com/google/go-cmp/cmp"
)

// msg is a message as it should be sent.
func msg(address string, arguments ...any) osc.Message {
	return osc.Message{Address: address, Arguments: arguments}
}

// mustTell sees to it that a value is told by exactly this message, and that a desk
// takes it from there.
func mustTell(t *testing.T, p *profiles.Profile, path string, v profiles.Value, want osc.Message) {
	t.Helper()
	s := profiles.Setting{Parameter: parameter(t, path), Value: v}
	messages, _, err := tell(p, s)
	if err != nil {
		t.Errorf("%s: %v", path, err)
		return
	}
	if diff := cmp.Diff([]osc.Message{want}, messages); diff != "" {
		t.Errorf("%s: %s", path, diff)
	}
	if told := p.Told(overTheWire(t, want)); len(told) != 1 || told[0] != s {
		t.Errorf("%s: told %s, the desk takes %v", path, want, told)
	}
}

// mustAsk sees to it that the question about parameters is exactly this.
func mustAsk(t *testing.T, p *profiles.Profile, want []osc.Message, paths ...string) {
	t.Helper()
	var about []profiles.Parameter
	for _, path := range paths {
		about = append(about, parameter(t, path))
	}
	var got []osc.Message
	var keys []profiles.Parameter
	for _, q := range p.Ask(about) {
		got, keys = append(got, q.Message), append(keys, q.Keys...)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("about %v: %s", paths, diff)
	}
	if len(want) > 0 && len(keys) != len(about) {
		t.Errorf("about %v only %v is asked", paths, keys)
	}
}

// mustHear sees to it that a message reports exactly one value.
func mustHear(t *testing.T, p *profiles.Profile, h osc.Heard, path string, want profiles.Value) {
	t.Helper()
	got := p.Hear(h)
	if len(got) != 1 || got[0].Key != parameter(t, path) || got[0].Value != want {
		t.Errorf("%s is heard as %v, not %s %v", h, got, path, want)
	}
}

func TestPlacesStandInTheAddressAsTheDeskCountsThem(t *testing.T) {
	p := load(t, strings.Replace(head, "channels = 2", "channels = 40", 1)+`[numbers]
channel = [{ upto = 32, write = "in/{}", digits = 2 }, { write = "line/{}", first = 1 }]
mix = [{ words = ["A", "B"] }]
band = [{ first = 0 }]
[channel]
mute = { at = "/{channel}/mute" }
send.mix.on = { at = "/{channel}/aux/{mix}" }
eq.band.on = { at = "/{channel}/eq/{band}" }
`)
	on := profiles.Switch(true)
	mustTell(t, p, "channel.7.mute", on, msg("/in/07/mute", int32(1)))
	mustTell(t, p, "channel.32.mute", on, msg("/in/32/mute", int32(1)))
	mustTell(t, p, "channel.33.mute", on, msg("/line/1/mute", int32(1)))
	mustTell(t, p, "channel.40.mute", on, msg("/line/8/mute", int32(1)))
	mustTell(t, p, "channel.1.send.2.on", on, msg("/in/01/aux/B", int32(1)))
	mustTell(t, p, "channel.3.eq.2.on", on, msg("/in/03/eq/1", int32(1)))

	packet, err := msg("/in/07/mute", int32(1)).Encode()
	if want := []byte("/in/07/mute\x00,i\x00\x00\x00\x00\x00\x01"); err != nil || !bytes.Equal(packet, want) {
		t.Errorf("sent %q, %v, not %q", packet, err, want)
	}
}

func TestThePlaceIsAnArgument(t *testing.T) {
	for arguments, want := range map[string][]any{
		`["{place}", "{value}"]`:            {int32(2), int32(1), float32(0.5)},
		`["{value}", "{place}"]`:            {float32(0.5), int32(2), int32(1)},
		`["{mix}", "{channel}", "{value}"]`: {int32(1), int32(2), float32(0.5)},
		`["set", "{place}", "{value}", 7]`:  {"set", int32(2), int32(1), float32(0.5), int32(7)},
	} {
		p := load(t, head+`[tell]
arguments = `+arguments+`
[ask]
arguments = ["{place}"]
[channel]
send.mix.level = { at = "/send", linear = [-60.0, 0.0], steps = 3 }
`)
		mustTell(t, p, "channel.2.send.1.level", profiles.Number(-30), msg("/send", want...))
	}
}

// A desk that counts from 0 and calls its mixes A and B does so among arguments, too.
func TestThePlaceAmongArgumentsIsAsTheDeskCounts(t *testing.T) {
	p := load(t, head+`[numbers]
channel = [{ first = 0 }]
mix = [{ words = ["A", "B"] }]
[tell]
arguments = ["{place}", "{value}"]
[ask]
at = "/get/{at}"
arguments = ["{place}"]
[channel]
send.mix.on = { at = "/send" }
mute = { at = "/mute" }
[main]
mute = { at = "/mute" }
`)
	on := profiles.Switch(true)
	mustTell(t, p, "channel.1.send.2.on", on, msg("/send", int32(0), "B", int32(1)))
	mustTell(t, p, "channel.2.mute", on, msg("/mute", int32(1), int32(1)))
	mustTell(t, p, "main.mute", on, msg("/mute", int32(1))) // told apart by how many there are
}

// 100 + 8 * (2 - 1) + 1 * (2 - 1) = 109.
func TestThePlaceIsAFlatNumberOfBaseAndStrides(t *testing.T) {
	p := load(t, head+`[tell]
arguments = [{ base = 100, channel = 8, band = 1 }, "{value}"]
[ask]
arguments = [{ base = 100, channel = 8, band = 1 }]
[channel]
eq.band.on = { at = "/eq" }
eq.on = { at = "/eq/all" }
`)
	mustTell(t, p, "channel.1.eq.1.on", profiles.Switch(true), msg("/eq", int32(100), int32(1)))
	mustTell(t, p, "channel.2.eq.2.on", profiles.Switch(true), msg("/eq", int32(109), int32(1)))
	mustTell(t, p, "channel.2.eq.on", profiles.Switch(false), msg("/eq/all", int32(108), int32(0)))
	mustAsk(t, p, []osc.Message{msg("/eq", int32(101))}, "channel.1.eq.2.on")
	mustHear(t, p, heard("/eq", float32(109), int32(0)), "channel.2.eq.2.on", profiles.Switch(false)) // whichever type
}

func TestTheAddressIsATextArgumentOfOneSettingAddress(t *testing.T) {
	p := load(t, head+`[tell]
at = "/set"
arguments = ["{at}", "{value}"]
[ask]
at = "/get"
arguments = ["{at}"]
[channel]
mute = { at = "/ch/{channel}/mute" }
[main]
mute = { at = "/main/mute" }
`)
	mustTell(t, p, "channel.2.mute", profiles.Switch(true), msg("/set", "/ch/2/mute", int32(1)))
	mustTell(t, p, "main.mute", profiles.Switch(false), msg("/set", "/main/mute", int32(0)))
	mustAsk(t, p, []osc.Message{msg("/get", "/main/mute")}, "main.mute")
}

// group is a desk that takes a gate in one message.
const group = head + `[channel]
gate.on = { at = "/gate/{channel}", slot = 1 }
gate.threshold = { at = "/gate/{channel}", slot = 2, linear = [-60.0, 0.0], steps = 61, wire = "unit" }
gate.hold = { at = "/gate/{channel}", slot = 3, linear = [0.0, 100.0], steps = 101, as = "int", wire = "unit" }
mute = { at = "/mute/{channel}" }
`

func TestWhatGoesInOneMessageIsToldWithTheOthersAsTheyAre(t *testing.T) {
	p := load(t, group)
	on, threshold, hold := parameter(t, "channel.2.gate.on"), parameter(t, "channel.2.gate.threshold"), parameter(t, "channel.2.gate.hold")
	holds := holding(profiles.Setting{Parameter: on, Value: profiles.Switch(true)}, profiles.Setting{Parameter: threshold, Value: profiles.Number(-40)}, profiles.Setting{Parameter: hold, Value: profiles.Number(30)})
	if diff := cmp.Diff([]profiles.Parameter{on, hold}, p.Beside(threshold)); diff != "" {
		t.Error(diff)
	}
	if beside := p.Beside(parameter(t, "channel.2.mute")); len(beside) != 0 {
		t.Errorf("beside mute stands %v", beside)
	}
	tellings, err := p.Tell([]profiles.Setting{{Parameter: threshold, Value: profiles.Number(-35)}}, holds)
	want := []profiles.Telling{{
		Message:  msg("/gate/2", int32(1), float32(-35), int32(30)),
		Settings: []profiles.Setting{{Parameter: threshold, Value: profiles.Number(-35)}},
	}}
	if diff := cmp.Diff(want, tellings, cmp.AllowUnexported(profiles.Value{})); err != nil || diff != "" {
		t.Errorf("%v %s", err, diff)
	}

	heard := p.Hear(overTheWire(t, want[0].Message))
	if len(heard) != 3 || heard[0].Value != profiles.Switch(true) || heard[1].Value != profiles.Number(-35) || heard[2].Value != profiles.Number(30) {
		t.Errorf("heard %v", heard)
	}
	mustAsk(t, p, []osc.Message{{Address: "/gate/2"}}, "channel.2.gate.on", "channel.2.gate.hold")
}

func TestSettingsOfOneMessageGoTogetherAndAllOfThemNeedNoReading(t *testing.T) {
	p := load(t, group)
	setting := func(path string, v profiles.Value) profiles.Setting {
		return profiles.Setting{Parameter: parameter(t, path), Value: v}
	}
	messages, _, err := tell(p,
		setting("channel.1.gate.hold", profiles.Number(50)),
		setting("channel.1.mute", profiles.Switch(true)),
		setting("channel.1.gate.on", profiles.Switch(true)),
		setting("channel.1.gate.threshold", profiles.Number(-20)),
		setting("channel.1.gate.on", profiles.Switch(false)), // once more: the rest is as it was told before
	)
	want := []osc.Message{
		msg("/gate/1", int32(1), float32(-20), int32(50)),
		msg("/mute/1", int32(1)),
		msg("/gate/1", int32(0), float32(-20), int32(50)),
	}
	if diff := cmp.Diff(want, messages); err != nil || diff != "" {
		t.Errorf("%v %s", err, diff)
	}
	_, _, err = tell(p, setting("channel.1.gate.on", profiles.Switch(true)))
	if want := "channel.1.gate.threshold goes with it in one message, and what it holds is not known"; fmt.Sprint(err) != want {
		t.Errorf("%v, not %s", err, want)
	}
}

// All bands of a channel in one message are slots of bands that are named one by one.
func TestAllBandsOfAChannelGoInOneMessage(t *testing.T) {
	p := load(t, head+`[channel]
eq.1.gain = { at = "/eq/{channel}", slot = 1, linear = [-12.0, 12.0], steps = 25, as = "int", wire = [-12, 12] }
eq.2.gain = { at = "/eq/{channel}", slot = 2, linear = [-12.0, 12.0], steps = 25, as = "int", wire = [-12, 12] }
`)
	messages, _, err := tell(p,
		profiles.Setting{Parameter: parameter(t, "channel.1.eq.2.gain"), Value: profiles.Number(-3)},
		profiles.Setting{Parameter: parameter(t, "channel.1.eq.1.gain"), Value: profiles.Number(6)})
	if diff := cmp.Diff([]osc.Message{msg("/eq/1", int32(6), int32(-3))}, messages); err != nil || diff != "" {
		t.Errorf("%v %s", err, diff)
	}
}

func TestADeskIsAskedAsItsProfileSays(t *testing.T) {
	for _, test := range []struct {
		name, says string
		want       osc.Message
	}{
		{"by the bare address", "", msg("/ch/2/mute")},
		{"at another address, with the wanted one as a text", "[ask]\nat = \"/get\"\narguments = [\"{at}\"]\n", msg("/get", "/ch/2/mute")},
		{"at another address, with the place", "[ask]\nat = \"/get/mute\"\narguments = [\"{channel}\"]\n", msg("/get/mute", int32(2))},
		{"around its own address", "[ask]\nat = \"/get/{at}\"\n", msg("/get/ch/2/mute")},
		{"with a constant", "[ask]\nat = \"/get\"\narguments = [\"value\", \"{at}\"]\n", msg("/get", "value", "/ch/2/mute")},
	} {
		t.Run(test.name, func(t *testing.T) {
			p := load(t, head+test.says+"[channel]\nmute = { at = \"/ch/{channel}/mute\" }\n")
			got := p.Ask([]profiles.Parameter{parameter(t, "channel.2.mute")})
			if len(got) != 1 || got[0].Message.String() != test.want.String() {
				t.Fatalf("asked %v, not %s", got, test.want)
			}
			h := overTheWire(t, got[0].Message)
			if asked := p.Asked(h); len(asked) != 1 || asked[0] != parameter(t, "channel.2.mute") {
				t.Errorf("%s is taken as a question about %v", h, asked)
			}
		})
	}
}

const blocks = head + `[[block]]
of = "desk"
at = "/dump"
[[block]]
of = "channel.eq"
at = "/dump/eq"
arguments = ["{channel}"]
[channel]
mute = { at = "/ch/{channel}/mute" }
eq.on = { at = "/ch/{channel}/eq" }
eq.band.on = { at = "/ch/{channel}/eq/{band}" }
eq.band.gain = { at = "/ch/{channel}/eq/{band}/gain", linear = [-12.0, 12.0], steps = 25, asked = false }
`

// The desk of 2 channels gives 8 answers in all, and 3 about the EQ of a channel.
func TestABlockIsAskedForWhereEnoughOfItIsWanted(t *testing.T) {
	p := load(t, blocks)
	mustAsk(t, p, []osc.Message{{Address: "/dump"}}, "channel.1.mute", "channel.2.mute", "channel.1.eq.on")
	mustAsk(t, p, []osc.Message{{Address: "/ch/1/eq"}, {Address: "/ch/1/eq/1"}}, "channel.1.eq.on", "channel.1.eq.1.on")
	mustAsk(t, p, nil, "channel.1.eq.1.gain") // can be told only
	if got := p.Asked(heard("/dump/eq", int32(2))); len(got) != 3 || got[0] != parameter(t, "channel.2.eq.on") {
		t.Errorf("asked for %v", got)
	}
	if got := p.Asked(heard("/dump")); len(got) != 8 {
		t.Errorf("asked for %v", got)
	}
	for _, h := range []osc.Heard{heard("/dump/eq"), heard("/dump/eq", int32(3)), heard("/dump", int32(1))} {
		if got := p.Asked(h); len(got) != 0 {
			t.Errorf("%s asks for %v", h, got)
		}
	}

	larger := load(t, strings.Replace(blocks, "channels = 2", "channels = 20", 1)) // 3 of 80 are too few to ask for all
	mustAsk(t, larger, []osc.Message{{Address: "/dump/eq", Arguments: []any{int32(1)}}}, "channel.1.eq.on", "channel.1.eq.1.on", "channel.1.eq.2.on")
}

func TestADeskThatAnswersOnlyInBlocksIsAskedForThem(t *testing.T) {
	p := load(t, head+`[ask]
never = true
[[block]]
of = "channel"
at = "/all/{channel}"
[channel]
mute = { at = "/ch/{channel}/mute" }
[main]
mute = { at = "/main/mute" }
`)
	mustAsk(t, p, []osc.Message{{Address: "/all/2"}}, "channel.2.mute")
	mustAsk(t, p, nil, "main.mute")
	if !p.CanAnswer() {
		t.Error("it can't answer")
	}
}

func TestADeskThatCanOnlyBeToldIsNotAskedAndNeedsNoIdentity(t *testing.T) {
	p := load(t, `name = "deaf"
channels = 1
[link]
port = 9000
[ask]
never = true
[channel]
mute = { at = "/mute" }
`+"[tell]\narguments = [\"{place}\", \"{value}\"]\n")
	mustTell(t, p, "channel.1.mute", profiles.Switch(true), msg("/mute", int32(1), int32(1)))
	mustAsk(t, p, nil, "channel.1.mute")
	if who := p.AskWho(); p.CanAnswer() || p.Askable(parameter(t, "channel.1.mute")) || len(who.Keys) != 0 {
		t.Errorf("it can be asked %v", who)
	}
	for _, h := range []osc.Heard{heard(""), heard("", "who"), heard("/mute"), heard("/mute", int32(1))} {
		if asked, heard := p.Asked(h), p.Hear(h); len(asked)+len(heard) != 0 {
			t.Errorf("%s asks %v and says %v", h, asked, heard)
		}
	}
}

func TestADeskAnswersAsItsProfileSays(t *testing.T) {
	for _, test := range []struct {
		name, says string
		want       osc.Message
	}{
		{"at the same address", "", msg("/ch/2/mute", int32(1))},
		{"as it is told", "[tell]\narguments = [\"set\", \"{value}\"]\n", msg("/ch/2/mute", "set", int32(1))},
		{"at another address", "[answer]\nat = \"{at}/is\"\n", msg("/ch/2/mute/is", int32(1))},
		{"at one address with its own as a text", "[answer]\nat = \"/is\"\narguments = [\"{at}\", \"{value}\"]\n", msg("/is", "/ch/2/mute", int32(1))},
		{"with the place", "[answer]\nat = \"/is/mute\"\narguments = [\"{value}\", \"{channel}\"]\n", msg("/is/mute", int32(1), int32(2))},
	} {
		t.Run(test.name, func(t *testing.T) {
			p := load(t, head+test.says+"[channel]\nmute = { at = \"/ch/{channel}/mute\" }\n")
			q := parameter(t, "channel.2.mute")
			got, err := p.Answer(q, holding(profiles.Setting{Parameter: q, Value: profiles.Switch(true)}))
			if diff := cmp.Diff(test.want, got); err != nil || diff != "" {
				t.Errorf("%v %s", err, diff)
			}
			mustHear(t, p, overTheWire(t, test.want), "channel.2.mute", profiles.Switch(true))
			with := msg(test.want.Address, append(test.want.Arguments, "on", float32(1))...)
			mustHear(t, p, overTheWire(t, with), "channel.2.mute", profiles.Switch(true)) // further arguments
		})
	}
	p := load(t, head+"[answer]\nport = 9001\nbundled = true\n[main]\nmute = { at = \"/m\" }")
	if p.Link.AnswerPort != 9001 || !p.Link.Bundled {
		t.Errorf("%+v", p.Link)
	}
	bundle, err := osc.EncodeBundle(msg("/m", int32(1)), msg("/other", int32(1)))
	if err != nil {
		t.Fatal(err)
	}
	messages, err := osc.Decode(bundle)
	if err != nil || len(messages) != 2 {
		t.Fatalf("%v, %v", messages, err)
	}
	mustHear(t, p, messages[0], "main.mute", profiles.Switch(true))
}
