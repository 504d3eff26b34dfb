package profiles_test

import (
	"fmt"
	"strings"
	"testing"

	"deskhand/profiles"

	"github.com/google/go-cmp/cmp"
)

// linked is the small profile with more lines in its [link], from line 9 on.
func linked(lines string) string {
	return strings.Replace(head, "port = 9000\n", "port = 9000\n"+lines, 1) + "[main]\nmute = { at = \"/m\" }\n"
}

func TestAConventionThatIsSaidWronglyIsAFaultOnItsLine(t *testing.T) {
	const mute = "[channel]\nmute = { at = \"/m/{channel}\" }\n"
	for _, test := range []struct {
		name, text, want string
	}{
		// 1. Places in the address. The lines begin with 12.
		{"a word too few", head + "[numbers]\nmix = [{ words = [\"A\"] }]\n" + mute, "12: nothing says how mix 2 is written, the last being 2"},
		{"words and a count", head + "[numbers]\nmix = [{ words = [\"A\", \"B\"], first = 0 }]\n" + mute, "13: words: a mix has a number or a word, not both"},
		{"a word twice", head + "[numbers]\nmix = [{ words = [\"A\", \"A\"] }]\n" + mute, `13: the word "A" stands twice`},
		{"a word that is no part of an address", head + "[numbers]\nmix = [{ words = [\"A\", \"B*\"] }]\n" + mute, `13: the word "B*" can't be part of an OSC address`},
		{"a stretch too short", head + "[numbers]\nchannel = [{ upto = 1, first = 0 }]\n" + mute, "12: nothing says how channel 2 is written, the last being 2"},
		{"a stretch that ends before it begins", head + "[numbers]\nchannel = [{ upto = 1 }, { upto = 1 }]\n" + mute, "13: upto = 1: write the last channel that is written in this way, 2 or more"},
		{"a stretch without end", head + "[numbers]\nchannel = [{ write = \"in/{}\" }, { write = \"line/{}\" }]\n" + mute, "13: upto is missing: write the last channel that is written in this way, upto = ..."},
		{"a prefix without its number", head + "[numbers]\nchannel = [{ write = \"in\" }]\n" + mute, `13: write = "in": write what stands around the number in an address, with {} for it, as "in/{}"`},
		{"too many figures", head + "[numbers]\nchannel = [{ digits = 7 }]\n" + mute, "13: digits = 7: write a number from 1 to 6"},
		{"a count from below nothing", head + "[numbers]\nchannel = [{ first = -1 }]\n" + mute, "13: first = -1: write what the desk calls the first channel, 0 to 100000"},
		{"two channels with one name", head + "[numbers]\nchannel = [{ upto = 1, first = 1 }, { first = 1 }]\n" + mute, "15: channel.2.mute and channel.1.mute (line 15) share the address /m/1"},
		{"a counter that isn't", head + "[numbers]\nchannels = [{ first = 0 }]\n" + mute, `13: unknown key "channels": did you mean "channel"?`},

		// 2. The place as an argument.
		{"no value", head + "[tell]\narguments = [\"{place}\"]\n" + mute, `13: "{value}" stands among the arguments once, not 0 times`},
		{"two values", head + "[tell]\narguments = [\"{value}\", \"{value}\"]\n" + mute, `13: "{value}" stands among the arguments once, not 2 times`},
		{"a placeholder that isn't", head + "[tell]\narguments = [\"{plaice}\", \"{value}\"]\n" + mute, `13: argument 1: "{plaice}" stands for nothing: did you mean "place"?`},
		{"a placeholder that is open", head + "[tell]\narguments = [\"{place\", \"{value}\"]\n" + mute, `13: argument 1: "{place": a { is not closed`},
		{"a part of a flat number that isn't", head + "[tell]\narguments = [{ bass = 1 }, \"{value}\"]\n" + mute, `13: argument 1: "bass" is no part of a flat number: did you mean "base"?`},
		{"a flat number of halves", head + "[tell]\narguments = [{ base = 0.5 }, \"{value}\"]\n" + mute, "13: argument 1: base: write a whole number from 0 to 2147483647"},
		{"a flat number too large", head + "[tell]\narguments = [{ base = 2147483647, channel = 1 }, \"{value}\"]\n" + mute, "12: [tell]: argument 1: the last place would be 2147483648, which is no 32-bit number"},
		{"a constant too large", head + "[tell]\narguments = [4294967296, \"{value}\"]\n" + mute, "13: argument 1: 4294967296 is no 32-bit number"},
		{"a text too long", head + "[tell]\narguments = [\"" + strings.Repeat("a", 201) + "\", \"{value}\"]\n" + mute, "13: argument 1: a text of 201 bytes: at most 200 are allowed"},
		{"a list as an argument", head + "[tell]\narguments = [[1], \"{value}\"]\n" + mute, "13: argument 1: write a text, a number, true, false, or {base = ..., channel = ...}"},
		{"no list of arguments", head + "[tell]\narguments = \"{value}\"\n" + mute, `13: "arguments" should be a list, but it is the text "{value}"`},
		{"flat numbers that meet", head + "[tell]\narguments = [{ channel = 1, band = 1 }, \"{value}\"]\n[ask]\nat = \"/get\"\narguments = [{ channel = 1, band = 1 }]\n[channel]\neq.band.on = { at = \"/eq\" }\n", `18: channel.2.eq.1.on and channel.1.eq.2.on (line 18) share the setting /eq i 1 s "..."`},
		{"a place that only settings have", head + "[tell]\narguments = [\"{place}\", \"{value}\"]\n[channel]\nmute = { at = \"/m\" }\n", `15: address "/m": {channel} is missing, and [ask] says it nowhere else, so that each channel would share one message`},
		{"an address for all that only some can have", head + "[tell]\nat = \"/set/{channel}\"\narguments = [\"{at}\", \"{value}\"]\n[main]\nmute = { at = \"/m\" }\n", `16: main.mute has no {channel}, which is in the address "/set/{channel}" of [tell]`},
		{"a slip in a template", head + "[tell]\nat = \"/set/{chanel}\"\n" + mute, `13: address "/set/{chanel}": there is no {chanel} here: did you mean "channel"?`},
		{"messages that can't be told apart", head + "[tell]\nat = \"/set\"\narguments = [\"{place}\", \"{value}\"]\n[ask]\nat = \"/get\"\narguments = [\"{at}\", \"{place}\"]\n" +
			"[channel]\ngate.on = { at = \"/g\", slot = 1 }\ngate.hold = { at = \"/g\", slot = 2, linear = [0, 1], steps = 2 }\nsend.mix.on = { at = \"/s\" }\n", "21: channel.1.send.1.on: messages at /set with 3 arguments can't be told apart"},

		// 3. Several values in one message.
		{"a slot missing", head + "[channel]\ngate.on = { at = \"/g/{channel}\", slot = 1 }\ngate.hold = { at = \"/g/{channel}\", slot = 3, linear = [0, 1], steps = 2 }\n", "13: channel.1.gate.on: slot 2 of its message is missing"},
		{"a slot twice", head + "[channel]\ngate.on = { at = \"/g/{channel}\", slot = 1 }\ngate.hold = { at = \"/g/{channel}\", slot = 1, linear = [0, 1], steps = 2 }\n", "14: channel.1.gate.hold and channel.1.gate.on (line 13) share the address /g/1"},
		{"a slot of nothing", head + "[channel]\ngate.on = { at = \"/g/{channel}\", slot = 0 }\n", "13: slot = 0: write which of the message's values this is, 1 to 64"},
		{"a slot beside one that has none", head + "[channel]\ngate.on = { at = \"/g/{channel}\" }\ngate.hold = { at = \"/g/{channel}\", slot = 1, linear = [0, 1], steps = 2 }\n", "14: channel.1.gate.hold and channel.1.gate.on (line 13) share the address /g/1"},

		// 4. Asking.
		{"a question with a value", head + "[ask]\narguments = [\"{value}\"]\n" + mute, `13: a question holds no "{value}"`},
		{"a question to a desk that is never asked", head + "[ask]\nnever = true\nat = \"/get\"\n" + mute, "14: at: this desk is never asked, as never = true says"},
		{"a question that would set", head + "[ask]\narguments = [1]\n" + mute, "15: channel.1.mute: the question /m/1 i 1 would be taken for one about channel.1.mute"},
		{"questions that are all the same", head + "[ask]\nat = \"/get\"\n[main]\nmute = { at = \"/m\" }\nfader = { at = \"/f\", linear = [-60, 0], steps = 61 }\n", "16: main.fader and main.mute (line 15) share the question /get"},
		{"a question at the address of the identity", head + "[ask]\nat = \"/who\"\narguments = [\"{at}\"]\n" + mute, "16: channel.1.mute and [identity] share the address /who"},
		{"a block of nothing", head + "[[block]]\nat = \"/all\"\n" + mute, `12: [[block]] does not say what it is about: write of = "desk", "channel" or "channel.eq"`},
		{"a block of what isn't", head + "[[block]]\nof = \"chanel\"\nat = \"/all/{channel}\"\n" + mute, `13: of = "chanel": write "desk", or a part of it with the beginning of a name, as "channel.eq": did you mean "channel"?`},
		{"a block that brings nothing", head + "[[block]]\nof = \"channel.gate\"\nat = \"/all/{channel}\"\n" + mute, "13: this block brings nothing: no parameter that can be asked about has a name that begins so"},
		{"a block without address", head + "[[block]]\nof = \"channel\"\n" + mute, `12: [[block]] has no address: write at = "/..."`},
		{"a block of no channel in particular", head + "[[block]]\nof = \"channel\"\nat = \"/all\"\n" + mute, `14: address "/all": {channel} is missing, so that it is not clear which channel is asked about`},
		{"a block with a value", head + "[[block]]\nof = \"desk\"\nat = \"/all\"\narguments = [\"{value}\"]\n" + mute, "15: argument 1: a block's question holds numbers of places and constants only"},
		{"a block of the desk with a channel", head + "[[block]]\nof = \"desk\"\nat = \"/all\"\narguments = [\"{channel}\"]\n" + mute, "15: argument 1: there is no {channel} here"},
		{"a block that asks as a parameter does", head + "[[block]]\nof = \"channel\"\nat = \"/m/{channel}\"\n" + mute, "13: the block's question /m/1 would be taken for one about channel.1.mute"},
		{"a block twice", head + "[[block]]\nof = \"channel\"\nat = \"/a/{channel}\"\n[[block]]\nof = \"channel.mute\"\nat = \"/a/{channel}\"\n" + mute, "16: two blocks share the question /a/1 (line 13)"},
		{"asked says nothing", head + "[main]\nmute = { at = \"/m\", asked = true }\n", "13: asked = true says nothing: leave it out"},

		// 5. Answers.
		{"a port that isn't", head + "[answer]\nport = 0\n" + mute, "13: port = 0: a port is a number from 1 to 65535"},
		{"a port over TCP", linked("over = \"tcp-slip\"\n") + "[answer]\nport = 9001\n", "16: port: over tcp-slip a desk answers on the connection that it was asked on"},
		{"an answer without value", head + "[answer]\narguments = [\"{at}\"]\n" + mute, `13: "{value}" stands among the arguments once, not 0 times`},
		{"answers that are all the same", head + "[answer]\nat = \"/is\"\n[main]\nmute = { at = \"/m\" }\nmain = { label = \"own\", at = \"/f\" }\n", `16: main.main and main.mute (line 15) share the answer /is s "..."`},

		// 6. Forms.
		{"no number for silence", parameterLine(`fader = { at = "/f/{channel}", linear = [-60, 0], steps = 62, silence = true, wire = "unit" }`), "13: what stands for silence on the wire? write silent = ..., as -144.0"},
		{"no text for silence", parameterLine(`fader = { at = "/f/{channel}", linear = [-60, 0], steps = 62, silence = true, as = "text" }`), `13: what stands for silence on the wire? write silent = ..., as "off"`},
		{"a silence louder than a sound", parameterLine(`fader = { at = "/f/{channel}", linear = [-60, 0], steps = 62, silence = true, wire = "unit", silent = -30.0 }`), "13: silent = -30: write a number below the lowest sound, -60.0 dB"},
		{"too few decimals", parameterLine(`fader = { at = "/f/{channel}", linear = [-60, 0], steps = 121, as = "text", decimals = 0 }`), "13: step 1 of 121, -59.5 dB, can't be told from its neighbour on the wire: give it more decimals, or fewer steps"},
		{"too many decimals", parameterLine(`fader = { at = "/f/{channel}", linear = [-60, 0], steps = 121, as = "text", decimals = 7 }`), "13: decimals = 7: write a number from 0 to 6"},
		{"whole numbers for halves", parameterLine(`fader = { at = "/f/{channel}", linear = [-60, 0], steps = 121, as = "int", wire = "unit" }`), "13: step 1 of 121, -59.5 dB, can't be told from its neighbour on the wire: give it more decimals, or fewer steps"},
		{"a text without its number", parameterLine(`fader = { at = "/f/{channel}", linear = [-60, 0], steps = 61, as = "text", write = "dB" }`), `13: write = "dB": write how the number stands in the text, with {} for it, as "{} dB"`},
		{"a switch in a unit", parameterLine(`mute = { at = "/f/{channel}", wire = "unit" }`), `13: wire = "unit": mute is no number`},
		{"true and false as numbers", parameterLine(`mute = { at = "/f/{channel}", as = "switch", wire = [0, 127] }`), "13: wire = [0, 127]: a switch that is true and false is [0, 1], or [1, 0] the wrong way round"},
		{"a word too many", parameterLine(`mute = { at = "/f/{channel}", as = "word", words = ["off", "on", "maybe"] }`), "13: 3 words for the 2 steps of mute"},
		{"a word for both", parameterLine(`mute = { at = "/f/{channel}", as = "word", words = ["on", "on"] }`), `13: the word "on" stands twice`},
		{"words for a number", parameterLine(`fader = { at = "/f/{channel}", linear = [-60, 0], steps = 61, as = "word" }`), `13: as = "word": there is none such: it is one of text, float, int, double, long`},
		{"a switch as a text", parameterLine(`mute = { at = "/f/{channel}", as = "text" }`), `13: as = "text": there is none such: it is one of switch, word, float, int, double, long`},
		{"words that nobody reads", parameterLine(`mute = { at = "/f/{channel}", words = ["off", "on"] }`), `13: unknown key "words"`},
		{"a slip in what is said of all", head + "[values]\nnumber = { ass = \"int\" }\n" + mute, `13: unknown key "ass": did you mean "as"?`},
		{"a kind that isn't", head + "[values]\nnumbers = { as = \"int\" }\n" + mute, `13: unknown key "numbers": did you mean "number"?`},

		// 7. Links, and 8. bundles.
		{"a link that isn't", linked("over = \"tcp-slop\"\n"), `9: over = "tcp-slop": there is none such: did you mean "tcp-slip"?`},
		{"a greeting that is no address", linked("greeting = \"hello\"\n"), `9: address "hello": an OSC address begins with /`},
		{"something to stay alive with", linked("alive-every = \"3s\"\n"), `9: alive-every: of what? write alive = "/..."`},
		{"alive without end", linked("alive = \"/alive\"\nalive-every = \"1h\"\n"), `10: alive-every = "1h0m0s": write a time from 1ms to 1m`},
		{"a parameter at the greeting", linked("greeting = \"/m\"\n"), "14: main.mute and the greeting share the address /m"},
		{"to follow each band", head + "[follow]\nask = \"/f/{band}\"\n" + mute, `13: address "/f/{band}": there is no {band} here: it is one of channel, mix`},
		{"to follow each channel of each mix", head + "[follow]\nask = \"/f/{channel}/{mix}\"\n" + mute, `13: address "/f/{channel}/{mix}": a request is for a channel or for a mix`},
		{"a bundle too small", linked("bundle = 10\n"), "9: bundle = 10: write how many bytes a bundle may have, 64 to 65507"},
		{"a bundle too large", linked("bundle = 100000\n"), "9: bundle = 100000: write how many bytes a bundle may have, 64 to 65507"},

		// 9. Hands.
		{"a hand with nothing to do", parameterLine(`input.pad = { by-hand = "" }`), `13: by-hand is empty: write what a hand has to do, as "turn the gain knob"`},
		{"a hand where OSC reaches", parameterLine(`input.pad = { by-hand = "press pad", at = "/p/{channel}" }`), "13: at: with by-hand, OSC does not reach it"},
		{"a bank of none", parameterLine(`input.pad = { by-hand = "press pad", bank = 0 }`), "13: bank = 0: write how many channels in a row the switch is for"},
		{"a bank without hand", parameterLine(`input.pad = { at = "/p/{channel}", bank = 8 }`), `13: unknown key "bank"`},

		// 10. What can't be moved.
		{"a fixed kind that isn't", parameterLine(`eq.1.kind = { fixed = "shelf-low" }`), `13: fixed: "shelf-low" is no choice for eq.band.kind: it is one of bell, low-shelf, high-shelf, low-pass, high-pass, notch`},
		{"a fixed frequency that is a text", parameterLine(`lowcut.frequency = { fixed = "80" }`), `13: fixed: "80" is not a number`},
		{"a fixed frequency that is none", parameterLine(`lowcut.frequency = { fixed = 0.0 }`), "13: fixed: 0 Hz can't be meant: expected 5 Hz to 2.0 kHz"},
		{"fixed and yet reached", parameterLine(`lowcut.frequency = { fixed = 80.0, at = "/l/{channel}" }`), "13: at: with fixed, OSC does not reach it"},
		{"a band that isn't", parameterLine(`eq.3.on = { at = "/e/{channel}" }`), "13: channel.eq.3.on: the desk has no band 3, the last is 2"},
		{"absent in any case", parameterLine(`eq.1.q = { absent = true }`), "13: absent = true takes away what would be there without it: there is no channel.eq.1.q"},
		{"absent or not", parameterLine(`eq.1.q = { absent = false }`), "13: absent = false says nothing: leave it out"},
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

func TestWhatIsWrongWithABaseIsToldWhereItStands(t *testing.T) {
	words := strings.Replace(large, "switch = { as = \"word\" }", "switch = { as = \"word\", words = [\"no\", \"yes\"] }\nchoice = { as = \"word\", words = [\"a\", \"b\"] }", 1)
	for _, test := range []struct {
		name, text, want string
	}{
		{"a base that isn't", "name = \"s\"\nbased = \"larger\"", `small.toml:2: based = "larger": there is none such`},
		{"a base that is no text", "name = \"s\"\nbased = 3", `small.toml:2: based: write the name of another profile, as "quay-24"`},
		{"a circle", "name = \"s\"\nbased = \"circle\"", `circle.toml:2: based = "circle": these profiles stand on each other in a circle, or too high`},
		{"a tower", "name = \"s\"\nbased = \"t1\"", `t4.toml:2: based = "t5": these profiles stand on each other in a circle, or too high`},
		{"a base with a fault", "name = \"s\"\nbased = \"faulty\"", "faulty.toml:8: port = 0: a port is a number from 1 to 65535"},
		{"what the base has not", "name = \"s\"\nbased = \"large\"\n[channel]\npan = { absent = true }", "small.toml:4: absent = true takes away what would be there without it: there is no channel.pan"},
		{"nothing left", "name = \"s\"\nbased = \"large\"\nbands = 0\n[channel]\nmute.absent = true\nmain.absent = true\nfader.absent = true",
			"small.toml:2: the desk has no parameter: all are absent, or of places that it has none of"},
		{"an address of the base's", "name = \"s\"\nbased = \"large\"\n[channel]\npan = { at = \"/ch/{channel}/mute\", linear = [-100, 100], steps = 3 }",
			`small.toml:4: channel.1.pan and channel.1.mute (line 2) share the setting /ch/00/mute s "set" s "..."`},
		{"more channels than the base has words for", "name = \"s\"\nbased = \"worded\"\nmixes = 3", "small.toml:2: nothing says how mix 3 is written, the last being 3"},
		{"a choice that the base's words don't fit", "name = \"s\"\nbased = \"words\"\n[channel]\nsend.mix.tap = { at = \"/t/{channel}/{mix}\", choice = [\"pre\", \"post\"] }\ncolour = { at = \"/c/{channel}\", choice = [\"red\", \"blue\", \"white\"] }",
			"words.toml:22: 2 words for the 3 steps of colour"},
		{"a base's places with other messages", "name = \"s\"\nbased = \"large\"\n[ask]\nat = \"/get\"\n[channel]\nmain.absent = true\nfader.absent = true\neq.band.on.absent = true",
			`small.toml:2: address "/ch/{channel}/mute": {channel} is missing, and [ask] says it nowhere else, so that each channel would share one message`},
	} {
		t.Run(test.name, func(t *testing.T) {
			p, err := family(map[string]string{
				"large": large, "words": words,
				"worded": strings.Replace(large, "[numbers]", "[numbers]\nmix = [{ words = [\"A\", \"B\"] }]", 1),
				"faulty": strings.Replace(large, "port = 9000", "port = 0", 1),
				"circle": "name = \"c\"\nbased = \"circle\"",
				"t1":     "name = \"t\"\nbased = \"t2\"", "t2": "name = \"t\"\nbased = \"t3\"", "t3": "name = \"t\"\nbased = \"t4\"", "t4": "name = \"t\"\nbased = \"t5\"",
				"t5": large,
			}).Load("small.toml", []byte(test.text))
			if p != nil {
				t.Error("a profile with a fault was given out")
			}
			if fmt.Sprint(err) != test.want {
				t.Errorf("%v\nnot\n%s", err, test.want)
			}
		})
	}
}
