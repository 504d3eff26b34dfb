package profiles_test

import (
	"math"
	"testing"
	"time"

	"deskhand/osc"
	"deskhand/profiles"

	"github.com/google/go-cmp/cmp"
)

// heard is a message as it arrives, with these arguments.
func heard(address string, arguments ...any) osc.Heard {
	return osc.Heard{Message: osc.Message{Address: address, Arguments: arguments}}
}

func TestAValueStandsOnTheWireAsTheProfileSays(t *testing.T) {
	p := quay(t)
	for _, test := range []struct {
		path    string
		value   profiles.Value
		address string
		wire    any
		held    profiles.Value
	}{
		{"channel.3.input.gain", profiles.Number(28.5), "/lane/3/front/gain", float32(69.0 / 132), profiles.Number(28.5)},
		{"channel.3.input.gain", profiles.Number(28.7), "/lane/3/front/gain", float32(69.0 / 132), profiles.Number(28.5)},
		{"channel.24.fader", profiles.Silence, "/lane/24/out/level", float32(0), profiles.Silence},
		{"channel.24.fader", profiles.Number(0), "/lane/24/out/level", float32(0.8), profiles.Number(0)},
		{"channel.1.input.phantom", profiles.Switch(true), "/lane/1/front/phantom", int32(1), profiles.Switch(true)},
		{"channel.1.input.invert", profiles.Switch(true), "/lane/1/front/normal", int32(0), profiles.Switch(true)}, // the wrong way round
		{"channel.1.input.invert", profiles.Switch(false), "/lane/1/front/normal", int32(1), profiles.Switch(false)},
		{"channel.1.source", profiles.Number(5), "/lane/1/front/socket", int32(5), profiles.Number(5)},
		{"channel.1.eq.4.kind", profiles.Word("high-shelf"), "/lane/1/shape/4/kind", int32(2), profiles.Word("high-shelf")},
		{"channel.1.send.8.tap", profiles.Word("post"), "/lane/1/toward/8/tap", int32(1), profiles.Word("post")},
		{"mix.8.label", profiles.Word("bell founder's wedge"), "/wharf/8/tag/name", "bell founder", profiles.Word("bell founder")},
		{"main.pan", profiles.Number(0), "", nil, profiles.Value{}}, // quay-24 has none
	} {
		q := parameter(t, test.path)
		messages, held, err := tell(p, profiles.Setting{Parameter: q, Value: test.value})
		if test.address == "" {
			if want := test.path + ": quay-24 has no such parameter, or none that OSC reaches"; err == nil || err.Error() != want {
				t.Errorf("%v, not %s", err, want)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", test.path, err)
			continue
		}
		want := []osc.Message{{Address: test.address, Arguments: []any{test.wire}}}
		if diff := cmp.Diff(want, messages); diff != "" {
			t.Errorf("%s: %s", test.path, diff)
		}
		if held[0] != (profiles.Setting{Parameter: q, Value: test.held}) {
			t.Errorf("%s: the desk would hold %v, not %v", test.path, held[0].Value, test.held)
		}
		if got := p.Address(q); got != test.address {
			t.Errorf("%s is at %s, not %s", test.path, got, test.address)
		}
	}
}

func TestTellRefusesAllWhereItMustRefuseOne(t *testing.T) {
	p := quay(t)
	messages, held, err := tell(p,
		profiles.Setting{Parameter: parameter(t, "channel.1.mute"), Value: profiles.Switch(true)},
		profiles.Setting{Parameter: parameter(t, "channel.1.fader"), Value: profiles.Number(20)},
	)
	want := "channel.1.fader: 20.0 dB is out of the desk's range, -inf dB to 8.0 dB"
	if err == nil || err.Error() != want || messages != nil || held != nil {
		t.Errorf("%v, %v, %v; not %s", messages, held, err, want)
	}
}

func TestADeskMayAnswerWithAnotherTypeThanItTakes(t *testing.T) {
	p := quay(t)
	for _, test := range []struct {
		path     string
		argument any
		want     profiles.Value
	}{
		{"channel.1.fader", float32(0.8), profiles.Number(0)},
		{"channel.1.fader", float64(0.8), profiles.Number(0)},
		{"channel.1.fader", int32(1), profiles.Number(8)},
		{"channel.1.fader", int64(0), profiles.Silence},
		{"channel.1.fader", float32(1.0004), profiles.Number(8)}, // rounds to the last step
		{"channel.1.mute", int32(1), profiles.Switch(true)},
		{"channel.1.mute", float32(1), profiles.Switch(true)},
		{"channel.1.mute", float32(0.4), profiles.Switch(false)},
		{"channel.1.mute", true, profiles.Switch(true)},
		{"channel.1.mute", false, profiles.Switch(false)},
		{"channel.1.input.invert", true, profiles.Switch(false)}, // the wrong way round: 1 is not inverted
		{"channel.1.input.invert", int64(0), profiles.Switch(true)},
		{"channel.1.eq.1.kind", float32(2), profiles.Word("high-shelf")},
		{"channel.1.label", osc.Symbol("pilot"), profiles.Word("pilot")},
	} {
		q := parameter(t, test.path)
		got := p.Hear(overTheWire(t, osc.Message{Address: p.Address(q), Arguments: []any{test.argument}}))
		want := []osc.Report[profiles.Parameter, profiles.Value]{{Key: q, Value: test.want}}
		if diff := cmp.Diff(want, got, cmp.AllowUnexported(profiles.Value{})); diff != "" {
			t.Errorf("%s: %v (%T): %s", test.path, test.argument, test.argument, diff)
		}
	}
}

// A switch between -1 and 1, or 0 and 127, is on at the greater number; so is T.
func TestTrueIsTheGreaterNumberOfASwitch(t *testing.T) {
	p := load(t, head+`[channel]
mute = { at = "/m/{channel}", wire = [0, 127] }
main = { at = "/n/{channel}", wire = [127, 0] }
input.pad = { at = "/p/{channel}", wire = [-1, 1], as = "float" }
`)
	for address, on := range map[string]bool{"/m/1": true, "/n/1": false, "/p/1": true} {
		for _, argument := range []bool{true, false} {
			got := p.Hear(heard(address, argument))
			if len(got) != 1 || got[0].Value != profiles.Switch(on == argument) {
				t.Errorf("%s %v is heard as %v", address, argument, got)
			}
		}
	}
}

func TestWhatNoDeskCouldHoldIsNotBelieved(t *testing.T) {
	p := quay(t)
	fader, mute, kind, label := "/lane/1/out/level", "/lane/1/out/mute", "/lane/1/shape/1/kind", "/lane/1/tag/name"
	for _, h := range []osc.Heard{
		heard(fader, float32(1.1)), heard(fader, float32(-0.1)), heard(fader, int32(math.MaxInt32)), heard(fader, int64(math.MinInt64)),
		heard(fader, math.MaxFloat64), heard(fader, float32(math.NaN())), heard(fader, math.Inf(1)), heard(fader, math.Inf(-1)),
		heard(fader, "0.5"), heard(fader, nil), heard(fader, true), heard(fader, osc.Array{float32(0.5)}), heard(fader, []byte{1}),
		heard(mute, int32(2)), heard(mute, int32(-1)), heard(kind, int32(6)), heard(kind, true), heard(kind, "bell"),
		heard(label, int32(1)), heard(label, []byte("pilot")),
		heard(fader), {Message: osc.Message{Address: fader}, Untyped: true},
		heard("/lane/25/out/level", float32(0)), heard("/lane/0/out/level", float32(0)), heard("/lane/01/out/level", float32(0)),
		heard("/lane/*/out/level", float32(0)), heard("", float32(0)), heard("/quay/keep-telling", int32(1)),
		heard("/quay/model", int32(1)), heard("/quay/model"),
	} {
		if got := p.Hear(h); len(got) != 0 {
			t.Errorf("%s %v is heard as %v", h.Address, h.Arguments, got)
		}
	}
}

func TestADeskClampsWhatIsBeyondItsEnds(t *testing.T) {
	p := quay(t)
	for _, test := range []struct {
		path     string
		argument any
		want     profiles.Value
	}{
		{"channel.1.fader", float32(1.5), profiles.Number(8)},
		{"channel.1.fader", float32(-3), profiles.Silence},
		{"channel.1.fader", int64(math.MaxInt64), profiles.Number(8)},
		{"channel.1.fader", -math.MaxFloat64, profiles.Silence},
		{"channel.1.fader", float32(0.80049), profiles.Number(0)}, // onto its grid
		{"channel.1.mute", int32(7), profiles.Switch(true)},
		{"channel.1.input.invert", int32(7), profiles.Switch(false)},
		{"channel.1.source", int32(0), profiles.Number(1)},
		{"channel.1.eq.1.kind", int32(99), profiles.Word("notch")},
		{"channel.1.label", "the bell founder", profiles.Word("the bell fou")},
		{"channel.1.label", "a\x07b\xffc", profiles.Word("a\uFFFDb\uFFFDc")}, // nothing that upsets a terminal
	} {
		q := parameter(t, test.path)
		got := p.Told(heard(p.Address(q), test.argument))
		if want := (profiles.Setting{Parameter: q, Value: test.want}); len(got) != 1 || got[0] != want {
			t.Errorf("%s: told %v, it takes %v, not %v", test.path, test.argument, got, test.want)
		}
	}
	for _, h := range []osc.Heard{heard("/lane/1/out/level"), heard("/lane/1/out/level", "loud"), heard("/lane/1/out/level", math.NaN()), heard("/nowhere", int32(1))} {
		if got := p.Told(h); len(got) != 0 {
			t.Errorf("%s %v sets %v", h.Address, h.Arguments, got)
		}
	}
}

func TestEveryQuestionIsUnderstoodAtTheDesksEnd(t *testing.T) {
	for _, p := range every(t) {
		missing := make(map[profiles.Parameter]bool)
		for _, q := range p.Parameters() {
			missing[q] = p.Askable(q)
		}
		for _, question := range p.Ask(p.Parameters()) {
			h := overTheWire(t, question.Message)
			if told := p.Told(h); len(told) != 0 {
				t.Errorf("%s: the question %s sets %v", p.Name, h, told)
			}
			answered := answers(t, p, h)
			for _, q := range question.Keys {
				if !answered[q] {
					t.Errorf("%s: the question %s is not answered for %s", p.Name, h, q)
				}
				delete(missing, q)
			}
		}
		for q, askable := range missing {
			if askable {
				t.Errorf("%s: there is no question about %s", p.Name, q)
			}
		}
		who := p.AskWho()
		if len(who.Keys) == 0 {
			continue // it can only be told
		}
		h := overTheWire(t, who.Message)
		if diff := cmp.Diff(who.Keys, p.Asked(h)); diff != "" {
			t.Errorf("%s: %s", p.Name, diff)
		}
		if told := p.Told(h); len(told) != 0 {
			t.Errorf("%s: to ask who it is sets %v", p.Name, told)
		}
	}
}

// answers gives the parameters that a desk answers a question with, all as they are
// when it is switched on.
func answers(t tb, p *profiles.Profile, question osc.Heard) map[profiles.Parameter]bool {
	t.Helper()
	answered := make(map[profiles.Parameter]bool)
	for _, q := range p.Asked(question) {
		answer, err := p.Answer(q, func(q profiles.Parameter) (profiles.Value, bool) {
			c, ok := p.Control(q)
			return c.Start, ok
		})
		if err != nil {
			t.Fatalf("%s: %v", q, err)
		}
		for _, r := range p.Hear(overTheWire(t, answer)) {
			answered[r.Key] = true
		}
	}
	return answered
}

func TestParametersThatTheDeskDoesNotHaveAreNotAskedAbout(t *testing.T) {
	got := quay(t).Ask([]profiles.Parameter{parameter(t, "main.pan"), parameter(t, "channel.2.pan"), profiles.Who})
	if len(got) != 1 || got[0].Message.Address != "/lane/2/out/side" {
		t.Errorf("asked %v", got)
	}
}

func TestADeskSaysWhoItIs(t *testing.T) {
	p := load(t, head+"answer = \"/i-am\"\n[main]\nmute = { at = \"/m\" }")
	if got := p.Asked(overTheWire(t, p.AskWho().Message)); len(got) != 1 || got[0] != profiles.Who {
		t.Errorf("asked about %v", got)
	}
	answer, err := p.Answer(profiles.Who, holding(profiles.Setting{Parameter: profiles.Who, Value: profiles.Word(p.Says())}))
	if err != nil || answer.Address != "/i-am" {
		t.Fatalf("%v, %v", answer, err)
	}
	got := p.Hear(overTheWire(t, answer))
	if len(got) != 1 || got[0].Key != profiles.Who || got[0].Value != profiles.Word("small") {
		t.Errorf("heard %v", got)
	}
	// Another desk's word reaches a terminal without its control characters.
	got = p.Hear(heard("/i-am", "not\x1b[31m small"))
	if len(got) != 1 || got[0].Value != profiles.Word("not\uFFFD[31m small") {
		t.Errorf("heard %v", got)
	}
}

func TestFollowingIsAskedForWhereTheDeskHasIt(t *testing.T) {
	p := quay(t)
	requests, lapses := p.AskToFollow()
	if len(requests) != 1 || lapses != 8*time.Second {
		t.Fatalf("quay-24 can't be followed: %v, %v", requests, lapses)
	}
	if place, d, asked := p.AskedToFollow(overTheWire(t, requests[0])); !asked || d != lapses || place != (profiles.Place{}) {
		t.Errorf("the request is taken as %v, %v, %v", place, d, asked)
	}
	if _, _, asked := p.AskedToFollow(heard("/lane/1/out/level")); asked {
		t.Error("a question is taken as a request to follow")
	}
	without := load(t, head+"[main]\nmute = { at = \"/m\" }")
	if requests, _ := without.AskToFollow(); len(requests) > 0 {
		t.Error("a desk without [follow] can be followed")
	}
	if _, _, asked := without.AskedToFollow(heard("")); asked {
		t.Error("a desk without [follow] takes an empty address as the request")
	}
}

func TestTheAddressOfADeskIsCompletedWithItsPort(t *testing.T) {
	p := quay(t)
	for address, want := range map[string]string{
		"192.168.1.20":      "192.168.1.20:47024",
		"192.168.1.20:9000": "192.168.1.20:9000",
		"desk.local":        "desk.local:47024",
		"[::1]":             "[::1]:47024",
		"::1":               "[::1]:47024",
		"[::1]:9000":        "[::1]:9000",
		"":                  "",
		"desk:":             "",
		"desk:0":            "",
		"desk:port":         "",
		":9000":             "",
		"http://desk/":      "",
	} {
		got, err := p.AddressOf(address)
		if got != want || (err == nil) != (want != "") {
			t.Errorf("%q becomes %q, %v, not %q", address, got, err, want)
		}
	}
}
