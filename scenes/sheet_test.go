package scenes_test

import (
	"fmt"
	"testing"

	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
)

// raftHut is a room with a raft-8: gain in steps of 2 dB and phantom power, a switch for
// four channels, are for a hand.
const raftHut = `[desk]
profile = "raft-8"
address = "127.0.0.1"
[microphones.condenser]
sensitivity = -40
phantom = true
[microphones.dynamic]
sensitivity = -54
phantom = false
[positions.door]
channel = 6
microphone = "dynamic"
distance = 0.1
[positions.lectern]
channel = 2
microphone = "condenser"
distance = 0.4
[positions.stool]
channel = 4
microphone = "dynamic"
distance = 0.1
[positions.spare]
channel = 8
`

// voiceAt is a performer whose gain was dialled in as the lectern of raftHut is.
func voiceAt(gain float64, more string) string {
	return fmt.Sprintf("%s[dialled-in]\nsensitivity = -40\ndistance = 0.4\n[strip]\ninput.gain = %v\n", more, gain)
}

func sheetOf(t *testing.T, other files, order string) *scenes.Sheet {
	t.Helper()
	b := bookOf(t, other)
	o, err := b.RunningOrder(order)
	if err != nil {
		t.Fatal(err)
	}
	s, err := b.Sheet(o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// handLines says what a hand does: scene, setting, from, to.
func handLines(s *scenes.Sheet) []string {
	var lines []string
	for _, h := range s.Hand {
		lines = append(lines, fmt.Sprintf("%d %s %s %s: %s -> %s", h.Scene, h.Position, h.Performer, h.Change.Parameter, h.Change.From, h.Change.To))
	}
	return lines
}

const hutEvening = `venue = "hut"
[[scenes]]
title = "one"
[scenes.positions.lectern]
performer = "pilot"
open = true
[[scenes]]
title = "two"
[scenes.positions.stool]
open = false
[scenes.positions.door]
[scenes.positions.lectern]
performer = "twin"
[[scenes]]
title = "three"
[scenes.positions.lectern]
performer = "poet"
[[scenes]]
title = "four"
[scenes.positions.door]
performer = "poet"
`

func hutBook() files {
	return files{
		"venues/hut.toml":             raftHut,
		"performers/pilot.toml":       voiceAt(18, "title = \"The pilot\"\n"),
		"performers/twin.toml":        voiceAt(18, ""),
		"performers/poet.toml":        voiceAt(25, "") + "label = \"Poet of the harbour\"\n",
		"running-orders/evening.toml": hutEvening,
	}
}

// By hand: the gain of the lectern is 18 dB for the pilot, and stays for the twin; 25 dB for
// the poet lies between the steps of 24 and 26 dB, and steps as coarse as these are taken
// from below. At the door the poet has a microphone 14 dB less sensitive than the one of
// -40 dB, at a quarter of the distance, 12.04 dB louder: 25 + 14 - 12.04 = 26.96, and the
// step below is 26. The switch of channels
// 1 to 4 is on for the lectern, so the stool needs nothing; that of 5 to 8 is to be off.
func TestASheetSaysWhatAHandSetsOnlyWhereItChanges(t *testing.T) {
	want := []string{
		"1 lectern pilot channel.2.input.gain: nothing -> 18",
		"1 lectern pilot channel.2.input.phantom: nothing -> on",
		"2 door  channel.6.input.phantom: nothing -> off",
		"3 lectern poet channel.2.input.gain: 18 -> 24",
		"4 door poet channel.6.input.gain: nothing -> 26",
	}
	if diff := cmp.Diff(want, handLines(sheetOf(t, hutBook(), "evening"))); diff != "" {
		t.Error(diff)
	}
}

func TestASheetListsTheInputsOfTheEventByChannel(t *testing.T) {
	var lines []string
	for _, in := range sheetOf(t, hutBook(), "evening").Inputs {
		line := fmt.Sprintf("%d %s %s:", in.Position.Channel, in.Position.Name, in.Phantom)
		for _, turn := range in.Turns {
			open := "as it was"
			if turn.Open != nil {
				open = map[bool]string{true: "open", false: "muted"}[*turn.Open]
			}
			line += fmt.Sprintf(" %d-%d %q %s;", turn.First, turn.Last, turn.Performer, open)
		}
		lines = append(lines, line)
	}
	want := []string{
		`2 lectern on: 1-1 "pilot" open; 2-2 "twin" open; 3-4 "poet" open;`,
		`4 stool shared: 2-4 "" muted;`,
		`6 door off: 2-3 "" as it was; 4-4 "poet" as it was;`,
	}
	if diff := cmp.Diff(want, lines); diff != "" {
		t.Error(diff)
	}
}

// The range is from the lectern's channel 2 to the door's 6. A performer without a label is
// called by title, without one by name; a label that the desk has no place for is on paper.
func TestALabelStripHasEachChannelOfTheRange(t *testing.T) {
	strip := func(first, last int, lectern, door string) scenes.LabelStrip {
		return scenes.LabelStrip{First: first, Last: last, Labels: []scenes.Label{
			{Channel: 2, Position: "lectern", Text: lectern}, {Channel: 3}, {Channel: 4, Position: "stool"}, {Channel: 5}, {Channel: 6, Position: "door", Text: door},
		}}
	}
	want := []scenes.LabelStrip{strip(1, 1, "The pilot", ""), strip(2, 2, "twin", ""), strip(3, 3, "Poet of the harbour", ""), strip(4, 4, "Poet of the harbour", "Poet of the harbour")}
	if diff := cmp.Diff(want, sheetOf(t, hutBook(), "evening").Strips); diff != "" {
		t.Error(diff)
	}
}

func TestLabelsOfTheExampleEvening(t *testing.T) {
	strip := func(first, last int, lectern, table, bench string) scenes.LabelStrip {
		return scenes.LabelStrip{First: first, Last: last, Labels: []scenes.Label{
			{Channel: 3, Position: "lectern", Text: lectern}, {Channel: 4}, {Channel: 5, Position: "table-left", Text: table},
			{Channel: 6, Position: "bench", Text: bench}, {Channel: 7, Position: "roving"},
		}}
	}
	want := []scenes.LabelStrip{strip(1, 1, "Botanist", "Pilot", ""), strip(2, 3, "Poet", "", "Bellfounder"), strip(4, 4, "Poet", "", "")}
	s := sheetOf(t, nil, "winter-talks")
	if diff := cmp.Diff(want, s.Strips); diff != "" {
		t.Error(diff)
	}
	if len(s.Hand) > 0 {
		t.Error("by hand on a desk that OSC reaches whole:", handLines(s))
	}
}

func TestALabelOfThePositionsOwnIsNotThePerformers(t *testing.T) {
	s := sheetOf(t, files{
		"venues/shed.toml":      plainVenue + "[positions.lectern]\nchannel = 1\nstrip.label = \"Lectern\"\n",
		"performers/x.toml":     "title = \"The diver\"\n",
		"performers/y.toml":     "[strip]\nlabel = \"A label longer than the desk's\"\n",
		"running-orders/o.toml": "venue = \"shed\"\n[[scenes]]\ntitle = \"a\"\npositions.lectern.performer = \"x\"\n[[scenes]]\ntitle = \"b\"\npositions.lectern.performer = \"y\"\n",
	}, "o")
	want := []scenes.LabelStrip{
		{First: 1, Last: 1, Labels: []scenes.Label{{Channel: 1, Position: "lectern", Text: "The diver"}}},
		{First: 2, Last: 2, Labels: []scenes.Label{{Channel: 1, Position: "lectern", Text: "A label longer than the desk's"}}},
	}
	if diff := cmp.Diff(want, s.Strips); diff != "" {
		t.Error(diff)
	}
}

func TestASheetNeverAsksForPhantomPowerThatHarms(t *testing.T) {
	other := hutBook()
	other["venues/hut.toml"] = raftHut + "[microphones.ribbon]\nsensitivity = -54\nphantom = false\nharmed-by-phantom = true\n[positions.sofa]\nchannel = 3\nmicrophone = \"ribbon\"\n[positions.wall]\nchannel = 7\nmicrophone = \"ribbon\"\n"
	other["running-orders/evening.toml"] = hutEvening + "[scenes.positions.sofa]\n[scenes.positions.wall]\n"
	s := sheetOf(t, other, "evening")
	got := make(map[string]scenes.Phantom)
	for _, in := range s.Inputs {
		got[in.Position.Name] = in.Phantom
	}
	want := map[string]scenes.Phantom{
		"lectern": scenes.PhantomConflict, "sofa": scenes.PhantomConflict, "stool": scenes.PhantomConflict,
		"door": scenes.PhantomOff, "wall": scenes.PhantomHarms,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	for _, h := range s.Hand {
		if on, _ := h.Change.To.On(); on && h.Change.Parameter.Name == "input.phantom" {
			t.Errorf("the sheet asks for phantom power at %s", h.Position)
		}
	}
}

// The sofa's ribbon shares the lectern's switch and may be plugged in, though nobody sits there
// this evening: a recall would be refused, and a sheet doesn't ask for it either.
func TestASheetSparesAMicrophoneThatTheEventDoesntUse(t *testing.T) {
	other := hutBook()
	other["venues/hut.toml"] = raftHut + "[microphones.ribbon]\nsensitivity = -54\nphantom = false\nharmed-by-phantom = true\n[positions.sofa]\nchannel = 3\nmicrophone = \"ribbon\"\n"
	s := sheetOf(t, other, "evening")
	for _, h := range s.Hand {
		if on, _ := h.Change.To.On(); on {
			t.Errorf("the sheet asks for phantom power at %s", h.Position)
		}
	}
	var at []string
	for _, p := range s.InConflict() {
		at = append(at, p.Name)
	}
	if diff := cmp.Diff([]string{"lectern", "sofa", "stool"}, at); diff != "" || s.Inputs[0].Phantom != scenes.PhantomConflict {
		t.Errorf("lectern %s: %s", s.Inputs[0].Phantom, diff)
	}
}

func TestWhatIsSafeIsForNoHand(t *testing.T) {
	other := hutBook()
	other["venues/hut.toml"] = "safes = [\"input.gain\"]\n" + raftHut
	want := []string{"1 lectern pilot channel.2.input.phantom: nothing -> on", "2 door  channel.6.input.phantom: nothing -> off"}
	if diff := cmp.Diff(want, handLines(sheetOf(t, other, "evening"))); diff != "" {
		t.Error(diff)
	}
}
