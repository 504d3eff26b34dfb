package main

import (
	"maps"
	"math"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/tone"
)

// stripKey says which strip of a side is meant: the one at a place of a desk, or of those
// that are as written the one whose settings begin with some words, such as a position.
type stripKey struct {
	place  profiles.Place
	prefix string
}

// stripsOf takes a side apart into its strips, in its order.
func stripsOf(s *side) (keys []stripKey, strips map[stripKey][]scenes.Stated) {
	strips = make(map[stripKey][]scenes.Stated)
	for _, e := range s.Entries {
		key := stripKey{place: e.Parameter.Place}
		if s.venue == nil {
			key.prefix, e.Parameter.Name = writtenName(e.Parameter.Name)
		}
		if strips[key] == nil {
			keys = append(keys, key)
		}
		strips[key] = append(strips[key], e)
	}
	return keys, strips
}

var shapingName = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^(?:(.*)\.)?((?:lowcut|eq)\..*)$`) })

// writtenName takes apart the name of a setting as it is written: "lectern.eq.2.gain" is
// "lectern" and "eq.2.gain". What shapes no spectrum stays whole.
func writtenName(name string) (prefix, setting string) {
	if found := shapingName().FindStringSubmatch(name); found != nil {
		return found[1], found[2]
	}
	return "", name
}

// drawDifferences writes a picture of the strips whose curve differs, if any does.
func (f *pictureFile) drawDifferences(x, y *side) ([]panel, error) {
	panels := differencePanels(x, y)
	if len(panels) == 0 {
		return nil, nil
	}
	return panels, f.draw(panels)
}

// differencePanels draws the strips whose curve differs between two sides.
func differencePanels(x, y *side) []panel {
	keys, theirs := stripsOf(x)
	others, ours := stripsOf(y)
	for _, key := range others {
		if _, both := theirs[key]; !both {
			keys = append(keys, key)
		}
	}
	var panels []panel
	for _, key := range keys {
		was, is := x.settings(key, theirs), y.settings(key, ours)
		if x.Partial || y.Partial { // what a side doesn't speak of is as the other has it
			was, is = over(is, was), over(was, is)
		}
		from, to := x.equaliser(was), y.equaliser(is)
		if !sameCurve(from, to) {
			panels = append(panels, pairPanel(x, y, key, from, to))
		}
	}
	return panels
}

// settings gives a strip of a side. What a performer's file has for one venue lies over
// what it has for all.
func (s *side) settings(key stripKey, strips map[stripKey][]scenes.Stated) stripSettings {
	if s.venue != nil {
		return settingsOf(s.venue.Desk.Profile, key.place, strips[key])
	}
	out := make(stripSettings)
	if s.kind == scenes.Performers {
		out = byName(strips[stripKey{}])
	}
	return over(out, byName(strips[key]))
}

func byName(entries []scenes.Stated) stripSettings {
	s := make(stripSettings)
	for _, e := range entries {
		s[e.Parameter.Name] = e
	}
	return s
}

// over lays some settings over others.
func over(under, upper stripSettings) stripSettings {
	s := maps.Clone(under)
	maps.Copy(s, upper)
	return s
}

// plainRate is the sample rate in Hz at which a strip is drawn that is on no desk yet.
const plainRate = 48000

// equaliser works out what settings do on the side's desk.
func (s *side) equaliser(of stripSettings) equaliser {
	if s.venue != nil {
		return equaliserOf(tone.DeskOf(s.venue.Desk.Profile), s.venue.Desk.Profile.Bands, of)
	}
	return equaliserOf(tone.Desk{Rate: plainRate}, highestBand(of), of)
}

// highestBand is the highest number of a band that settings speak of.
func highestBand(of stripSettings) int {
	highest := 0
	for name := range of {
		group, _, _ := cutLast(name)
		if number, ok := strings.CutPrefix(group, "eq."); ok {
			n, _ := strconv.Atoi(number)
			highest = max(highest, n)
		}
	}
	return highest
}

// unheard is a difference in dB that nobody hears and no picture shows.
const unheard = 0.01

func sameCurve(from, to equaliser) bool {
	hz := append(from.across(graphPoints), to.across(graphPoints)...)
	was, is := from.curve(from.shape, hz), to.curve(to.shape, hz)
	for i := range hz {
		if math.Abs(was[i]-is[i]) > unheard {
			return false
		}
	}
	return true
}

// pairPanel is the graph of one strip before and after.
func pairPanel(x, y *side, key stripKey, from, to equaliser) panel {
	words := []string{"as written"}
	name := "the strip as written"
	switch {
	case x.venue != nil:
		name = key.place.Say()
		words = []string{name, x.venue.Desk.Profile.Name}
		if p := x.venue.PositionOn(key.place); p != nil {
			name, words = p.Name, append([]string{p.Name}, words...)
		}
	case key.prefix != "":
		name = key.prefix
		words = []string{name, "as written"}
	}
	lowFrom, highFrom := from.reach()
	lowTo, highTo := to.reach()
	p := panel{
		name: name, title: []string{strings.Join(words, " · "), x.Title + " -> " + y.Title},
		frame: frameFor(min(lowFrom, lowTo), max(highFrom, highTo)),
	}
	was, is := from.across(graphPoints), to.across(graphPoints)
	p.lines = []graphLine{
		{"before: " + x.Title, before, was, from.curve(from.shape, was)},
		{"after: " + y.Title, whole, is, to.curve(to.shape, is)},
	}
	return p
}
