package profiles_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"deskhand/osc"
	"deskhand/profiles"

	"github.com/google/go-cmp/cmp"
)

// The fader here runs from -60 to 0 dB in 61 steps of 1 dB; step 0 of another is silence.
func TestAValueHasTheFormThatTheProfileSays(t *testing.T) {
	const steps = `linear = [-60.0, 0.0], steps = 61`
	const silent = `linear = [-60.0, 0.0], steps = 62, silence = true`
	number := profiles.Number
	for _, test := range []struct {
		line  string
		value profiles.Value
		want  any
	}{
		{`fader = { at = "/f/{channel}", ` + steps + ` }`, number(-30), float32(0.5)},
		{`fader = { at = "/f/{channel}", ` + steps + `, as = "double" }`, number(-45), float64(0.25)},
		{`fader = { at = "/f/{channel}", ` + steps + `, as = "int" }`, number(-30), int32(30)}, // its steps
		{`fader = { at = "/f/{channel}", ` + steps + `, as = "long", wire = [0, 1023] }`, number(0), int64(1023)},
		{`fader = { at = "/f/{channel}", ` + steps + `, as = "int", wire = [0, 127] }`, number(-59), int32(2)}, // 127/60 = 2.12
		{`fader = { at = "/f/{channel}", ` + steps + `, as = "int", wire = [0, 1023] }`, number(-59), int32(17)},
		{`fader = { at = "/f/{channel}", ` + steps + `, wire = "unit" }`, number(-6), float32(-6)},
		{`fader = { at = "/f/{channel}", ` + steps + `, as = "int", wire = "unit" }`, number(-6), int32(-6)},
		{`fader = { at = "/f/{channel}", ` + silent + `, wire = "unit", silent = -144.0 }`, profiles.Silence, float32(-144)},
		{`fader = { at = "/f/{channel}", ` + silent + `, wire = "unit", silent = -144.0 }`, number(-60), float32(-60)},
		{`fader = { at = "/f/{channel}", ` + silent + `, as = "text", write = "{} dB", silent = "off" }`, number(-6), "-6.0 dB"},
		{`fader = { at = "/f/{channel}", ` + silent + `, as = "text", write = "{} dB", silent = "off" }`, profiles.Silence, "off"},
		{`fader = { at = "/f/{channel}", ` + steps + `, as = "text", decimals = 0 }`, number(-6), "-6"},
		{`send.1.tap = { at = "/t/{channel}", choice = ["pre", "post"] }`, profiles.Word("post"), int32(1)},
		{`send.1.tap = { at = "/t/{channel}", choice = ["pre", "post"], wire = [5, 6] }`, profiles.Word("post"), int32(6)},
		{`send.1.tap = { at = "/t/{channel}", choice = ["pre", "post"], as = "word" }`, profiles.Word("post"), "post"},
		{`send.1.tap = { at = "/t/{channel}", choice = ["pre", "post"], as = "word", words = ["BEFORE", "AFTER"] }`, profiles.Word("post"), "AFTER"},
		{`mute = { at = "/m/{channel}" }`, profiles.Switch(true), int32(1)},
		{`mute = { at = "/m/{channel}", wire = [1, 0] }`, profiles.Switch(true), int32(0)},
		{`mute = { at = "/m/{channel}", as = "float" }`, profiles.Switch(true), float32(1)},
		{`mute = { at = "/m/{channel}", as = "switch" }`, profiles.Switch(true), true},
		{`mute = { at = "/m/{channel}", as = "switch", wire = [1, 0] }`, profiles.Switch(true), false},
		{`mute = { at = "/m/{channel}", as = "word", words = ["open", "shut"] }`, profiles.Switch(true), "shut"},
		{`mute = { at = "/m/{channel}", as = "word" }`, profiles.Switch(false), "off"},
	} {
		name, _, _ := strings.Cut(test.line, " ")
		t.Run(test.line, func(t *testing.T) {
			p := load(t, parameterLine(test.line))
			q := parameter(t, "channel.1."+name)
			mustTell(t, p, q.String(), test.value, msg(p.Address(q), test.want))
			mustHear(t, p, overTheWire(t, msg(p.Address(q), test.want)), q.String(), test.value)
		})
	}
}

