package scenes_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"deskhand/profiles/source"
	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
)

// readOrder reads a running order in the example book.
func readOrder(t *testing.T, text string) (*scenes.RunningOrder, error) {
	t.Helper()
	return bookOf(t, files{"running-orders/x.toml": text}).RunningOrder("x")
}

func TestRunningOrderGivesTheScenesWithWhatIsPlanned(t *testing.T) {
	o, err := readOrder(t, `title = "An evening"
venue = "net-loft"
[[scenes]]
scene = "opening"
title = "The first"
start = "19:30"
length = "45m"
notes = """
House lights down.
Then the pilot.
"""
[[scenes]]
scene = "ballads"
[[scenes]]
title = "The bell"
start = "0:05"
[scenes.positions.bench]
performer = "bell-founder"
open = true
`)
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, it := range o.Items {
		start := "-"
		if it.Start != nil {
			start = scenes.Clock(*it.Start)
		}
		lines = append(lines, fmt.Sprintf("%d %q %s %s %q: %s in %s of %d", it.Line, it.Title, start, it.Length, it.Notes, it.Scene.Name, it.Scene.File, len(it.Scene.Positions)))
	}
	want := []string{
		`3 "The first" 19:30 45m0s "House lights down.\nThen the pilot.": opening in scenes/opening.toml of 2`,
		`12 "Ballads" - 0s "": ballads in scenes/ballads.toml of 4`,
		`14 "The bell" 00:05 0s "": x: The bell in running-orders/x.toml of 1`,
	}
	if diff := cmp.Diff(want, lines); diff != "" || o.Title != "An evening" || o.Venue != "net-loft" {
		t.Errorf("%q at %q: %s", o.Title, o.Venue, diff)
	}
}

