package profiles_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"deskhand/profiles"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestAPathNamesOneParameter(t *testing.T) {
	for path, want := range map[string]profiles.Parameter{
		"channel.3.eq.2.gain": {Place: profiles.Place{Part: profiles.Channel, Number: 3}, Name: "eq.2.gain"},
		"mix.12.fader":        {Place: profiles.Place{Part: profiles.Mix, Number: 12}, Name: "fader"},
		"main.eq.1.frequency": {Place: profiles.Place{Part: profiles.Main}, Name: "eq.1.frequency"},
		"main.main":           {Place: profiles.Place{Part: profiles.Main}, Name: "main"},
	} {
		got, err := profiles.ParseParameter(path)
		if err != nil || got != want {
			t.Errorf("%s is %v, %v", path, got, err)
		}
		if got.String() != path {
			t.Errorf("%s is written %s", path, got)
		}
	}
	if got := (profiles.Place{Part: profiles.Channel, Number: 3}).Say(); got != "channel 3" {
		t.Errorf("channel 3 is said %q", got)
	}
}

func TestAWrongPathIsRefusedWithTheReason(t *testing.T) {
	for path, want := range map[string]string{
		"":                               `parameter "": it begins with channel.N, mix.N or main: it is one of channel, mix, main`,
		"chanel.3.fader":                 `parameter "chanel.3.fader": it begins with channel.N, mix.N or main: did you mean "channel"?`,
		"desk.who":                       `parameter "desk.who": it begins with channel.N, mix.N or main: it is one of channel, mix, main`,
		"channel.fader":                  `parameter "channel.fader": write a number from 1 after "channel."`,
		"channel.0.fader":                `parameter "channel.0.fader": write a number from 1 after "channel."`,
		"channel.03.fader":               `parameter "channel.03.fader": write a number from 1 after "channel."`,
		"channel.+3.fader":               `parameter "channel.+3.fader": write a number from 1 after "channel."`,
		"mix.99999999999999999999.fader": `parameter "mix.99999999999999999999.fader": write a number from 1 after "mix."`,
		"channel.3":                      `parameter "channel.3": the name after "channel.3" is missing`,
		"channel.3.":                     `parameter "channel.3.": the name after "channel.3" is missing`,
		"main":                           `parameter "main": the name after "main" is missing`,
	} {
		if _, err := profiles.ParseParameter(path); fmt.Sprint(err) != want {
			t.Errorf("%s: %v\nnot %s", path, err, want)
		}
	}
}

func TestReadingAPathNeverFailsOtherwiseThanByItsError(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		path := rapid.StringMatching(`(channel|mix|main|x)?(\.[0-9a-z+-]*){0,4}`).Draw(t, "path")
		if q, err := profiles.ParseParameter(path); err == nil && q.String() != path {
			t.Fatalf("%s is read as %s", path, q)
		}
	})
}

func TestAFamilyIsANameWithItsNumbersAsWords(t *testing.T) {
	for name, want := range map[string]struct {
		family  string
		numbers map[string]int
	}{
		"eq.2.gain":        {"eq.band.gain", map[string]int{"band": 2}},
		"send.12.level":    {"send.mix.level", map[string]int{"mix": 12}},
		"group.4":          {"group.group", map[string]int{"group": 4}},
		"fader":            {"fader", nil},
		"eq.on":            {"eq.on", nil},
		"dynamic.3.width":  {"dynamic.3.width", nil}, // no word of the catalogue
		"eq.02.gain":       {"eq.02.gain", nil},      // not how a number is written
		"eq.0.gain":        {"eq.0.gain", nil},
		"eq.-1.gain":       {"eq.-1.gain", nil},
		"2":                {"2", nil},
		"":                 {"", nil},
		"send.2.eq.3.gain": {"send.mix.eq.band.gain", map[string]int{"mix": 2, "band": 3}},
	} {
		family, numbers := profiles.Family(name)
		if family != want.family || !cmp.Equal(numbers, want.numbers) {
			t.Errorf("%s is of the family %s %v, not %s %v", name, family, numbers, want.family, want.numbers)
		}
	}
}

func TestEveryParameterLeadsBackToItsFamily(t *testing.T) {
	for _, p := range every(t) {
		for _, q := range p.Parameters() {
			c, _ := p.Control(q)
			if family, _ := profiles.Family(q.Name); family != c.Spec.Name {
				t.Errorf("%s is of the family %s, but its control of %s", q, family, c.Spec.Name)
			}
			if parsed, err := profiles.ParseParameter(q.String()); err != nil || parsed != q {
				t.Errorf("%s is read as %s, %v", q, parsed, err)
			}
		}
	}
}