func TestWhatIsSaidOfAllValuesOfAKindHoldsUnlessOneSaysOtherwise(t *testing.T) {
	p := load(t, head+`[values]
number = { as = "text", write = "{} dB", silent = "off" }
switch = { as = "word", words = ["no", "yes"] }
[channel]
mute = { at = "/m/{channel}" }
main = { at = "/n/{channel}", as = "switch" }
fader = { at = "/f/{channel}", linear = [-60.0, 0.0], steps = 62, silence = true }
pan = { at = "/p/{channel}", linear = [-100, 100], steps = 201, write = "{}", decimals = 0 }
`)
	mustTell(t, p, "channel.1.mute", profiles.Switch(true), msg("/m/1", "yes"))
	mustTell(t, p, "channel.1.main", profiles.Switch(true), msg("/n/1", true))
	mustTell(t, p, "channel.1.fader", profiles.Silence, msg("/f/1", "off"))
	mustTell(t, p, "channel.1.pan", profiles.Number(-30), msg("/p/1", "-30"))
}

func TestADeskMayAnswerInAnotherFormThanItIsTold(t *testing.T) {
	const rest = ` linear = [-60.0, 0.0], steps = 62, silence = true`
	for _, test := range []struct {
		line     string
		argument any
		want     profiles.Value // none for what is not believed
	}{
		{`wire = "unit", silent = -144.0,`, int32(-6), profiles.Number(-6)},
		{`wire = "unit", silent = -144.0,`, float64(-6.2), profiles.Number(-6)},
		{`wire = "unit", silent = -144.0,`, float32(-200), profiles.Silence},
		{`wire = "unit", silent = -144.0,`, math.Inf(-1), profiles.Silence},
		{`wire = "unit", silent = -144.0,`, float32(0.4), profiles.Number(0)}, // rounds to the end
		{`wire = "unit", silent = -144.0,`, float32(0.6), profiles.Value{}},
		{`wire = "unit", silent = -144.0,`, math.Inf(1), profiles.Value{}},
		{`wire = "unit", silent = -144.0,`, math.NaN(), profiles.Value{}},
		{`wire = "unit", silent = -144.0,`, "-6", profiles.Value{}},
		{`as = "text", write = "{} dB", silent = "off",`, "-6dB", profiles.Number(-6)},
		{`as = "text", write = "{} dB", silent = "off",`, " -6.00 dB ", profiles.Number(-6)},
		{`as = "text", write = "{} dB", silent = "off",`, osc.Symbol("off"), profiles.Silence},
		{`as = "text", write = "{} dB", silent = "off",`, "-inf dB", profiles.Silence},
		{`as = "text", write = "{} dB", silent = "off",`, "nan dB", profiles.Value{}},
		{`as = "text", write = "{} dB", silent = "off",`, "1e99 dB", profiles.Value{}},
		{`as = "text", write = "{} dB", silent = "off",`, "loud", profiles.Value{}},
		{`as = "text", write = "{} dB", silent = "off",`, float32(-6), profiles.Value{}},
	} {
		p := load(t, parameterLine(`fader = { at = "/f/{channel}", `+test.line+rest+` }`))
		if got := p.Hear(heard("/f/1", test.argument)); test.want.IsZero() {
			if len(got) != 0 {
				t.Errorf("%s %v is heard as %v", test.line, test.argument, got)
			}
		} else if len(got) != 1 || got[0].Value != test.want {
			t.Errorf("%s %v is heard as %v, not %v", test.line, test.argument, got, test.want)
		}
	}
}

