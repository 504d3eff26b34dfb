package scenes_test

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"deskhand/scenes"
	"deskhand/testdata"

	"github.com/google/go-cmp/cmp"
)

func TestTheExampleBookIsWithoutFaultOrWarning(t *testing.T) {
	b, err := scenes.OpenFS(testdata.Book(), "")
	if err != nil {
		t.Fatal(err)
	}
	report := b.Check(nil)
	if len(report.Faults)+len(report.Warnings) > 0 {
		t.Errorf("faults %v\nwarnings %v", report.Faults, report.Warnings)
	}
	if report.Files != 10 { // book.toml, two venues, four performers, two scenes, a running order
		t.Errorf("%d files", report.Files)
	}
}

func TestAFaultIsToldOnceHoweverManyFilesMeetIt(t *testing.T) {
	b := bookOf(t, files{"performers/poet.toml": "[strip]\nfadr = 0\n", "scenes/x.toml": plainScene + "[positions.lectern]\nperformer = \"poet\"\n"})
	want := []string{`performers/poet.toml:2: unknown setting "fadr": did you mean "fader"?`}
	if diff := cmp.Diff(want, texts(b.Check(nil).Faults)); diff != "" {
		t.Error(diff)
	}
}

func TestCheckFindsTheSameHoweverManyProcessorsThereAre(t *testing.T) {
	const performers = 400
	dir := t.TempDir()
	if err := testdata.WriteLarge(dir, performers); err != nil {
		t.Fatal(err)
	}
	for n := 0; n < performers; n += 25 { // every other one is in a scene, too
		if err := os.WriteFile(filepath.Join(dir, "performers", testdata.LargeName(n)+".toml"), []byte("[strip]\nfadr = 0\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	b, err := scenes.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	check := func(processors int) *scenes.Report {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(processors))
		return b.Check(nil)
	}
	alone, together := check(1), check(4)
	if diff := cmp.Diff(texts(alone.Faults), texts(together.Faults)); diff != "" || len(alone.Faults) != performers/25 {
		t.Errorf("%d faults, %s", len(alone.Faults), diff)
	}
	if diff := cmp.Diff(texts(alone.Warnings), texts(together.Warnings)); diff != "" {
		t.Error(diff)
	}
	if alone.Files != together.Files || alone.Files != 10+performers+performers/10 {
		t.Errorf("%d files, %d files", alone.Files, together.Files)
	}
}

func TestOneFileMayBeCheckedAlone(t *testing.T) {
	b := bookOf(t, files{"performers/x.toml": "titel = \"\"\n", "performers/y.toml": "titel = \"\"\n"})
	report := b.Check([]scenes.Named{{Kind: scenes.Performers, Name: "y"}})
	if diff := cmp.Diff([]string{`performers/y.toml:1: unknown key "titel": did you mean "title"?`}, texts(report.Faults)); diff != "" || report.Files != 1 {
		t.Errorf("%d files, %s", report.Files, diff)
	}
}

func TestWhatCheckFindsBetweenFiles(t *testing.T) {
	wide := "[strip]\n" + bell(1, 100) + bell(2, 200) + bell(3, 300)
	for _, c := range []struct {
		name             string
		files            files
		faults, warnings []string
	}{
		{"a usual venue that isn't there", files{"book.toml": "venue = \"netloft\"\n"},
			[]string{`book.toml:1: there is no venue "netloft" in the book: did you mean "net-loft"?`}, nil},
		{"a performer at a venue that isn't there", files{"performers/x.toml": "[at.netloft.strip]\nfader = 0\n"},
			[]string{`performers/x.toml:1: there is no venue "netloft" in the book: did you mean "net-loft"?`}, nil},
		{"a gain that can't be carried over", files{"performers/x.toml": "[strip]\ninput.gain = 30\n"}, nil,
			[]string{"performers/x.toml:2: the gain can't be carried over to another microphone: write [dialled-in] with sensitivity and distance"}},
		{"a dialling-in without a gain", files{"performers/x.toml": "[dialled-in]\nsensitivity = -38\ndistance = 0.3\n[strip]\nfader = 0\n"}, nil,
			[]string{"performers/x.toml:1: this says how a gain was dialled in, but the strip beside it has no input.gain"}},
		{"a value that no desk of the book takes", files{"performers/x.toml": "[strip]\nfader = 9\n"},
			[]string{"performers/x.toml:2: fader: 9.0 dB is out of the desk's range, -inf dB to 8.0 dB"}, nil},
		{"a value that one desk doesn't take", files{"performers/x.toml": "[strip]\nfader = 7\n", "profiles/hut-8.toml": hut, "venues/hut.toml": hutVenue}, nil,
			[]string{"performers/x.toml:2: fader: 7.0 dB is out of the desk's range, -60.0 dB to 6.0 dB (at hut)"}},
		{"a gain beyond the desk that fits when carried over", files{"performers/x.toml": "[dialled-in]\nsensitivity = -70\ndistance = 0.3\n[strip]\ninput.gain = 80\n"}, nil, nil},
		{"a band without what it needs", files{"performers/x.toml": "[strip]\neq.1.frequency = 100\neq.1.gain = 3\n"},
			[]string{"performers/x.toml:2: EQ 1 has no q: a bell needs one"}, nil},
		{"more bands than one room leaves, but near enough", files{"performers/x.toml": wide + bell(4, 400) + "[at.net-loft]\n"}, nil, nil},
		{"a room that the desk can't do", files{"venues/x.toml": plainVenue + "[positions.stool]\nchannel = 1\nstrip.lowcut.slope = 48\n"},
			[]string{"venues/x.toml:6: lowcut.slope: 48 dB/octave is out of the desk's range, 6 dB/octave to 24 dB/octave"}, nil},
		{"a scene's rough distances", files{"performers/x.toml": "[dialled-in]\nsensitivity = -54\ndistance = 0.05\n[strip]\ninput.gain = 26\n", "scenes/x.toml": plainScene + "[positions.lectern]\nperformer = \"x\"\n"}, nil,
			[]string{"performers/x.toml:5: the gain carried over is a rough guide only: the distances, 0.05 m and 0.4 m, are more than a factor of 4 apart"}},
		{"a folder with a slip in its name", files{"performer/x.toml": ""}, nil,
			[]string{`performer: nothing reads this folder: did you mean "performers"?`}},
		{"a file beside its folder", files{"poet.toml": ""}, nil,
			[]string{"poet.toml: nothing reads this file here: it belongs into profiles, venues, performers, scenes, running-orders, readings or out of the book"}},
		{"a file with a name that nothing could refer to", files{"performers/a:b.toml": ""},
			[]string{`performers: "a:b" can't be the name of a file in the book: write letters, digits and hyphens`}, nil},
		{"a folder in place of a file", files{"performers/x.toml/y.toml": ""},
			[]string{"performers/x.toml: this is a folder and no file"}, nil},
		{"a reading", files{"readings/x.toml": "desk = \"quay-24\"\n[channel.25]\nfader = 0\n"},
			[]string{`readings/x.toml:3: quay-24 has no channel.25.fader: did you mean "fader"?`}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, err := scenes.OpenFS(over(t, c.files), "")
			if err != nil {
				t.Fatal(err)
			}
			report := b.Check(nil)
			if diff := cmp.Diff(c.faults, texts(report.Faults)); diff != "" {
				t.Errorf("faults (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(c.warnings, texts(report.Warnings)); diff != "" {
				t.Errorf("warnings (-want +got):\n%s", diff)
			}
		})
	}
}

func TestAFittedEQFarFromWhatIsWantedIsWarnedOfWhereThePerformerStands(t *testing.T) {
	narrow := "[strip]\n"
	for i, frequency := range []int{315, 800, 2000, 5000} {
		narrow += fmt.Sprintf("eq.%d = { frequency = %d, gain = -9, q = 8 }\n", i+1, frequency)
	}
	const want = "performers/x.toml:5: on lectern at net-loft: quay-24 has 4 bands of EQ and 5 are wanted; the nearest that its own bands come to " +
		"the room's EQ 4 (venues/net-loft.toml:54), the voice's EQ 1 (performers/x.toml:2), the voice's EQ 2 (performers/x.toml:3), the voice's EQ 3 (performers/x.toml:4), the voice's EQ 4 (performers/x.toml:5) is off by "
	for name, c := range map[string]struct {
		text  string
		named []scenes.Named
		found bool
	}{
		"the book has a scene or a line for it": {narrow + "[at.net-loft]\n", nil, true},
		"it may never go there":                 {narrow, nil, false},
		"it was asked about by name":            {narrow, []scenes.Named{{Kind: scenes.Performers, Name: "x"}}, true},
	} {
		b, err := scenes.OpenFS(over(t, files{"performers/x.toml": c.text}), "")
		if err != nil {
			t.Fatal(err)
		}
		report := b.Check(c.named)
		found := slices.ContainsFunc(texts(report.Warnings), func(w string) bool { return strings.HasPrefix(w, want) })
		if len(report.Faults) > 0 || found != c.found {
			t.Errorf("%s: faults %v, warnings %q", name, report.Faults, texts(report.Warnings))
		}
	}
}

func TestALimitOnTheRiseWithoutWhatIsUsualIsWarnedOf(t *testing.T) {
	for limits, want := range map[string]int{"rise = 6\n": 1, "rise = 6\nusual = 20\n": 0, "gain = 40\n": 0} {
		report := bookOf(t, files{"venues/x.toml": plainVenue + "[limits]\n" + limits}).Check([]scenes.Named{{Kind: scenes.Venues, Name: "x"}})
		found := 0
		for _, w := range report.Warnings {
			if w.File == "venues/x.toml" && w.Line == 5 && strings.HasPrefix(w.What, "what comes up from silence can get as loud as it will") {
				found++
			}
		}
		if found != want {
			t.Errorf("%s: %v", limits, report.Warnings)
		}
	}
}

func TestCheckGoesOnAfterFaultsInEveryKindOfFile(t *testing.T) {
	b := bookOf(t, files{
		"venues/net-loft.toml": "[desk\n", "performers/poet.toml": "x\n", "scenes/opening.toml": "venue = 7\n",
		"profiles/own.toml": "", "readings/r.toml": "",
	})
	in := make(map[string]bool)
	for _, f := range b.Check(nil).Faults {
		in[f.File] = true
	}
	want := []string{"performers/poet.toml", "profiles/own.toml", "readings/r.toml", "scenes/opening.toml", "venues/net-loft.toml"}
	if diff := cmp.Diff(want, slices.Sorted(maps.Keys(in))); diff != "" {
		t.Error(diff)
	}
}

// BenchmarkCheck checks books that differ by a factor of ten: the time should, too.
func BenchmarkCheck(b *testing.B) {
	for _, performers := range []int{100, 1000, 10000} {
		b.Run(fmt.Sprint(performers, " performers"), func(b *testing.B) {
			dir := b.TempDir()
			if err := testdata.WriteLarge(dir, performers); err != nil {
				b.Fatal(err)
			}
			book, err := scenes.Open(dir)
			if err != nil {
				b.Fatal(err)
			}
			b.ResetTimer()
			for b.Loop() {
				if report := book.Check(nil); len(report.Faults) > 0 {
					b.Fatal(report.Faults[0])
				}
			}
		})
	}
}
