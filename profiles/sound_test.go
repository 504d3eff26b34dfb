package profiles_test

import (
	"errors"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/source"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

const oneMute = "[channel]\nmute = { at = \"/{channel}/mute\" }\n"

func TestAProfileSaysHowItsDeskWorksOutItsSound(t *testing.T) {
	level := func(dBu float64) *float64 { return &dBu }
	for _, c := range []struct {
		name, says string
		want       profiles.Sound
	}{
		{"nothing", "", profiles.Sound{Rate: 48000, PanLaw: 3}},
		{"an empty table", "[sound]\n", profiles.Sound{Rate: 48000, PanLaw: 3}},
		{"all", "[sound]\nrate = 96000\nbells = \"narrow\"\npan-law = 4.5\nfull-scale = 24\n",
			profiles.Sound{Rate: 96000, BellsNarrow: true, PanLaw: 4.5, FullScale: level(24)}},
		{"what is usual", "[sound]\nrate = 48000.0\nbells = \"keep\"\npan-law = 3\n", profiles.Sound{Rate: 48000, PanLaw: 3}},
		{"the least", "[sound]\nrate = 8000\npan-law = 0.0\nfull-scale = -40.0\n", profiles.Sound{Rate: 8000, FullScale: level(-40)}},
		{"the most", "[sound]\nrate = 400000\npan-law = 12\nfull-scale = 60\n", profiles.Sound{Rate: 400000, PanLaw: 12, FullScale: level(60)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, load(t, head+c.says+oneMute).Sound); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestWhatAProfileSaysOfSoundIsTakenOverKeyByKey(t *testing.T) {
	texts := map[string]string{
		"low": head + "[sound]\nrate = 96000\nbells = \"narrow\"\npan-law = 4.5\nfull-scale = 24\n" + oneMute,
		"mid": "name = \"mid\"\nbased = \"low\"\n[sound]\npan-law = 6\nfull-scale = 18\n",
		"top": "name = \"top\"\nbased = \"mid\"\n[sound]\nbells = \"keep\"\n",
	}
	library := profiles.Library(func(name string) (string, []byte, error) { return name + ".toml", []byte(texts[name]), nil })
	full := 18.0
	for _, c := range []struct {
		name string
		want profiles.Sound
	}{
		{"mid", profiles.Sound{Rate: 96000, BellsNarrow: true, PanLaw: 6, FullScale: &full}},
		{"top", profiles.Sound{Rate: 96000, PanLaw: 6, FullScale: &full}},
	} {
		p, err := library.Load(c.name+".toml", []byte(texts[c.name]))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, p.Sound); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
}

func TestAFaultInWhatIsSaidOfSoundHasItsLineAndTheNearestWord(t *testing.T) {
	for says, want := range map[string]string{
		"rate = 44.1":       "small.toml:13: rate = 44.1: write the sample rate of its EQ in Hz, 8000 to 400000",
		"rate = 400001":     "small.toml:13: rate = 400001: write the sample rate of its EQ in Hz, 8000 to 400000",
		"rate = nan":        "small.toml:13: \"rate\" should be a number, but it is nan",
		"rate = \"48k\"":    "small.toml:13: \"rate\" should be a number, but it is the text \"48k\"",
		"pan-law = -3.0":    "small.toml:13: pan-law = -3: write how many dB the centre is below a side, 0 to 12",
		"full-scale = 61":   "small.toml:13: full-scale = 61: write the level in dBu that fills the converter at a gain of 0 dB, -40 to 60",
		"bells = \"narow\"": "small.toml:13: bells = \"narow\": there is none such: did you mean \"narrow\"?",
		"bells = \"\"":      "small.toml:13: bells = \"\": there is none such: it is one of keep, narrow",
		"panlaw = 3.0":      "small.toml:13: unknown key \"panlaw\": did you mean \"pan-law\"?",
		"fullscale = 20":    "small.toml:13: unknown key \"fullscale\": did you mean \"full-scale\"?",
	} {
		_, err := profiles.Load("small.toml", []byte(head+"[sound]\n"+says+"\n"+oneMute))
		var faults source.Faults
		if !errors.As(err, &faults) || len(faults) != 1 || faults[0].Error() != want {
			t.Errorf("%s: %v\nnot %s", says, err, want)
		}
	}
}

func TestTheShippedDesksWorkOutTheirSoundInDifferentWays(t *testing.T) {
	level := func(dBu float64) *float64 { return &dBu }
	want := map[string]profiles.Sound{
		"quay-24":  {Rate: 48000, PanLaw: 3, FullScale: level(22)},
		"skiff-12": {Rate: 48000, PanLaw: 3, FullScale: level(18)},
		"barge-48": {Rate: 96000, BellsNarrow: true, PanLaw: 4.5, FullScale: level(24)},
		"punt-16":  {Rate: 48000, PanLaw: 3, FullScale: level(20)},
		"raft-8":   {Rate: 44100, PanLaw: 3},
	}
	got := make(map[string]profiles.Sound)
	for _, p := range every(t) {
		got[p.Name] = p.Sound
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestASoundWithinItsBoundsIsReadAsItIsWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.Float64Range(8000, 400_000).Draw(t, "rate")
		law := rapid.Float64Range(0, 12).Draw(t, "pan law")
		full := rapid.Float64Range(-40, 60).Draw(t, "full scale")
		p := load(t, head+"[sound]\nrate = "+source.FormatNumber(rate)+"\npan-law = "+source.FormatNumber(law)+
			"\nfull-scale = "+source.FormatNumber(full)+"\n"+oneMute)
		if p.Sound.Rate != rate || p.Sound.PanLaw != law || p.Sound.FullScale == nil || *p.Sound.FullScale != full {
			t.Fatalf("%+v", p.Sound)
		}
	})
}