func TestALinkIsAsTheProfileSays(t *testing.T) {
	p := load(t, strings.Replace(head, "port = 9000\n", `port = 9000
over = "tcp-slip"
greeting = "/hello"
alive = "/alive"
alive-every = "3s"
bundle = 1200
`, 1)+"[follow]\nask = \"/follow/{channel}\"\nlapses = \"4s\"\n[channel]\nmute = { at = \"/m/{channel}\" }")
	link := p.Link
	if link.Over != profiles.OverSlip || link.Greeting.Address != "/hello" || link.Alive.Address != "/alive" || link.AliveEvery != 3*time.Second || link.Bundle != 1200 {
		t.Errorf("%+v", link)
	}
	if !p.Greeted(heard("/hello")) || p.Greeted(heard("/alive")) || !p.KeptAlive(heard("/alive")) || p.KeptAlive(heard("")) {
		t.Error("the greeting and the rest are not told apart")
	}
	requests, lapses := p.AskToFollow()
	if diff := cmp.Diff([]osc.Message{{Address: "/follow/1"}, {Address: "/follow/2"}}, requests); diff != "" || lapses != 4*time.Second {
		t.Errorf("%v %s", lapses, diff)
	}
	place, _, asked := p.AskedToFollow(heard("/follow/2"))
	if want := (profiles.Place{Part: profiles.Channel, Number: 2}); !asked || place != want {
		t.Errorf("asked to follow %v, %v", place, asked)
	}
	for over, want := range map[string]profiles.Over{"udp": profiles.OverUDP, "tcp-sizes": profiles.OverSizes} {
		p := load(t, strings.Replace(head, "port = 9000", "port = 9000\nover = \""+over+"\"", 1)+"[main]\nmute = { at = \"/m\" }")
		if p.Link.Over != want || p.Link.Over.String() != over || p.Link.Bundle != 0 || p.Greeted(heard("")) {
			t.Errorf("%s: %+v", over, p.Link)
		}
	}
}

// A desk that takes bundles is told several things in one packet, and takes each.
func TestABundleOfSettingsIsTakenApartAtTheDesksEnd(t *testing.T) {
	p := load(t, strings.Replace(head, "port = 9000", "port = 9000\nbundle = 64", 1)+"[channel]\nmute = { at = \"/m/{channel}\" }")
	messages, held, err := tell(p,
		profiles.Setting{Parameter: parameter(t, "channel.1.mute"), Value: profiles.Switch(true)},
		profiles.Setting{Parameter: parameter(t, "channel.2.mute"), Value: profiles.Switch(true)})
	if err != nil {
		t.Fatal(err)
	}
	packet, err := osc.EncodeBundle(messages...)
	if err != nil || len(packet) != 56 { // 16 of the bundle, and twice 4 of the size, 8 + 4 + 4 of the message
		t.Fatalf("%d bytes, %v", len(packet), err)
	}
	all, err := osc.Decode(packet)
	if err != nil || len(all) != 2 {
		t.Fatalf("%v, %v", all, err)
	}
	for i, h := range all {
		if told := p.Told(h); len(told) != 1 || told[0] != held[i] {
			t.Errorf("%s sets %v", h, told)
		}
	}
}