func TestRunningOrderTellsFaultsWithLineAndNearestWord(t *testing.T) {
	const head, here = "venue = \"net-loft\"\n", "[scenes.positions.lectern]\nopen = true\n"
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"no venue":             {"[[scenes]]\nscene = \"opening\"\n", []string{`running-orders/x.toml:1: the running order does not say where it is: write venue = "..."`}},
		"no scene":             {head, []string{`running-orders/x.toml:1: the running order has no scene: write [[scenes]] with scene = "..."`}},
		"an empty list":        {head + "scenes = []\n", []string{`running-orders/x.toml:1: the running order has no scene: write [[scenes]] with scene = "..."`}},
		"a slip in a key":      {head + "titel = \"\"\n[[scenes]]\nscene = \"opening\"\n", []string{`running-orders/x.toml:2: unknown key "titel": did you mean "title"?`}},
		"a slip in an item":    {head + "[[scenes]]\nscene = \"opening\"\nfad = \"2s\"\n", []string{`running-orders/x.toml:4: unknown key "fad": did you mean "fade"?`}},
		"a slip in a scene":    {head + "[[scenes]]\nscene = \"openin\"\n", []string{`running-orders/x.toml:3: there is no scene "openin" in the book: did you mean "opening"?`}},
		"no such venue":        {"venue = \"net-lof\"\n[[scenes]]\nscene = \"opening\"\n[[scenes]]\ntitle = \"a\"\n" + here, []string{`running-orders/x.toml:1: there is no venue "net-lof" in the book: did you mean "net-loft"?`}},
		"a number for a venue": {"venue = 7\n[[scenes]]\nscene = \"opening\"\n", []string{`running-orders/x.toml:1: "venue" should be a text, but it is the number 7`}},
		"no scene twice": {head + "[[scenes]]\nscene = \"openin\"\n[[scenes]]\nscene = \"openin\"\n",
			[]string{`running-orders/x.toml:3: there is no scene "openin" in the book: did you mean "opening"?`, `running-orders/x.toml:5: there is no scene "openin" in the book: did you mean "opening"?`}},
		"no such scenes under one title": {head + "[[scenes]]\ntitle = \"a\"\nscene = \"openin\"\n[[scenes]]\ntitle = \"a\"\nscene = \"balads\"\n",
			[]string{`running-orders/x.toml:4: there is no scene "openin" in the book: did you mean "opening"?`, `running-orders/x.toml:7: there is no scene "balads" in the book: did you mean "ballads"?`}},
		"a scene, and in line":  {head + "[[scenes]]\nscene = \"opening\"\n" + here, []string{`running-orders/x.toml:3: the item names a scene and says who is where, too: keep one of them`}},
		"in line without title": {head + "[[scenes]]\n" + here, []string{`running-orders/x.toml:2: the item needs a title, as it names no scene: write title = "..."`}},
		"in line without title, with a slip": {head + "[[scenes]]\n[scenes.positions.lectern]\npeformer = \"poet\"\n",
			[]string{`running-orders/x.toml:2: the item needs a title, as it names no scene: write title = "..."`, `running-orders/x.toml:4: unknown key "peformer": did you mean "performer"?`}},
		"a number for a scene": {head + "[[scenes]]\nscene = 7\n" + here, []string{`running-orders/x.toml:3: "scene" should be a text, but it is the number 7`}},
		"in line without anyone": {head + "[[scenes]]\ntitle = \"a\"\n",
			[]string{`running-orders/x.toml:2: the item names no scene and has nobody in it: write scene = "...", or [scenes.positions.NAME] with performer = "..."`}},
		"two of one title": {head + "[[scenes]]\ntitle = \"a\"\n" + here + "[[scenes]]\ntitle = \"a\"\n" + here,
			[]string{`running-orders/x.toml:6: the scene of line 2 is called "a", too: give it another title`}},
		"no time of day":    {head + "[[scenes]]\nscene = \"opening\"\nstart = \"24:00\"\n", []string{`running-orders/x.toml:4: "24:00" is no time of day: write hours and minutes, as "19:30"`}},
		"a time with words": {head + "[[scenes]]\nscene = \"opening\"\nstart = \"half past seven\"\n", []string{`running-orders/x.toml:4: "half past seven" is no time of day: write hours and minutes, as "19:30"`}},
		"an item of nothing": {head + "[[scenes]]\n",
			[]string{`running-orders/x.toml:2: the item names no scene and has nobody in it: write scene = "...", or [scenes.positions.NAME] with performer = "..."`}},
		"a title that a terminal would act on": {head + "[[scenes]]\ntitle = \"\\u202e\"\n" + here, []string{`running-orders/x.toml:3: title: there is a control character in it`}},
		"an empty title":                       {head + "[[scenes]]\ntitle = \"\"\n" + here, []string{`running-orders/x.toml:3: the item needs a title, as it names no scene: write title = "..."`}},
		"a number for a title":                 {head + "[[scenes]]\ntitle = 7\n" + here, []string{`running-orders/x.toml:3: "title" should be a text, but it is the number 7`}},
		"a table for the scenes":               {head + "[scenes]\nscene = \"opening\"\n", []string{`running-orders/x.toml:2: "scenes" should be a list of tables, but it is a table`}},
		"a time without quotes":                {head + "[[scenes]]\nscene = \"opening\"\nstart = 19:30:00\n", []string{`running-orders/x.toml:4: start: write the time of day in quotes, as "19:30"`}},
		"a length beyond the clock":            {head + "[[scenes]]\nscene = \"opening\"\nlength = \"2562047h\"\n", []string{`running-orders/x.toml:4: a scene of more than 24 hours can't be meant: write length = "25m", or leave it out`}},
		"too many scenes": {head + strings.Repeat("[[scenes]]\nscene = \"opening\"\n", 501),
			[]string{`running-orders/x.toml:2: the running order has 501 scenes, and 500 are the most: make two of it`}},
		"no length":                          {head + "[[scenes]]\nscene = \"opening\"\nlength = \"0m\"\n", []string{`running-orders/x.toml:4: a scene takes some time: write length = "25m", or leave it out`}},
		"a length back":                      {head + "[[scenes]]\nscene = \"opening\"\nlength = \"-5m\"\n", []string{`running-orders/x.toml:4: a scene takes some time: write length = "25m", or leave it out`}},
		"notes that a terminal would act on": {head + "[[scenes]]\nscene = \"opening\"\nnotes = \"\\u001b[31m\"\n", []string{`running-orders/x.toml:4: notes: there is a control character in it`}},
		"a fade too long":                    {head + "[[scenes]]\nscene = \"opening\"\nfade = \"61s\"\n", []string{`running-orders/x.toml:4: a fade of 1m1s is too long: write 0.1 s to 60 s, as fade = "2s"`}},
		"fade-order alone":                   {head + "[[scenes]]\nscene = \"opening\"\nfade-order = \"together\"\n", []string{`running-orders/x.toml:4: fade-order says nothing without a fade: add fade = "2s"`}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := readOrder(t, c.text)
			var faults source.Faults
			if !errors.As(err, &faults) {
				t.Fatalf("%v", err)
			}
			if diff := cmp.Diff(c.want, texts(faults.Sorted())); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestRunningOrderIsToldOfASceneAtAnotherVenue(t *testing.T) {
	b := bookOf(t, files{"venues/shed.toml": plainVenue, "running-orders/x.toml": "venue = \"shed\"\n[[scenes]]\nscene = \"opening\"\n"})
	_, err := b.RunningOrder("x")
	wantFaults(t, err, `running-orders/x.toml:3: the scene "opening" is at "net-loft", and the running order at "shed"`)
}

// The faults of a scene's file are told as the file's, each once, however often it is played.
func TestRunningOrderTellsTheFaultsOfASceneWhereTheyAre(t *testing.T) {
	b := bookOf(t, files{"scenes/x.toml": plainScene + "titel = \"\"\n[positions.lectern]\nperfomer = \"poet\"\n",
		"running-orders/x.toml": "venue = \"net-loft\"\n[[scenes]]\nscene = \"x\"\n[[scenes]]\nscene = \"x\"\n"})
	_, err := b.RunningOrder("x")
	wantFaults(t, err, `scenes/x.toml:2: unknown key "titel": did you mean "title"?`, `scenes/x.toml:4: unknown key "perfomer": did you mean "performer"?`)
}

// A file that was written on another system ends its lines with a carriage return, too.
func TestRunningOrderTakesNotesOfSeveralLinesFromAnySystem(t *testing.T) {
	text := "venue = \"net-loft\"\n[[scenes]]\nscene = \"opening\"\nnotes = \"\"\"\n\tHouse lights down.\n\tThen the pilot.\n\"\"\"\n"
	for _, text := range []string{text, strings.ReplaceAll(text, "\n", "\r\n")} {
		o, err := readOrder(t, text)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := o.Items[0].Notes, "House lights down.\n Then the pilot."; got != want {
			t.Errorf("%q, not %q", got, want)
		}
	}
}

// Two items of one scene's file may have one title: the file tells them apart, and it is the
// same scene.
func TestRunningOrderMayPlayASceneTwice(t *testing.T) {
	o, err := readOrder(t, "venue = \"net-loft\"\n[[scenes]]\nscene = \"opening\"\nfade = \"1s\"\n[[scenes]]\nscene = \"opening\"\n")
	if err != nil {
		t.Fatal(err)
	}
	if o.Items[0].Scene.Fade.Time != time.Second || o.Items[1].Scene.Fade.Time != 0 {
		t.Error("the fade of one item is another's, too")
	}
}

func TestRunningOrderFadesInPlaceOfTheScenesOwn(t *testing.T) {
	faded := changed(t, "scenes/opening.toml", "venue = \"net-loft\"\n", "venue = \"net-loft\"\nfade = \"3s\"\nfade-order = \"together\"\n")
	for keys, want := range map[string]scenes.Fade{
		"":                {Time: 3 * time.Second, Together: true},
		"fade = \"1s\"\n": {Time: time.Second},
		"fade = \"0s\"\n": {},
		"fade = \"1s\"\nfade-order = \"together\"\n": {Time: time.Second, Together: true},
	} {
		b := bookOf(t, files{"scenes/opening.toml": faded, "running-orders/x.toml": "venue = \"net-loft\"\n[[scenes]]\nscene = \"opening\"\n" + keys})
		o, err := b.RunningOrder("x")
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, o.Items[0].Scene.Fade); diff != "" {
			t.Errorf("%q: %s", keys, diff)
		}
	}
}

func TestRunningOrderScenesInLineAreFoundByTheNameTheyAreRememberedUnder(t *testing.T) {
	b := bookOf(t, files{"running-orders/x.toml": "venue = \"net-loft\"\n[[scenes]]\ntitle = \"a: b\"\npositions.lectern.open = true\n"})
	for name, want := range map[string]string{"x: a: b": "running-orders/x.toml", "opening": "scenes/opening.toml", "x: gone": ""} {
		s, err := b.SceneCalled(name)
		if err != nil {
			t.Fatal(err)
		}
		file := ""
		if s != nil {
			file = s.File
		}
		if file != want || want != "" && !scenes.IsOfScene(want, name) {
			t.Errorf("%q is in %q, not in %q", name, file, want)
		}
	}
}
