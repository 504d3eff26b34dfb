package main

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// svgPath is a line of a picture, in the coordinates of its panel.
type svgPath struct {
	panel  int
	style  string
	points [][2]float64
}

// svgPicture is what a test reads of an SVG.
type svgPicture struct {
	paths []svgPath
	texts []string
}

var figure = regexp.MustCompile(`-?[0-9.]+(?:e-?[0-9]+)?`)

// readSVG reads a picture as XML. Each panel is a group in the outer one.
func readSVG(t *testing.T, text []byte) svgPicture {
	t.Helper()
	var p svgPicture
	decoder := xml.NewDecoder(bytes.NewReader(text))
	depth, panel := 0, -1
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return p
		}
		if err != nil {
			t.Fatalf("the picture is no XML: %v", err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			attributes := make(map[string]string)
			for _, a := range token.Attr {
				attributes[a.Name.Local] = a.Value
			}
			switch token.Name.Local {
			case "g":
				if depth++; depth == 2 {
					panel++
				}
			case "path":
				p.paths = append(p.paths, svgPath{panel, attributes["style"], pointsIn(t, attributes["d"])})
			}
		case xml.EndElement:
			if token.Name.Local == "g" {
				depth--
			}
		case xml.CharData:
			if s := strings.TrimSpace(string(token)); s != "" {
				p.texts = append(p.texts, s)
			}
		}
	}
}

func pointsIn(t *testing.T, d string) [][2]float64 {
	t.Helper()
	figures := figure.FindAllString(d, -1)
	points := make([][2]float64, len(figures)/2)
	for i := range points {
		for axis := range 2 {
			var err error
			if points[i][axis], err = strconv.ParseFloat(figures[2*i+axis], 64); err != nil {
				t.Fatal(err)
			}
		}
	}
	return points
}

// The styles by which a test finds lines: those of the grid, of the whole strip, of the
// strip before.
const (
	gridLook   = "stroke:#D0D0D0"
	wholeLook  = "stroke-width:2.25"
	beforeLook = "stroke-dasharray:5,3"
	askedLook  = "stroke-dasharray:8,4"
)

func (p svgPicture) lines(panel int, look string) []svgPath {
	var found []svgPath
	for _, one := range p.paths {
		if one.panel == panel && strings.Contains(one.style, look) && len(one.points) > 1 {
			found = append(found, one)
		}
	}
	return found
}

// scale reads a picture's own grid: the vertical lines are at the octaves from 31.5 Hz (16
// kHz over 2^9 is 31.25), the horizontal ones 3 dB apart, the lowest at bottom.
type scale struct {
	left, perOctave float64 // of 31.25 Hz
	low, perDecibel float64
	bottom          float64
}

func (p svgPicture) scale(t *testing.T, panel int, bottom, step float64) scale {
	t.Helper()
	var xs, ys []float64
	for _, line := range p.lines(panel, gridLook) {
		a, b := line.points[0], line.points[1]
		if a[0] == b[0] {
			xs = append(xs, a[0])
		} else {
			ys = append(ys, a[1])
		}
	}
	if len(xs) != 10 || len(ys) < 7 {
		t.Fatalf("%d and %d lines of the grid", len(xs), len(ys))
	}
	slices.Sort(xs)
	slices.Sort(ys)
	octave := (xs[9] - xs[5]) / 4 // 1 kHz to 16 kHz
	return scale{xs[5] - 5*octave, octave, ys[0], (ys[1] - ys[0]) / step, bottom}
}

// at gives a line's level in dB at a frequency in Hz, between the points as drawn.
func (s scale) at(t *testing.T, line svgPath, hz float64) float64 {
	t.Helper()
	x := s.left + s.perOctave*math.Log2(hz/31.25)
	for i, b := range line.points[1:] {
		if a := line.points[i]; a[0] <= x && x <= b[0] {
			y := a[1] + (b[1]-a[1])*(x-a[0])/(b[0]-a[0])
			return s.bottom + (y-s.low)/s.perDecibel
		}
	}
	t.Fatalf("the line has nothing at %g Hz", hz)
	return 0
}

// drawing is 0.03 dB: a quarter of a point at 8 points to the dB.
const drawing = 0.03

func (s scale) check(t *testing.T, what string, line svgPath, figures map[float64]float64) {
	t.Helper()
	for hz, want := range figures {
		if got := s.at(t, line, hz); math.Abs(got-want) > drawing {
			t.Errorf("%s: %.3f dB at %g Hz, not %.3f", what, got, hz, want)
		}
	}
}