func TestWhatOSCDoesNotReachIsForAHand(t *testing.T) {
	p := load(t, head+`[channel]
input.gain = { by-hand = "turn the gain knob", linear = [0.0, 50.0], steps = 11 }
input.phantom = { by-hand = "press the phantom switch", bank = 2, settle = "1s" }
mute = { at = "/m/{channel}" }
`)
	gain, _ := p.Control(parameter(t, "channel.2.input.gain"))
	if gain.Hand != "turn the gain knob" || gain.Bank != 1 || gain.Reach() != profiles.ByHand {
		t.Errorf("%+v", gain)
	}
	if v, err := gain.Nearest(profiles.Number(33)); err != nil || v != profiles.Number(35) { // coarse steps of 5 dB
		t.Errorf("33 dB becomes %v, %v", v, err)
	}
	phantom, _ := p.Control(parameter(t, "channel.1.input.phantom"))
	if phantom.Bank != 2 || phantom.Settle != time.Second || phantom.Reach() != profiles.ByHand {
		t.Errorf("%+v", phantom)
	}
	if mute, _ := p.Control(parameter(t, "channel.1.mute")); mute.Reach() != profiles.OverOSC || mute.Bank != 1 {
		t.Errorf("%+v", mute)
	}
	_, _, err := tell(p, profiles.Setting{Parameter: parameter(t, "channel.2.input.gain"), Value: profiles.Number(30)})
	if want := "channel.2.input.gain: small has no such parameter, or none that OSC reaches"; fmt.Sprint(err) != want {
		t.Errorf("%v", err)
	}
	if p.Askable(parameter(t, "channel.2.input.gain")) || p.Address(parameter(t, "channel.2.input.gain")) != "" {
		t.Error("a gain knob is reached over OSC")
	}
	mustAsk(t, p, []osc.Message{{Address: "/m/1"}}, "channel.1.mute")
}

func TestWhatIsFixedIsThereAndCantBeMoved(t *testing.T) {
	p := load(t, head+`[channel]
lowcut.on = { at = "/l/{channel}" }
lowcut.frequency = { fixed = 113.0 }
eq.band.kind = { at = "/k/{channel}/{band}", choice = ["bell", "notch"] }
eq.1.kind = { fixed = "low-shelf" }
eq.band.q = { at = "/q/{channel}/{band}", log = [0.5, 8.0], steps = 5 }
eq.1.q = { absent = true }
input.gain = { at = "/g/{channel}", linear = [0.0, 60.0], steps = 4 }
own = { label = "own", unit = "Hz", fixed = 50 }
`)
	corner, _ := p.Control(parameter(t, "channel.1.lowcut.frequency"))
	if v, err := corner.Nearest(profiles.Number(80)); err != nil || v != profiles.Number(113) || corner.Tidy(profiles.Number(80)) != v || corner.Start != v {
		t.Errorf("80 Hz becomes %v, %v", v, err)
	}
	kind, _ := p.Control(parameter(t, "channel.2.eq.1.kind"))
	if _, err := kind.Nearest(profiles.Word("low-shelf")); err != nil || kind.Reach() != profiles.Fixed {
		t.Error(err)
	}
	_, err := kind.Nearest(profiles.Word("bell"))
	if want := `"bell" can't be had: on this desk it is always "low-shelf"`; fmt.Sprint(err) != want {
		t.Errorf("%v, not %s", err, want)
	}
	mustTell(t, p, "channel.2.eq.2.kind", profiles.Word("notch"), msg("/k/2/2", int32(1)))
	if _, ok := p.Control(parameter(t, "channel.1.eq.1.q")); ok {
		t.Error("band 1 has a Q")
	}
	mustTell(t, p, "channel.1.eq.2.q", profiles.Number(2), msg("/q/1/2", float32(0.5)))
	gain, _ := p.Control(parameter(t, "channel.1.input.gain"))
	if v, err := gain.Nearest(profiles.Number(29)); err != nil || v != profiles.Number(20) { // steps of 20 dB
		t.Errorf("29 dB becomes %v, %v", v, err)
	}
	if own, ok := p.Control(parameter(t, "channel.1.own")); !ok || own.Start != profiles.Number(50) {
		t.Errorf("%+v", own)
	}
}

