package main

import (
	"bytes"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"deskhand/scenes"
)

// sheetIn gathers the sheet of a book in which the running order is called evening.
func sheetIn(t *testing.T, files map[string]string) *scenes.Sheet {
	t.Helper()
	book := fstest.MapFS{"book.toml": {}}
	for name, text := range files {
		book[name] = &fstest.MapFile{Data: []byte(text)}
	}
	b, err := scenes.OpenFS(book, "")
	if err != nil {
		t.Fatal(err)
	}
	o, err := b.RunningOrder("evening")
	if err != nil {
		t.Fatal(err)
	}
	s, err := b.Sheet(o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

const oneChannel = "[desk]\nprofile = \"quay-24\"\naddress = \"127.0.0.1\"\n[positions.lectern]\nchannel = 1\n"

// What a file holds is text on the page, and nothing that a browser would do something with;
// a name that turns the direction of writing is written out.
func TestHostileTextIsOnlyTextOnASheet(t *testing.T) {
	const script, turned = `</style><script>alert(1)</script><img src=http://127.0.0.1/x onerror=alert(1)>`, "po\u202eteo"
	s := sheetIn(t, map[string]string{
		"venues/hall.toml":            "title = '" + script + "'\n" + oneChannel,
		"performers/y.toml":           "[strip]\nlabel = '" + turned + "'\n",
		"performers/x.toml":           "[strip]\nlabel = '" + script + "'\n",
		"running-orders/evening.toml": "title = '" + script + "'\nvenue = \"hall\"\n[[scenes]]\ntitle = '" + script + "'\nnotes = '" + script + "'\npositions.lectern.performer = \"x\"\n[[scenes]]\ntitle = \"b\"\npositions.lectern.performer = \"y\"\n",
	})
	page, err := sheetHTML(s, usualLabel, papers[0])
	if err != nil {
		t.Fatal(err)
	}
	text := string(page)
	for _, never := range []string{"<script", "<img", "\u202e", "\x1b", "javascript:", "@import", "src=\"", "href="} {
		if strings.Contains(text, never) {
			t.Errorf("the page has %q", never)
		}
	}
	for what, least := range map[string]int{"&lt;script&gt;alert(1)&lt;/script&gt;": 5, `po\u202eteo`: 1} {
		if n := strings.Count(text, what); n < least {
			t.Errorf("%q stands there %d times, not %d", what, n, least)
		}
	}
	if n := strings.Count(text, "</style>"); n != 1 {
		t.Errorf("%d ends of the style", n)
	}
	if lines := string(shown([]byte(sheetText(s)), false)); strings.Contains(lines, "\u202e") {
		t.Error("the lines turn the direction of writing")
	}
}

func TestASheetAsksForNothingFromTheNetwork(t *testing.T) {
	page, err := sheetHTML(sheetIn(t, exampleFiles(t)), usualLabel, papers[0])
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(page, []byte(`content="default-src 'none'; style-src 'unsafe-inline'"`)) {
		t.Error("the page doesn't forbid loading")
	}
	if found := regexp.MustCompile(`(?i)<script|<link|<img|<iframe|url\(|https?:|@import`).Find(page); found != nil {
		t.Errorf("the page has %s", found)
	}
	if bytes.Contains(page, []byte("ZgotmplZ")) {
		t.Error("the template refused a value")
	}
	if bytes.Contains(page, []byte("overflow: ")) {
		t.Error("something on the page may be cut off")
	}
}

// On A4, 186 mm are left between the margins, on Letter 191.9: so many whole labels.
func TestAStripBreaksIntoRowsThatFitThePaper(t *testing.T) {
	labels := make([]scenes.Label, 48)
	for i := range labels {
		labels[i].Channel = i + 1
	}
	for _, c := range []struct {
		width       float64
		on          paper
		rows, worst int
	}{
		{25, papers[0], 7, 7}, {25, papers[1], 7, 7}, // 7 across
		{10, papers[0], 3, 16}, {10, papers[1], 3, 16}, // 18 and 19 across
		{31.5, papers[0], 10, 5}, {31.5, papers[1], 8, 6}, // 5 and 6 across
		{60, papers[0], 16, 3}, {60, papers[1], 16, 3},
	} {
		rows := stripRows(labels, c.width, c.on)
		next, longest := 1, 0
		for _, row := range rows {
			longest = max(longest, len(row.Labels))
			for _, l := range row.Labels {
				if l.Channel != next {
					t.Fatalf("%v mm: channel %d where %d should be", c.width, l.Channel, next)
				}
				next++
			}
		}
		if len(rows) != c.rows || longest != c.worst || next != 49 {
			t.Errorf("%v mm on %s: %d rows of up to %d, to channel %d", c.width, c.on.said, len(rows), longest, next-1)
		}
	}
}

// A letter is 0.6 of its size wide and a line 1.12 of it high; 1 pt is 0.353 mm. Of 25 mm, 23 are
// for the name: 6 letters of 16 pt (20.3 mm), and not 8 (27.1), which stand there at 13.5 pt
// (22.9 mm). Nine mm take one line of 16 pt (6.3 mm), and two lines of 11 pt (8.7 mm), at which a
// line has 9 letters. At 9.5 pt a line has 11 letters, as many as "Poet of the" and "old harbour"
// have; at 7.5 pt 14, for "Wide Waves", "Wash Weathered" and "Wharfs Wildly.", three lines of 8.9 mm.
func TestALabelsNameIsAsLargeAsItsRoom(t *testing.T) {
	for text, want := range map[string]float64{
		"": 16, "Pilot": 16, "Botanist": 13.5, "Bell founder": 11, "Poet of the old harbour": 9.5, words40: 7.5, solid40: 7,
	} {
		if got := pointsFor(text, 25, whoHigh, largestWho); got != want {
			t.Errorf("%q: %v pt, not %v", text, got, want)
		}
	}
}