// exampleBook makes the example book with more performers in it.
func exampleBook(t *testing.T, performers map[string]string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "talks")
	command(t, exitDone, "new", dir)
	for name, text := range performers {
		if err := os.WriteFile(filepath.Join(dir, "performers", name+".toml"), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// command runs a command that is to end with a code, and gives what it printed.
func command(t *testing.T, want int, words ...string) string {
	t.Helper()
	var out, complaints bytes.Buffer
	if code := run(t.Context(), words, console{in: strings.NewReader(""), out: &out, err: &complaints}); code != want {
		t.Fatalf("exit %d of %q\n%s%s", code, words, &out, &complaints)
	}
	return out.String()
}

func contents(t *testing.T, file string) []byte {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// TestADifferenceIsDrawnWhereThePaperSaysItIs draws a bell of 200 Hz, +6 dB, Q 1 before and a
// low cut of 100 Hz, 18 dB/octave after, as they are written. By hand: a bell has its gain
// at its centre and half of it in dB where its width ends, at f (sqrt(1 + 1/4Q^2) -+ 1/2Q) =
// 200 (1.1180 -+ 0.5) = 123.6 and 323.6 Hz, and nothing far away. A low cut is at 10 log 1/2
// = -3.01 dB at its corner; of three poles, at 63 Hz, at -10 log(1 + (100/63)^6) = -10 log
// 17.00 = -12.30 dB.
func TestADifferenceIsDrawnWhereThePaperSaysItIs(t *testing.T) {
	dir := exampleBook(t, map[string]string{
		"foghorn": "[strip]\neq.1 = { frequency = 200.0, gain = 6.0, q = 1.0 }\n",
		"whistle": "[strip]\nlowcut = { on = true, frequency = 100.0, slope = 18 }\n",
	})
	file := filepath.Join(t.TempDir(), "voices.svg")
	out := command(t, exitDiffers, "diff", "foghorn", "whistle", "--plot", file, "--book", dir)
	if !strings.HasSuffix(out, "drawn into "+file+": the strip as written\n") {
		t.Errorf("what was drawn is not said:\n%s", out)
	}
	p := readSVG(t, contents(t, file))
	s := p.scale(t, 0, -18, 3)
	for _, line := range []struct {
		look    string
		figures map[float64]float64
	}{
		{beforeLook, map[float64]float64{200: 6, 123.6: 3, 323.6: 3, 12000: 0}},
		{wholeLook, map[float64]float64{100: -3.01, 63: -12.30, 1000: 0, 16000: 0}},
	} {
		found := p.lines(0, line.look)
		if len(found) != 2 && len(found) != 1 {
			t.Fatalf("%d lines look like %s", len(found), line.look)
		}
		slices.SortFunc(found, func(a, b svgPath) int { return len(b.points) - len(a.points) })
		s.check(t, line.look, found[0], line.figures) // the other is the legend's
	}
	for _, words := range []string{"as written", "foghorn -> whistle", "before: foghorn", "after: whistle", "31.5", "63", "125", "1k", "16k", "+6", "0", "-18", "dB", "Hz"} {
		if !slices.Contains(p.texts, words) {
			t.Errorf("the picture doesn't say %q: %q", words, p.texts)
		}
	}
}

// TestAFittedStripHasItsTargetBesideIt wants five bands of a desk that has three. The target
// is the sum of what is asked for. By hand, at 1 kHz, where a bell of +4 dB has its centre:
// the room's bell at 640 Hz, -3 dB, Q 2 adds, with x = (1000/640)^2 = 2.441, the factor of power
// 10^(-3/20) = 0.7079, u = (1-x)^2 = 2.078 and v = x/Q^2 = 0.6104,
// 10 log((u + v 0.7079) / (u + v / 0.7079)) = 10 log(2.510/2.940) = -0.69 dB; the bells of 63 Hz
// and 15 kHz, four octaves away, add less than 0.01 dB. So 4 - 0.69 = 3.31 dB, less what a
// line drawn between two points cuts off the top.
func TestAFittedStripHasItsTargetBesideIt(t *testing.T) {
	dir := exampleBook(t, map[string]string{"foghorn": `[strip]
eq.1 = { frequency = 63.0, gain = 3.0, q = 8.0 }
eq.2 = { frequency = 1000.0, gain = 4.0, q = 3.0 }
eq.3 = { frequency = 15000.0, gain = -3.0, q = 8.0 }
`})
	file := filepath.Join(t.TempDir(), "fitted.svg")
	command(t, exitDone, "show", "foghorn", "--venue", "lifeboat-house", "--plot", file, "--book", dir)
	p := readSVG(t, contents(t, file))
	target := p.lines(0, askedLook)
	slices.SortFunc(target, func(a, b svgPath) int { return len(b.points) - len(a.points) })
	if len(target) < 2 || len(p.lines(0, wholeLook)) < 2 {
		t.Fatal("there is no target, or no strip, or no legend")
	}
	s := p.scale(t, 0, levelOfLowestLine(t, p), 3)
	if got := s.at(t, target[0], 1000); math.Abs(got-3.31) > 0.15 {
		t.Errorf("the target is at %.2f dB at 1 kHz", got)
	}
	if !slices.ContainsFunc(p.texts, func(s string) bool { return strings.HasPrefix(s, "EQ fitted to this desk: ") }) {
		t.Errorf("the title doesn't say how near it is: %q", p.texts)
	}
}

// levelOfLowestLine reads the label of the lowest line of the grid, which is the first
// with a sign.
func levelOfLowestLine(t *testing.T, p svgPicture) float64 {
	t.Helper()
	for _, s := range p.texts {
		if n, err := strconv.ParseFloat(s, 64); err == nil && n < 0 {
			return n
		}
	}
	t.Fatal("no line has a level below 0")
	return 0
}

func TestASceneIsDrawnPositionBelowPosition(t *testing.T) {
	dir := exampleBook(t, nil)
	file := filepath.Join(t.TempDir(), "opening.svg")
	out := command(t, exitDone, "show", "opening", "--plot", file, "--book", dir)
	if !strings.HasSuffix(out, "drawn into "+file+": lectern, table-left\n") {
		t.Errorf("what was drawn is not said:\n%s", out)
	}
	p := readSVG(t, contents(t, file))
	for _, title := range []string{"lectern · channel 3 · botanist · quay-24", "table-left · channel 5 · pilot · quay-24", "EQ 4 160 Hz -4.0 dB  Q 2.8"} {
		if !slices.Contains(p.texts, title) {
			t.Errorf("the picture doesn't say %q: %q", title, p.texts)
		}
	}
	for panel := range 2 {
		if len(p.lines(panel, wholeLook)) == 0 {
			t.Errorf("panel %d has no curve", panel)
		}
	}
	// Without colour, the lines of a panel differ in their dashes.
	dashes := regexp.MustCompile(`stroke-dasharray:[0-9,]+`)
	looks := make(map[string]bool)
	for _, part := range p.lines(0, "stroke:#707070") {
		looks[dashes.FindString(part.style)] = true
	}
	if len(looks) != 4 { // the low cut and three bands
		t.Errorf("the parts of the strip have %d looks: %v", len(looks), looks)
	}
}

// TestAPNGHasItsSize: a panel is 720 by 264 points of 1/72 inch, and an inch has 120 dots.
func TestAPNGHasItsSize(t *testing.T) {
	dir := exampleBook(t, nil)
	file := filepath.Join(t.TempDir(), "opening.PNG")
	command(t, exitDone, "show", "opening", "--plot", file, "--book", dir)
	img, err := png.Decode(bytes.NewReader(contents(t, file)))
	if err != nil {
		t.Fatal(err)
	}
	if b := img.Bounds(); b.Dx() != 1200 || b.Dy() != 2*440 {
		t.Errorf("two panels are %d by %d", b.Dx(), b.Dy())
	}
	dark := 0
	for x := range 1200 {
		for y := range 440 {
			if r, _, _, _ := img.At(x, y).RGBA(); r < 0x4000 {
				dark++
			}
		}
	}
	if dark < 1200 {
		t.Errorf("only %d dots of the first panel are dark", dark)
	}
}

func TestNamesThatOthersWroteAreDrawnAsText(t *testing.T) {
	p := panel{
		name: "x", title: []string{"</text><script>alert(1)</script> & \x1b[31m\ufffe\n海 🎤", strings.Repeat("long ", 100)}, frame: frameFor(0, 0),
		lines: []graphLine{{"a\x00b<c>", whole, []float64{20, 20000}, []float64{0, 0}}},
	}
	for _, as := range []format{svgFormat, pngFormat} {
		text, err := drawn([]panel{p}, as)
		if err != nil {
			t.Fatal(err)
		}
		if as == pngFormat {
			continue
		}
		if read := readSVG(t, text); !slices.Contains(read.texts, `a\u0000b<c>`) {
			t.Errorf("the label is not as it was written: %q", read.texts)
		}
		if bytes.Contains(text, []byte("<script")) {
			t.Error("a title became an element")
		}
	}
}

func TestAPictureIsBounded(t *testing.T) {
	f := &pictureFile{outFile: outFile{said: "all.svg", path: filepath.Join(t.TempDir(), "all.svg")}, format: svgFormat}
	err := f.draw(make([]panel, 65))
	if err == nil || !strings.Contains(err.Error(), "limit it with --position NAME") {
		t.Errorf("65 curves: %v", err)
	}
	if _, err := os.Stat(f.path); err == nil {
		t.Error("a picture was written all the same")
	}
}