// One band may be said otherwise than all, with its number in the address or not.
func TestWhatIsSaidOfOneBandComesBeforeWhatIsSaidOfAll(t *testing.T) {
	p := load(t, head+`[tell]
arguments = ["{place}", "{value}"]
[ask]
arguments = ["{place}"]
[channel]
eq.2.gain = { at = "/gain", linear = [-6.0, 6.0], steps = 13, wire = "unit" }
eq.band.gain = { at = "/gain", linear = [-12.0, 12.0], steps = 25, wire = "unit" }
[main]
eq.2.gain = { at = "/main/{band}/gain", linear = [-6.0, 6.0], steps = 13, wire = "unit" }
`)
	mustTell(t, p, "channel.1.eq.1.gain", profiles.Number(12), msg("/gain", int32(1), int32(1), float32(12)))
	mustTell(t, p, "channel.1.eq.2.gain", profiles.Number(6), msg("/gain", int32(1), int32(2), float32(6)))
	mustTell(t, p, "main.eq.2.gain", profiles.Number(6), msg("/main/2/gain", float32(6)))
	if _, _, err := tell(p, profiles.Setting{Parameter: parameter(t, "channel.1.eq.2.gain"), Value: profiles.Number(12)}); err == nil {
		t.Error("band 2 takes 12 dB")
	}
}

// family is a library of profiles that are based on each other.
func family(texts map[string]string) profiles.Library {
	return func(name string) (string, []byte, error) {
		text, ok := texts[name]
		if !ok {
			return "", nil, errors.New("there is none such")
		}
		return name + ".toml", []byte(text), nil
	}
}

const large = head + `[follow]
ask = "/follow/{channel}"
[numbers]
channel = [{ first = 0, digits = 2 }]
[tell]
arguments = ["set", "{value}"]
[answer]
at = "{at}/is"
[values]
switch = { as = "word" }
[curves]
level = { linear = [-60.0, 0.0], steps = 61 }
[channel]
mute = { at = "/ch/{channel}/mute" }
main = { at = "/ch/{channel}/main" }
fader = { at = "/ch/{channel}/level", curve = "level" }
eq.band.on = { at = "/ch/{channel}/eq/{band}" }
`

func TestASmallerDeskOfAFamilySaysOnlyWhatDiffers(t *testing.T) {
	p, err := family(map[string]string{"large": large}).Load("small.toml", []byte(`name = "smaller"
based = "large"
channels = 1
[identity]
says = "smaller"
[channel]
main = { absent = true }
fader = { at = "/ch/{channel}/fader", curve = "level" }
`))
	if err != nil {
		t.Fatal(err)
	}
	mustTell(t, p, "channel.1.mute", profiles.Switch(true), msg("/ch/00/mute", "set", "on"))
	mustTell(t, p, "channel.1.fader", profiles.Number(-30), msg("/ch/00/fader", "set", float32(0.5)))
	mustTell(t, p, "channel.1.eq.2.on", profiles.Switch(false), msg("/ch/00/eq/2", "set", "off"))
	mustHear(t, p, heard("/ch/00/mute/is", "set", "on"), "channel.1.mute", profiles.Switch(true))
	for _, path := range []string{"channel.1.main", "channel.2.mute"} {
		if _, ok := p.Control(parameter(t, path)); ok {
			t.Errorf("the smaller desk has %s", path)
		}
	}
	requests, _ := p.AskToFollow()
	if diff := cmp.Diff([]osc.Message{{Address: "/follow/00"}}, requests); diff != "" {
		t.Error(diff)
	}
	if p.Says() != "smaller" || p.AskWho().Message.Address != "/who" || p.Link.Port != 9000 || p.File != "small.toml" {
		t.Errorf("%q, %v, %+v", p.Says(), p.AskWho(), p.Link)
	}
}

// What answers look like goes with what settings look like only as far as the base does
// not say otherwise.
func TestABasedProfileThatIsToldOtherwiseAnswersWhereItsBaseDoes(t *testing.T) {
	p, err := family(map[string]string{"large": large}).Load("small.toml", []byte("name = \"smaller\"\nbased = \"large\"\n[tell]\narguments = [\"{value}\", \"!\"]"))
	if err != nil {
		t.Fatal(err)
	}
	mustTell(t, p, "channel.1.mute", profiles.Switch(true), msg("/ch/00/mute", "on", "!"))
	mustHear(t, p, heard("/ch/00/mute/is", "on", "!"), "channel.1.mute", profiles.Switch(true))
}