func TestParametersStandInTheOrderInWhichPeopleReadADesk(t *testing.T) {
	p := load(t, strings.Replace(head, "mixes = 2", "mixes = 10", 1)+`
[main]
fader = { at = "/m", linear = [-60, 10], steps = 71 }
[channel]
fader = { at = "/a/{channel}", linear = [-60, 10], steps = 71 }
zeal = { label = "zeal", at = "/z/{channel}" }
eq.band.warmth = { label = "EQ {band} warmth", at = "/b/{channel}/{band}" }
ardour = { label = "ardour", at = "/y/{channel}" }
send.mix.on = { at = "/s/{channel}/{mix}" }
eq.band.q = { at = "/c/{channel}/{band}", log = [0.1, 10], steps = 3 }
eq.on = { at = "/d/{channel}" }
eq.band.on = { at = "/e/{channel}/{band}" }
label = { at = "/l/{channel}", text = 6 }
[mix]
mute = { at = "/n/{mix}" }
`)
	one := []string{
		"label", "eq.on", "eq.1.on", "eq.1.q", "eq.1.warmth", "eq.2.on", "eq.2.q", "eq.2.warmth",
		"send.1.on", "send.2.on", "send.3.on", "send.4.on", "send.5.on", "send.6.on", "send.7.on", "send.8.on", "send.9.on", "send.10.on",
		"fader", "zeal", "ardour", // the desk's own come last, as the profile has them
	}
	var want []string
	for _, place := range []string{"channel.1.", "channel.2."} {
		for _, name := range one {
			want = append(want, place+name)
		}
	}
	for mix := 1; mix <= 10; mix++ {
		want = append(want, fmt.Sprintf("mix.%d.mute", mix))
	}
	want = append(want, "main.fader")
	var got []string
	for _, q := range p.Parameters() {
		got = append(got, q.String())
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff(one, p.Names(profiles.Channel)); diff != "" {
		t.Error(diff)
	}
}

func TestWhatIsAtAPlaceIsAllThatTheDeskHasThere(t *testing.T) {
	p := quay(t)
	want := make(map[profiles.Place][]profiles.Parameter)
	for _, q := range p.Parameters() {
		want[q.Place] = append(want[q.Place], q)
	}
	if len(want) != 24+8+1 {
		t.Errorf("quay-24 has %d places, not 24 channels, 8 mixes and the main mix", len(want))
	}
	for place, all := range want {
		if diff := cmp.Diff(all, p.At(place)); diff != "" {
			t.Errorf("%s: %s", place, diff)
		}
	}
	for _, nowhere := range []profiles.Place{{}, {Part: profiles.Channel}, {Part: profiles.Channel, Number: 25}, {Part: profiles.Mix, Number: -1}, {Part: profiles.Main, Number: 1}} {
		if got := p.At(nowhere); len(got) > 0 {
			t.Errorf("at %s there is %v", nowhere, got)
		}
	}
}

func TestOrderDoesNotDependOnTheOrderOfTheProfile(t *testing.T) {
	lines := []string{
		`fader = { at = "/a/{channel}", linear = [-60, 10], steps = 71 }`,
		`eq.band.q = { at = "/c/{channel}/{band}", log = [0.1, 10], steps = 3 }`,
		`eq.on = { at = "/d/{channel}" }`,
		`eq.band.on = { at = "/e/{channel}/{band}" }`,
		`label = { at = "/l/{channel}", text = 6 }`,
		`group.group = { at = "/g/{channel}/{group}" }`,
	}
	want := load(t, head+"[channel]\n"+strings.Join(lines, "\n")).Parameters()
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20 {
		mixed := slices.Clone(lines)
		rng.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
		if diff := cmp.Diff(want, load(t, head+"[channel]\n"+strings.Join(mixed, "\n")).Parameters()); diff != "" {
			t.Fatal(diff)
		}
	}
}

func TestTheCatalogueCanNotBeChangedFromOutside(t *testing.T) {
	profiles.Catalogue()[0].Name = "changed"
	if got := profiles.Catalogue()[0].Name; got != "label" {
		t.Errorf("the catalogue begins with %s", got)
	}
}

func TestADesksOwnParameterTravelsLikeTheRest(t *testing.T) {
	p := load(t, head+`[channel]
input.warmth = { label = "warmth", unit = "%", class = "loudness", at = "/w/{channel}", linear = [0, 100], steps = 101, start = 50 }
`)
	q := parameter(t, "channel.2.input.warmth")
	c, ok := p.Control(q)
	if !ok {
		t.Fatal("the desk has no warmth")
	}
	if c.Spec.Kind != profiles.Quantity || c.Spec.Class != profiles.Loudness || c.Start != profiles.Number(50) {
		t.Errorf("warmth is %v, %v, from %v", c.Spec.Kind, c.Spec.Class, c.Start)
	}
	if got := c.Spec.Say(profiles.Number(35)); got != "35 %" {
		t.Errorf("said %q", got)
	}
	checkGrid(t, p, q)
}
