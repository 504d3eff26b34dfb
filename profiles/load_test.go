package profiles_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/source"

	"github.com/google/go-cmp/cmp"
)

// parameterLine puts one parameter of a channel on line 13 of a small profile.
func parameterLine(line string) string { return head + "[channel]\n" + line + "\n" }

func TestALoadFaultNamesFileLineAndWhatToDo(t *testing.T) {
	for _, test := range []struct {
		name, text, want string
	}{
		// Curves.
		{"points that turn back", parameterLine(`fader = { at = "/f/{channel}", steps = 11, points = [[0, -inf], [0.5, -10.0], [0.8, -12.0], [1, 8.0]] }`),
			"13: point 3: the curve isn't monotone: value -12 comes after -10"},
		{"points that stand still", parameterLine(`fader = { at = "/f/{channel}", steps = 11, points = [[0, -60.0], [0.5, -10.0], [1, -10.0]] }`),
			"13: point 3: the curve isn't monotone: value -10 comes after -10"},
		{"points out of order", parameterLine(`fader = { at = "/f/{channel}", steps = 11, points = [[0, -60.0], [0.8, -20.0], [0.5, -10.0], [1, 0.0]] }`),
			"13: point 3: the curve isn't monotone: position 0.5 comes after 0.8"},
		{"points that don't reach the end", parameterLine(`fader = { at = "/f/{channel}", steps = 11, points = [[0, -60.0], [0.9, 0.0]] }`),
			"13: the points run from position 0 to 0.9: the first must be at position 0 and the last at 1"},
		{"silence at the loud end", parameterLine(`fader = { at = "/f/{channel}", steps = 11, points = [[0, 0.0], [1, -inf]] }`),
			"13: point 2: -inf: only the first point may be -inf, and none beyond a thousand million"},
		{"one point", parameterLine(`fader = { at = "/f/{channel}", steps = 11, points = [[0, 0.0]] }`),
			"13: 1 points: write 2 to 2000 of them, [[position, value], ...]"},
		{"a point of three numbers", parameterLine(`fader = { at = "/f/{channel}", steps = 11, points = [[0, 0.0], [1, 2, 3]] }`),
			"13: point 2: write it as [position, value], two numbers"},
		{"a range of nothing", parameterLine(`pan = { at = "/f/{channel}", steps = 11, linear = [1.0, 1.0] }`),
			"13: linear from 1 to 1: a range that can't be: the ends must be two different numbers"},
		{"a logarithm of nought", parameterLine(`lowcut.frequency = { at = "/f/{channel}", steps = 11, log = [0, 100] }`),
			"13: log from 0 to 100: a range that can't be: both ends must be above 0"},
		{"an endless range", parameterLine(`pan = { at = "/f/{channel}", steps = 11, linear = [-inf, 100] }`),
			"13: linear from -inf to 100: a range that can't be: the ends must lie within a thousand million of 0"},
		{"a range that would overflow", parameterLine(`own = { label = "own", at = "/f/{channel}", steps = 11, linear = [-1e308, 1e308] }`),
			"13: linear from -" + bigNumber + " to " + bigNumber + ": a range that can't be: the ends must lie within a thousand million of 0"},
		{"a power without exponent", parameterLine(`gate.attack = { at = "/f/{channel}", steps = 11, power = [0, 100] }`),
			"13: power takes 3 numbers, power = [from, to, exponent], not 2"},
		{"a power that is flat", parameterLine(`gate.attack = { at = "/f/{channel}", steps = 11, power = [0, 100, 0] }`),
			"13: power with exponent 0: write one from 0.01 to 100"},
		{"more steps than numbers can tell apart", parameterLine(`gate.attack = { at = "/f/{channel}", steps = 1001, power = [100, 200, 20] }`),
			"13: the curve isn't monotone on the desk's grid: step 1 of 1001 can't be told from its neighbour: that is too many steps for such a curve"},
		{"no steps", parameterLine(`pan = { at = "/f/{channel}", linear = [-100, 100] }`),
			"13: steps is missing: write how many steps the desk's control has, steps = ..."},
		{"too many steps", parameterLine(`pan = { at = "/f/{channel}", linear = [-100, 100], steps = 65537 }`),
			"13: steps = 65537: write a number from 2 to 65536"},
		{"no curve", parameterLine(`pan = { at = "/f/{channel}", steps = 3 }`),
			"13: the curve is missing: write one of linear, log, power, points, or the name of a curve"},
		{"two curves", parameterLine(`pan = { at = "/f/{channel}", steps = 3, linear = [-100, 100], power = [-100, 100, 2] }`),
			"13: power: there is one curve already, linear"},
		{"a curve of another name", head + "[curves]\nlevel = { linear = [-60, 10], steps = 71 }\n[channel]\n" + `fader = { at = "/f/{channel}", curve = "levle" }`,
			`15: curve "levle": there is none such in [curves]: did you mean "level"?`},
		{"a faulty named curve is one fault, however many use it", head + "[curves]\nlevel = { linear = [10, 10], steps = 71 }\n[channel]\n" +
			"fader = { at = \"/f/{channel}\", curve = \"level\" }\nsend.mix.level = { at = \"/s/{channel}/{mix}\", curve = \"level\" }",
			"13: linear from 10 to 10: a range that can't be: the ends must be two different numbers"},
		{"a named curve with steps of its own", head + "[curves]\nlevel = { linear = [-60, 10], steps = 71 }\n[channel]\n" + `fader = { at = "/f/{channel}", curve = "level", steps = 5 }`,
			`15: steps: the curve "level" says that already`},
		{"silence twice", parameterLine(`fader = { at = "/f/{channel}", steps = 11, silence = true, points = [[0, -inf], [1, 0]] }`),
			"13: silence: the points begin at -inf already"},
		{"silence above the loudest", parameterLine(`fader = { at = "/f/{channel}", steps = 11, silence = true, linear = [10, -60] }`),
			"13: silence: the curve isn't monotone, since it falls from its first step on and silence comes before that"},
		{"silence and one step", parameterLine(`fader = { at = "/f/{channel}", steps = 2, silence = true, linear = [-60, 10] }`),
			"13: silence: with silence at the bottom, a control has at least 3 steps"},
		{"a gain that reaches silence", parameterLine(`input.gain = { at = "/f/{channel}", steps = 11, silence = true, linear = [-6, 60] }`),
			"13: input.gain: a range that can't be: it has no silence, -inf"},
		{"a gain that no desk has", parameterLine(`input.gain = { at = "/f/{channel}", steps = 11, linear = [-6, 600] }`),
			"13: input.gain from -6.0 dB to 600.0 dB: a range that can't be: expected -40.0 dB to 90.0 dB"},
		{"a fader that no desk has", parameterLine(`fader = { at = "/f/{channel}", steps = 11, points = [[0, -inf], [1, 800.0]] }`),
			"13: fader from 780.0 dB to 800.0 dB: a range that can't be: expected up to 40.0 dB"},
		{"a pan the wrong size", parameterLine(`pan = { at = "/f/{channel}", steps = 11, linear = [0, 127] }`),
			"13: pan from centre to R127: a range that can't be: expected L100 to R100"},

		// Choices, texts, the wire, the start.
		{"no choices", parameterLine(`send.mix.tap = { at = "/f/{channel}/{mix}" }`),
			`13: the desk's choices are missing: write choice = ["...", "..."], in the desk's order`},
		{"a choice of one", parameterLine(`send.mix.tap = { at = "/f/{channel}/{mix}", choice = ["pre"] }`),
			"13: 1 choices: write 2 to 256 of them"},
		{"a choice twice", parameterLine(`send.mix.tap = { at = "/f/{channel}/{mix}", choice = ["pre", "pre"] }`),
			`13: the choice "pre" stands twice`},
		{"a choice that the trade doesn't know", parameterLine(`send.mix.tap = { at = "/f/{channel}/{mix}", choice = ["pre", "pots"] }`),
			`13: "pots" is no choice for send.mix.tap: did you mean "post"?`},
		{"a text without limit", parameterLine(`label = { at = "/f/{channel}" }`),
			"13: how long a text does the desk hold? write text = ..., in bytes"},
		{"a text of nothing", parameterLine(`label = { at = "/f/{channel}", text = 0 }`),
			"13: text = 0: write a number of bytes from 1 to 1024"},
		{"a wire form that isn't", parameterLine(`mute = { at = "/f/{channel}", as = "integer" }`),
			`13: as = "integer": there is none such: did you mean "int"?`},
		{"a wire of one number", parameterLine(`mute = { at = "/f/{channel}", wire = [1] }`),
			"13: wire = [1]: a range that can't be: give two different numbers, those at the two ends of the control"},
		{"a wire with too few whole numbers", parameterLine(`pan = { at = "/f/{channel}", linear = [-100, 100], steps = 201, as = "int", wire = [0, 127] }`),
			"13: wire = [0, 127]: a range that can't be: there are fewer whole numbers than the control has steps, 201"},
		{"a whole wire of halves", parameterLine(`mute = { at = "/f/{channel}", wire = [0.5, 1.5] }`),
			`13: wire = [0.5, 1.5]: a range that can't be: give whole numbers, or write as = "float"`},
		{"a wire too fine for a float32", parameterLine(`pan = { at = "/f/{channel}", linear = [-100, 100], steps = 201, wire = [1000000, 1000001] }`),
			"13: wire = [1000000, 1000001]: a range that can't be: a float32 can't tell the control's 201 steps apart there"},
		{"a wire beyond an int32", parameterLine(`mute = { at = "/f/{channel}", wire = [0, 4294967296] }`),
			"13: wire = [0, 4294967296]: a range that can't be: give numbers within 2147483647 of 0"},
		{"a start out of range", parameterLine(`pan = { at = "/f/{channel}", linear = [-100, 100], steps = 201, start = 101 }`),
			"13: start: R101 is out of the desk's range, L100 to R100"},
		{"a start of another kind", parameterLine(`mute = { at = "/f/{channel}", start = "on" }`),
			`13: start: "on" is not a switch: write true or false`},
		{"an endless settling", parameterLine(`mute = { at = "/f/{channel}", settle = "1h" }`),
			`13: settle = "1h0m0s": write a time from 1ms to 1m`},

		// Addresses.
		{"no address", parameterLine(`mute = { start = true }`),
			`13: channel.mute has no address: write at = "/..."`},
		{"no slash", parameterLine(`mute = { at = "f/{channel}" }`),
			`13: address "f/{channel}": an OSC address begins with /`},
		{"nothing between slashes", parameterLine(`mute = { at = "/f//{channel}" }`),
			`13: address "/f//{channel}": there is nothing after a /`},
		{"a place that isn't", parameterLine(`mute = { at = "/f/{chanel}" }`),
			`13: address "/f/{chanel}": there is no {chanel} here: did you mean "channel"?`},
		{"a place missing", parameterLine(`eq.band.q = { at = "/f/{channel}", log = [0.1, 10], steps = 5 }`),
			`13: address "/f/{channel}": {band} is missing, so that each band would share one address`},
		{"a brace open", parameterLine(`mute = { at = "/f/{channel" }`),
			`13: address "/f/{channel": a { is not closed`},
		{"a wildcard", parameterLine(`mute = { at = "/f*/{channel}" }`),
			`13: address "/f*/{channel}": '*' can't be part of an OSC address`},
		{"an address without end", parameterLine(`mute = { at = "/f/{channel}/` + strings.Repeat("x", 200) + `" }`),
			"13: an address of 213 bytes: at most 200 are allowed"},
		{"two parameters on one address", parameterLine("mute = { at = \"/f/{channel}\" }\nmain = { at = \"/f/{channel}\" }"),
			"14: channel.1.main and channel.1.mute (line 13) share the address /f/1"},
		{"one pattern that runs into itself", strings.Replace(head, "channels = 2\nmixes = 2", "channels = 11\nmixes = 11", 1) + "[channel]\n" + `send.mix.on = { at = "/f/{channel}{mix}" }`,
			"13: channel.11.send.1.on and channel.1.send.11.on (line 13) share the address /f/111"},
		{"a parameter on the address of the identity", head + "[main]\n" + `mute = { at = "/who" }`,
			"13: main.mute and [identity] share the address /who"},
		{"a parameter on the address of following", head + "[follow]\nask = \"/tell\"\n[main]\n" + `mute = { at = "/tell" }`,
			"15: main.mute and [follow] share the address /tell"},
		{"following on the address of the identity", head + "[follow]\nask = \"/who\"\n[main]\n" + `mute = { at = "/m" }`,
			"13: [follow] and [identity] share the address /who"},

		// Expansion. 1000 channels of 101 mixes are 101,000 addresses.
		{"more than 100,000 addresses", strings.Replace(head, "channels = 2\nmixes = 2", "channels = 1000\nmixes = 101", 1) + "[channel]\n" + `send.mix.on = { at = "/f/{channel}/{mix}" }`,
			"13: channel.send.mix.on would expand to 101000 addresses: at most 100000 are allowed"},
		{"more addresses than can be counted", strings.Replace(head, "channels = 2\nmixes = 2\nbands = 2", "channels = 100000\nmixes = 100000\nbands = 100000", 1) +
			"[channel]\n" + `send.mix.eq.band.on = { label = "own", at = "/f/{channel}/{mix}/{band}" }`,
			"13: channel.send.mix.eq.band.on would expand to more addresses than can be counted: at most 100000 are allowed"},
		{"more than 250,000 addresses in all", strings.Replace(head, "channels = 2", "channels = 100000", 1) +
			"[channel]\nmute = { at = \"/a/{channel}\" }\nmain = { at = \"/b/{channel}\" }\ninput.pad = { at = \"/c/{channel}\" }",
			"1: the profile would expand to 300000 addresses in all: at most 250000 are allowed"},
		{"bands that nobody counted", strings.Replace(head, "bands = 2\n", "\n", 1) + "[channel]\n" +
			"eq.band.on = { at = \"/a/{channel}/{band}\" }\neq.band.q = { at = \"/b/{channel}/{band}\", log = [0.1, 10], steps = 5 }",
			"1: the profile does not say how many bands the desk has: write bands = ..."},
		{"no bands at all", strings.Replace(head, "bands = 2", "bands = 0", 1) + "[channel]\neq.band.on = { at = \"/a/{channel}/{band}\" }",
			"4: the profile does not say how many bands the desk has: write bands = ..."},

		// Names.
		{"a slip in a name", parameterLine(`input.gian = { at = "/f/{channel}" }`),
			`13: channel.input.gian is not in the catalogue: did you mean "input.gain"? (a parameter that only this desk has needs a label = "...")`},
		{"a slip in a key", parameterLine(`mute = { at = "/f/{channel}", setle = "1s" }`),
			`13: unknown key "setle": did you mean "settle"?`},
		{"a curve for a switch", parameterLine(`mute = { at = "/f/{channel}", linear = [0, 1] }`),
			`13: unknown key "linear"`},
		{"a value where a parameter belongs", parameterLine(`mute = true`),
			`13: "mute" should be a table, but it is true`},
		{"a number in a name of one's own", parameterLine(`eq.2.width = { label = "own", at = "/f/{channel}" }`),
			`13: the name "eq.2.width": words are small letters, figures and hyphens, and begin with a letter`},
		{"a counter where none counts", parameterLine(`dynamic.band.width = { label = "own", at = "/f/{channel}/{band}" }`),
			`13: the name "dynamic.band.width": here "band" would stand for a number, which it does only as eq.band, send.mix or group.group`},
		{"a mix counted twice", head + "[mix]\n" + `send.mix.on = { label = "own", at = "/f/{mix}" }`,
			`13: mix.send.mix.on: the number of the mix stands in it twice`},
		{"a class that isn't", parameterLine(`own = { label = "own", class = "nosie", at = "/f/{channel}" }`),
			`13: class "nosie": there is none such: did you mean "noise"?`},

		// The desk as a whole.
		{"no name", strings.Replace(head, `name = "small"`, "", 1) + "[main]\nmute = { at = \"/m\" }",
			`1: the profile has no name: write name = "..."`},
		{"no channels", strings.Replace(head, "channels = 2", "", 1) + "[channel]\nmute = { at = \"/m/{channel}\" }",
			"1: the profile does not say how many channels the desk has: write channels = ..."},
		{"no parameters", head, "1: the profile has no parameters: write [channel], [mix] and [main]"},
		{"a part without parameters", head + "[mix]", "1: the profile has no parameters: write [channel], [mix] and [main]"},
		{"a part that is a number", "mix = 3\n" + head, `1: "mix" should be a table, but it is the number 3`},
		{"a port that isn't", strings.Replace(head, "port = 9000", "port = 90000", 1) + "[main]\nmute = { at = \"/m\" }",
			"8: port = 90000: a port is a number from 1 to 65535"},
		{"a pace of nothing", strings.Replace(head, "port = 9000", "port = 9000\npace = 0", 1) + "[main]\nmute = { at = \"/m\" }",
			"9: pace = 0: write how many messages a second the desk takes, 1 to 1000000"},
		{"no tries", strings.Replace(head, "port = 9000", "port = 9000\ntries = 0", 1) + "[main]\nmute = { at = \"/m\" }",
			"9: tries = 0: write a number from 1 to 10000"},
		{"a desk that can't say who it is", strings.Replace(head, `says = "small"`, "", 1) + "[main]\nmute = { at = \"/m\" }",
			`9: [identity] does not say what the desk answers: write says = "..."`},
		{"a desk that can't be asked", strings.Replace(head, `ask = "/who"`, "", 1) + "[main]\nmute = { at = \"/m\" }",
			`9: ask is missing: write the address that the desk listens to, ask = "/..."`},
	} {
		t.Run(test.name, func(t *testing.T) {
			p, err := profiles.Load("small.toml", []byte(test.text))
			if p != nil {
				t.Error("a profile with a fault was given out")
			}
			if diff := cmp.Diff("small.toml:"+test.want, fmt.Sprint(err)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// bigNumber is 1e308, as FormatNumber writes it: without an exponent.
var bigNumber = "1" + strings.Repeat("0", 308) + ".0"

func TestLoadTellsEveryFaultInOneGoAndInOrder(t *testing.T) {
	text := strings.Replace(head, "port = 9000", "port = 0", 1) + `
[channel]
mute = { at = "mute/{channel}" }
pan = { at = "/pan/{channel}", linear = [5, 5], steps = 201, wire = "x", nonsense = 1 }
fader = { at = "/mute/{channel}", linear = [-60, 10], steps = 1 }
[main]
mute = { at = "/who" }
`
	_, err := profiles.Load("small.toml", []byte(text))
	var faults source.Faults
	if !errors.As(err, &faults) {
		t.Fatalf("the error is %T, not source.Faults", err)
	}
	var got []string
	for _, f := range faults {
		got = append(got, f.Error())
	}
	want := []string{
		`small.toml:8: port = 0: a port is a number from 1 to 65535`,
		`small.toml:14: address "mute/{channel}": an OSC address begins with /`,
		`small.toml:15: linear from 5 to 5: a range that can't be: the ends must be two different numbers`,
		`small.toml:15: unknown key "nonsense"`,
		`small.toml:16: steps = 1: write a number from 2 to 65536`,
		`small.toml:18: main.mute and [identity] share the address /who`,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestAProfileTooLongToReadIsRefused(t *testing.T) {
	_, err := profiles.Load("long.toml", []byte(strings.Repeat("#", 300_000)))
	if got, want := fmt.Sprint(err), "long.toml: a desk profile of 300000 bytes: at most 262144 are allowed"; got != want {
		t.Errorf("%q, not %q", got, want)
	}
}

func TestTheStepsOfAllCurvesAreBoundedAndTheFaultIsToldOnce(t *testing.T) {
	var b strings.Builder
	b.WriteString(head + "[channel]\n")
	for i := range 20 { // 20 times 65,536 steps are more than 2^20
		fmt.Fprintf(&b, "own%d = { label = \"own\", at = \"/f/%d/{channel}\", linear = [0, 1], steps = 65536 }\n", i, i)
	}
	_, err := profiles.Load("small.toml", []byte(b.String()))
	want := "small.toml:29: with this curve the profile has 1114112 steps: at most 1048576 are allowed; name a curve in [curves] once and share it"
	if got := fmt.Sprint(err); got != want {
		t.Errorf("%q, not %q", got, want)
	}
}

func TestWhatAProfileLeavesOutHasADefault(t *testing.T) {
	p := load(t, head+`[follow]
ask = "/tell"
[channel]
mute = { at = "/mute/{channel}" }
label = { at = "/label/{channel}", text = 6 }
colour = { at = "/colour/{channel}", choice = ["red", "blue"] }
fader = { at = "/fader/{channel}", points = [[0, -inf], [1, 10]], steps = 11 }
input.gain = { at = "/gain/{channel}", linear = [20, 60], steps = 41 }
lowcut.frequency = { at = "/corner/{channel}", log = [320, 20], steps = 5 }
own = { label = "own", at = "/own/{channel}", linear = [-60, 10], steps = 72, silence = true, unit = "dB" }
`)
	if p.Link.Pace <= 0 || p.Link.Burst < 1 || p.Link.Window < 1 || p.Link.Tries < 1 || p.Link.Wait <= 0 || p.Link.Linger <= 0 {
		t.Errorf("the link can't be used: %+v", p.Link)
	}
	if requests, lapses := p.AskToFollow(); len(requests) != 1 || lapses <= 0 {
		t.Errorf("%d requests, following lapses after %v", len(requests), lapses)
	}
	for path, want := range map[string]profiles.Value{
		"channel.1.mute":             profiles.Switch(false),
		"channel.1.label":            profiles.Word(""),
		"channel.1.colour":           profiles.Word("red"),
		"channel.1.fader":            profiles.Silence,
		"channel.1.input.gain":       profiles.Number(20), // 0 is out of its range
		"channel.1.lowcut.frequency": profiles.Number(20),
		"channel.1.own":              profiles.Silence,
	} {
		c, ok := p.Control(parameter(t, path))
		if !ok || c.Start != want {
			t.Errorf("%s starts at %v, not %v", path, c.Start, want)
		}
	}
}
