package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/xml"
	"fmt"
	"io/fs"
	"math"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	"deskhand/scenes"
	"deskhand/testdata"
)

// exampleFiles is the example book with its running order as evening.
func exampleFiles(t *testing.T) map[string]string {
	t.Helper()
	all := make(map[string]string)
	err := fs.WalkDir(testdata.Book(), ".", func(file string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := fs.ReadFile(testdata.Book(), file)
		all[strings.Replace(file, "winter-talks", "evening", 1)] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// crowdedBarge is an evening on a barge-48 with somebody on each channel: names of 40
// letters, in words or all in one.
func crowdedBarge() map[string]string {
	venue := "[desk]\nprofile = \"barge-48\"\naddress = \"127.0.0.1\"\n"
	order := "title = \"" + words40 + "\"\nvenue = \"barge\"\n[[scenes]]\ntitle = \"" + words40 + "\"\nnotes = \"\"\"" + strings.Repeat(words40+"\n", 3) + "\"\"\"\n"
	files := make(map[string]string)
	for n := 1; n <= 48; n++ {
		place := fmt.Sprintf("place-%02d", n)
		if n%4 == 0 {
			place += "-by-the-wharves-of-the-old-outer" // 40 letters in all
		}
		venue += fmt.Sprintf("[positions.%s]\nchannel = %d\n", place, n)
		label := []string{words40, solid40, fmt.Sprintf("Singer %d", n)}[n%3]
		files[fmt.Sprintf("performers/singer-%02d.toml", n)] = fmt.Sprintf("title = %q\n[strip]\nfader = 0\n", label)
		order += fmt.Sprintf("[scenes.positions.%s]\nperformer = \"singer-%02d\"\n", place, n)
	}
	files["venues/barge.toml"] = venue
	files["running-orders/evening.toml"] = order
	return files
}

// Names of 40 letters.
const (
	words40 = "Wide Waves Wash Weathered Wharfs Wildly."
	solid40 = "Wharfwardenwhowillwritewitheringwarnings"
)

// knobRaft is an evening with work for a hand.
func knobRaft() map[string]string {
	return map[string]string{
		"venues/raft.toml": "[desk]\nprofile = \"raft-8\"\naddress = \"127.0.0.1\"\n[microphones.condenser]\nsensitivity = -40\nphantom = true\n" +
			"[positions.a-position-with-a-name-of-40-characters]\nchannel = 2\nmicrophone = \"condenser\"\ndistance = 0.4\n[positions.stool]\nchannel = 7\nmicrophone = \"condenser\"\ndistance = 0.4\n",
		"performers/poet.toml":  "[dialled-in]\nsensitivity = -40\ndistance = 0.4\n[strip]\ninput.gain = 24\n",
		"performers/pilot.toml": "[dialled-in]\nsensitivity = -40\ndistance = 0.4\n[strip]\ninput.gain = 18\n",
		"running-orders/evening.toml": "venue = \"raft\"\n[[scenes]]\ntitle = \"" + words40 + "\"\nstart = \"19:00\"\npositions.a-position-with-a-name-of-40-characters.performer = \"poet\"\n" +
			"[[scenes]]\ntitle = \"second\"\npositions.a-position-with-a-name-of-40-characters.performer = \"pilot\"\npositions.stool.performer = \"poet\"\n",
	}
}

// TestASheetPrintsWholeAndToSize has a browser print sheets, and finds every text on the
// paper, whole, and the labels as wide as they should be; and it has the browser say whether
// anything on the page is larger than the room that it has. It needs chromium and pdftotext
// (poppler-utils); with DESKHAND_CI set it fails where they are missing.
func TestASheetPrintsWholeAndToSize(t *testing.T) {
	t.Parallel()
	needsPrinter(t)
	for name, files := range map[string]map[string]string{"example": exampleFiles(t), "barge": crowdedBarge(), "raft": knobRaft()} {
		s := sheetIn(t, files)
		for _, on := range papers {
			widths := []labelFlag{usualLabel}
			if name == "barge" {
				widths = []labelFlag{narrowestLabel, 20, 25.4, 33.3, widestLabel}
			}
			for _, width := range widths {
				t.Run(fmt.Sprintf("%s on %s, %s mm", name, on.said, width.String()), func(t *testing.T) {
					page, err := sheetHTML(s, width, on)
					if err != nil {
						t.Fatal(err)
					}
					pages := printed(t, page)
					isWithinPaper(t, pages, on)
					for i := range pages { // the page's number is below the margin
						pages[i].Words = slices.DeleteFunc(pages[i].Words, func(w pdfWord) bool { return mm(w.Top) > on.height-paperMargin })
					}
					hasAllTexts(t, pages, s)
					hasLabels(t, pages, s, float64(width), on)
					nothingIsCutOff(t, page, s, float64(width), on)
				})
			}
		}
	}
}

func needsPrinter(t *testing.T) {
	t.Helper()
	for _, tool := range []string{"chromium", "pdftotext"} {
		if _, err := exec.LookPath(tool); err == nil {
			continue
		}
		if os.Getenv("DESKHAND_CI") != "" {
			t.Fatalf("%s is missing: install the Debian packages chromium and poppler-utils", tool)
		}
		t.Skipf("%s is missing, so no sheet is printed", tool)
	}
}

// pdfPage and pdfWord are as pdftotext -bbox gives them, in points of 1/72 inch.
type pdfPage struct {
	Width  float64   `xml:"width,attr"`
	Height float64   `xml:"height,attr"`
	Words  []pdfWord `xml:"word"`
}

type pdfWord struct {
	Left   float64 `xml:"xMin,attr"`
	Right  float64 `xml:"xMax,attr"`
	Top    float64 `xml:"yMin,attr"`
	Bottom float64 `xml:"yMax,attr"`
	Text   string  `xml:",chardata"`
}

func (w pdfWord) middle() float64 { return (w.Left + w.Right) / 2 }

// mm is a length in points in mm.
func mm(points float64) float64 { return points * 25.4 / 72 }

// printed has the browser print a page, and gives the words on each sheet of paper.
func printed(t *testing.T, page []byte) []pdfPage {
	t.Helper()
	pdf := filepath.Join(t.TempDir(), "sheet.pdf")
	browsed(t, page, "--no-pdf-header-footer", "--print-to-pdf="+pdf)
	var out struct {
		Pages []pdfPage `xml:"body>doc>page"`
	}
	if err := xml.Unmarshal(outputOf(t.Context(), t, "pdftotext", "-bbox", pdf, "-"), &out); err != nil {
		t.Fatal(err)
	}
	if len(out.Pages) == 0 {
		t.Fatal("nothing was printed")
	}
	return out.Pages
}

// browsed has the browser open a page and do something with it, and gives what it writes.
func browsed(t *testing.T, page []byte, do ...string) []byte {
	t.Helper()
	dir := t.TempDir()
	html := filepath.Join(dir, "sheet.html")
	if err := os.WriteFile(html, page, 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	args := append([]string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--user-data-dir=" + filepath.Join(dir, "profile")}, do...)
	return outputOf(ctx, t, "chromium", append(args, (&url.URL{Scheme: "file", Path: html}).String())...)
}

func outputOf(ctx context.Context, t *testing.T, name string, args ...string) []byte {
	t.Helper()
	c := exec.CommandContext(ctx, name, args...)
	c.WaitDelay = 10 * time.Second
	var complaints bytes.Buffer
	c.Stderr = &complaints
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, complaints.String())
	}
	return out
}

// isWithinPaper finds words beyond the margins, but for the page's number below them.
func isWithinPaper(t *testing.T, pages []pdfPage, on paper) {
	t.Helper()
	const slack = 0.5 // mm
	for i, p := range pages {
		if math.Abs(mm(p.Width)-on.width) > slack || math.Abs(mm(p.Height)-on.height) > slack {
			t.Errorf("page %d is %.1f x %.1f mm, not %s", i+1, mm(p.Width), mm(p.Height), on.said)
		}
		for _, w := range p.Words {
			below := on.height - paperMargin + slack
			if mm(w.Top) > below {
				below = on.height
			}
			if mm(w.Left) < paperMargin-slack || mm(w.Right) > on.width-paperMargin+slack || mm(w.Top) < paperMargin-slack || mm(w.Bottom) > below {
				t.Errorf("page %d: %q is out of the margins: %.1f to %.1f, %.1f to %.1f mm", i+1, w.Text, mm(w.Left), mm(w.Right), mm(w.Top), mm(w.Bottom))
			}
		}
	}
}

// letters leaves out what a line's end may take or add.
func letters(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, text)
}

// hasAllTexts counts the letters of every text on the pages before the labels, however their
// lines are broken; only a table's head may come again on another page.
func hasAllTexts(t *testing.T, pages []pdfPage, s *scenes.Sheet) {
	t.Helper()
	count := make(map[rune]int)
	for _, p := range pages {
		if isLabelPage(p) {
			break
		}
		for _, w := range p.Words {
			for _, r := range letters(w.Text) {
				count[r]++
			}
		}
	}
	texts := []string{
		orderTitle(s.Order), cmp.Or(s.Venue.Title, s.Venue.Name), "· desk", s.Venue.Desk.Profile.Name, "Scenes", "scene planned title notes",
		"Inputs", "channel position microphone phantom source who, in scenes", "By hand",
	}
	texts = append(texts, sheetCautions...)
	if len(s.Hand) == 0 {
		texts = append(texts, nothingByHand)
	}
	for _, group := range handBefore(s) {
		texts = append(texts, sayBefore(s, group[0].Scene))
	}
	for i, it := range s.Order.Items {
		texts = append(texts, fmt.Sprint(i+1), it.Title, planOf(it), it.Notes)
	}
	for _, in := range s.Inputs {
		texts = append(texts, fmt.Sprint(in.Position.Channel), in.Position.Name, sayMicrophone(in), sayPhantom(in.Phantom), saySources(in))
		for _, turn := range in.Turns {
			texts = append(texts, sayTurn(turn))
		}
	}
	for _, h := range s.Hand {
		texts = append(texts, instruction(h.Change), sayWhoFor(h))
	}
	for _, text := range texts {
		for _, r := range letters(text) {
			count[r]--
		}
	}
	for r, n := range count {
		if n < 0 {
			t.Errorf("%d of the letter %q are not on the paper", -n, r)
		}
	}
}

func isLabelPage(p pdfPage) bool { return len(p.Words) > 0 && p.Words[0].Text == "Labels" }

// labelPages are the sheets of paper from the first with labels on.
func labelPages(pages []pdfPage) []pdfPage {
	for i, p := range pages {
		if isLabelPage(p) {
			return pages[i:]
		}
	}
	return nil
}

// joined gives the words as one text.
func joined(words []pdfWord) string {
	var text string
	for _, w := range words {
		text += w.Text
	}
	return text
}

// hasLabels follows the rows of labels over the paper, and holds the distances of the
// channels' numbers against the width, and the words under each against the label.
func hasLabels(t *testing.T, pages []pdfPage, s *scenes.Sheet, width float64, on paper) {
	t.Helper()
	var rows []pdfRow
	for _, p := range labelPages(pages) {
		rows = append(rows, rowsOn(p)...)
	}
	for _, strip := range s.Strips {
		for _, row := range stripRows(strip.Labels, width, on) {
			heading := fmt.Sprintf("%s · channels %d to %d", sayStrip(strip), row.First, row.Last)
			if row.Part != "" {
				heading += " · " + row.Part
			}
			if len(rows) == 0 || rows[0].heading != letters(heading) {
				t.Fatalf("%q is not where it should be on the paper", heading)
			}
			isRow(t, rows[0].words, row, width)
			rows = rows[1:]
		}
	}
	if len(rows) > 0 {
		t.Errorf("%q is on the paper, too", rows[0].heading)
	}
}

// pdfRow is the words below one heading of labels and above the next.
type pdfRow struct {
	heading string
	words   []pdfWord
}

// rowsOn finds the rows of labels on a sheet of paper by where the words stand: pdftotext
// gives them in an order that it takes for columns. A heading begins at the margin.
func rowsOn(p pdfPage) []pdfRow {
	words := slices.SortedStableFunc(slices.Values(p.Words), func(a, b pdfWord) int {
		return cmp.Or(cmp.Compare(math.Round(a.Top), math.Round(b.Top)), cmp.Compare(a.Left, b.Left))
	})
	var rows []pdfRow
	var top float64 // of the heading
	for _, w := range words {
		isFirst := (w.Text == "scene" || w.Text == "scenes") && math.Abs(mm(w.Left)-paperMargin) < 0.3
		switch {
		case isFirst:
			rows, top = append(rows, pdfRow{heading: w.Text}), w.Top
		case len(rows) == 0: // what stands above the first
		case math.Abs(w.Top-top) < 1:
			rows[len(rows)-1].heading += w.Text
		default:
			rows[len(rows)-1].words = append(rows[len(rows)-1].words, w)
		}
	}
	return rows
}

// isRow holds the words of a row of labels against what should stand there. Labels begin at
// the paper's margin.
func isRow(t *testing.T, words []pdfWord, row sheetRow, width float64) {
	t.Helper()
	const tolerance = 0.5 // mm
	slices.SortFunc(words, func(a, b pdfWord) int {
		return cmp.Or(cmp.Compare(a.Top, b.Top), cmp.Compare(a.Left, b.Left))
	})
	under := make([]string, len(row.Labels))
	var middles []float64
	for i, l := range row.Labels {
		left := paperMargin + float64(i)*width
		for _, w := range words {
			if mid := mm(w.middle()); mid < left || mid >= left+width {
				continue
			}
			if mm(w.Left) < left-0.05 || mm(w.Right) > left+width+0.05 {
				t.Errorf("channel %d: %q is out of its label: %.2f to %.2f mm, and the label is from %.2f to %.2f", l.Channel, w.Text, mm(w.Left), mm(w.Right), left, left+width)
			}
			if under[i] == "" {
				middles = append(middles, mm(w.middle()))
			}
			under[i] += w.Text
		}
		if want := letters(fmt.Sprint(l.Channel) + l.Text + l.Position); under[i] != want {
			t.Errorf("channel %d: the label says %q, not %q", l.Channel, under[i], want)
		}
	}
	if all := letters(strings.Join(under, "")); len(all) != len(letters(joined(words))) {
		t.Errorf("some of %q is under no label", joined(words))
	}
	for i := 1; i < len(middles); i++ {
		if wide := middles[i] - middles[i-1]; math.Abs(wide-width) > tolerance {
			t.Errorf("a label is %.2f mm wide, not %.1f", wide, width)
		}
	}
	if n := len(middles); n > 1 {
		if wide := middles[n-1] - middles[0]; math.Abs(wide-width*float64(n-1)) > tolerance {
			t.Errorf("%d labels are %.2f mm wide, not %.2f", n-1, wide, width*float64(n-1))
		}
	}
	if len(middles) != len(row.Labels) {
		t.Errorf("%d of %d labels are on the paper", len(middles), len(row.Labels))
	}
}
