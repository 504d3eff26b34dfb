package scenes_test

import (
	"strings"
	"testing"

	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
)

// checkOrder checks one running order of a book.
func checkOrder(t *testing.T, other files, order string) *scenes.Report {
	t.Helper()
	all := files{"running-orders/x.toml": order}
	for name, text := range other {
		all[name] = text
	}
	return bookOf(t, all).Check([]scenes.Named{{Kind: scenes.RunningOrders, Name: "x"}})
}

const loftOrder = "venue = \"net-loft\"\n"

// item is a scene in line: its title, then lines of its own, then of its positions.
func item(title, keys string, positions ...string) string {
	return "[[scenes]]\ntitle = \"" + title + "\"\n" + keys + strings.Join(positions, "")
}

// on puts a performer on a position in line; open is "", "open" or "muted".
func on(position, performer, open string) string {
	text := "positions." + position + ".performer = \"" + performer + "\"\n"
	switch open {
	case "open":
		text += "positions." + position + ".open = true\n"
	case "muted":
		text += "positions." + position + ".open = false\n"
	}
	return text
}

func TestCheckFindsAPerformerTwiceOnOpenPositions(t *testing.T) {
	for name, c := range map[string]struct {
		order string
		want  []string
	}{
		"in one scene": {item("a", "", on("lectern", "poet", "open"), on("bench", "poet", "open")),
			[]string{`running-orders/x.toml:4: in "a", poet is on lectern and on bench, and both are open: close one of them with open = false`}},
		"left open by a scene before": {item("a", "", on("lectern", "poet", "open")) + item("b", "", on("table-left", "pilot", "open")) + item("c", "", on("bench", "poet", "open")),
			[]string{`running-orders/x.toml:12: in "c", poet is on bench, and still on lectern since "a", and both are open: close one of them with open = false`}},
		"two performers, each told": {item("a", "", on("lectern", "poet", "open"), on("bench", "poet", "open"), on("roving", "pilot", "open"), on("table-left", "pilot", "open")),
			[]string{`running-orders/x.toml:4: in "a", poet is on lectern and on bench, and both are open: close one of them with open = false`,
				`running-orders/x.toml:8: in "a", pilot is on roving and on table-left, and both are open: close one of them with open = false`}},
		"one of them muted":               {item("a", "", on("lectern", "poet", "open"), on("bench", "poet", "muted")), nil},
		"nobody has said that it is open": {item("a", "", on("lectern", "poet", "open"), on("bench", "poet", "")), nil},
		"the first was closed":            {item("a", "", on("lectern", "poet", "open")) + item("b", "", "positions.lectern.open = false\n", on("bench", "poet", "open")), nil},
		"somebody else came":              {item("a", "", on("lectern", "poet", "open")) + item("b", "", on("lectern", "pilot", ""), on("bench", "poet", "open")), nil},
		"opened again by another scene": {item("a", "", on("lectern", "poet", "open")) + item("b", "", on("bench", "poet", "muted")) + item("c", "", on("bench", "poet", "open")),
			[]string{`running-orders/x.toml:12: in "c", poet is on bench, and still on lectern since "a", and both are open: close one of them with open = false`}},
		"nobody, on two": {item("a", "", "positions.lectern.open = true\npositions.bench.open = true\n"), nil},
	} {
		t.Run(name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, texts(checkOrder(t, nil, loftOrder+c.order).Faults)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// A scene's file may be right by itself: what comes of the order is told at the item. What is
// wrong in the file is told there.
func TestCheckTellsOfAPerformerTwiceWhereItCanBeMended(t *testing.T) {
	other := files{
		"scenes/one.toml": plainScene + on("lectern", "poet", "open"),
		"scenes/two.toml": plainScene + on("bench", "pilot", "open") + on("roving", "pilot", "open"),
	}
	for order, want := range map[string]string{
		item("a", "", on("bench", "poet", "open")) + "[[scenes]]\nscene = \"one\"\n": `running-orders/x.toml:7: in "one", poet is on lectern, and still on bench since "a", and both are open: close one of them with open = false`,
		"[[scenes]]\nscene = \"two\"\n":                                              `scenes/two.toml:2: in "two", pilot is on bench and on roving, and both are open: close one of them with open = false`,
	} {
		if diff := cmp.Diff([]string{want}, texts(checkOrder(t, other, loftOrder+order).Faults)); diff != "" {
			t.Error(diff)
		}
	}
}

// In the second scene the bench can't be had; that the lectern went to the pilot counts all the
// same, so that the poet is on one position only.
func TestCheckGoesOnBehindASceneThatCantBeHad(t *testing.T) {
	order := item("a", "", on("lectern", "poet", "open")) + item("b", "", on("lectern", "pilot", "open"), on("bench", "poe", "open")) + item("c", "", on("bench", "poet", "open"))
	want := []string{`running-orders/x.toml:10: there is no performer "poe" in the book: did you mean "poet"?`}
	if diff := cmp.Diff(want, texts(checkOrder(t, nil, loftOrder+order).Faults)); diff != "" {
		t.Error(diff)
	}
}

func TestCheckFindsAScenesMissingPositionAndPerformer(t *testing.T) {
	got := texts(checkOrder(t, nil, loftOrder+item("a", "", on("lecturn", "poet", ""), on("bench", "peot", ""))).Faults)
	want := []string{
		`running-orders/x.toml:4: venues/net-loft.toml has no position "lecturn": did you mean "lectern"?`,
		`running-orders/x.toml:5: there is no performer "peot" in the book: did you mean "poet"?`,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// raftOrder has the performers of hutBook whose gains on the raft-8's lectern are 18 dB (pilot,
// twin), 24 dB (poet) and, here, 50, 10 and 16 dB.
func raftOrder() files {
	f := hutBook()
	f["performers/whisperer.toml"] = voiceAt(50, "")
	f["performers/shouter.toml"] = voiceAt(10, "")
	f["performers/just.toml"] = voiceAt(16, "")
	f["venues/hut.toml"] = raftHut + "[positions.desk]\nchannel = 3\nmicrophone = \"condenser\"\ndistance = 0.4\n"
	delete(f, "running-orders/evening.toml")
	return f
}

// A hand takes 5 s to find a knob and 0.3 s to turn it by a decibel; where no pause is planned
// it has 15 s.
func TestCheckFindsGainsThatAHandCantTurnInTime(t *testing.T) {
	const order = "venue = \"hut\"\n"
	planned := func(start, length string) string {
		return "start = \"" + start + "\"\nlength = \"" + length + "\"\n"
	}
	for name, c := range map[string]struct {
		order string
		want  []string
	}{
		// One knob by 40 dB: 5 + 12 = 17 s.
		"one knob too far": {item("a", "", on("lectern", "shouter", "")) + item("b", "", on("lectern", "whisperer", "")),
			[]string{`running-orders/x.toml:7: for "b" a hand has to turn the gain of lectern from 10.0 dB to 50.0 dB within 15 s, and needs about 17 s with all that is to be turned: leave a longer pause, or put the performer on another position`}},
		// One knob by 32 dB: 5 + 9.6 = 14.6 s.
		"one knob in time": {item("a", "", on("lectern", "pilot", "")) + item("b", "", on("lectern", "whisperer", "")), nil},
		// Two knobs, by 8 and 14 dB: 5 + 2.4 + 5 + 4.2 = 16.6 s, said as 17 s; the farther is named.
		"two knobs": {item("a", "", on("lectern", "pilot", ""), on("desk", "poet", "")) + item("b", "", on("lectern", "shouter", ""), on("desk", "shouter", "")),
			[]string{`running-orders/x.toml:9: for "b" a hand has to turn the gain of desk from 24.0 dB to 10.0 dB within 15 s, and needs about 17 s with all that is to be turned: leave a longer pause, or put the performer on another position`}},
		// The same gain on both, or a knob that nobody has touched yet, needs no time.
		"nothing to turn":    {item("a", "", on("lectern", "pilot", "")) + item("b", "", on("lectern", "twin", ""), on("desk", "whisperer", "")), nil},
		"the first scene":    {item("a", "", on("lectern", "whisperer", ""), on("desk", "shouter", "")), nil},
		"a pause is planned": {item("a", planned("19:00", "20m"), on("lectern", "shouter", "")) + item("b", planned("19:21", "5m"), on("lectern", "whisperer", "")), nil},
		// 19:00 and 19:59:50 leave 10 s for the 17 s.
		"a short pause": {item("a", planned("19:00", "59m50s"), on("lectern", "shouter", "")) + item("b", planned("20:00", "5m"), on("lectern", "whisperer", "")),
			[]string{`running-orders/x.toml:11: for "b" a hand has to turn the gain of lectern from 10.0 dB to 50.0 dB within 10 s, and needs about 17 s with all that is to be turned: leave a longer pause, or put the performer on another position`}},
		// 23:50 and 20 minutes end at 00:10; 5 minutes are left.
		"a pause after midnight": {item("a", planned("23:50", "20m"), on("lectern", "shouter", "")) + item("b", planned("00:15", "5m"), on("lectern", "whisperer", "")), nil},
		// A scene without a time follows at once: 19:00 and twice 10 minutes end at 19:20; 16 s of
		// the minute until 19:21 are left.
		"a pause behind a scene without a time": {item("a", planned("19:00", "10m"), on("lectern", "shouter", "")) + item("b", "length = \"10m44s\"\n", on("desk", "pilot", "")) + item("c", "start = \"19:21\"\n", on("lectern", "whisperer", "")),
			[]string{`running-orders/x.toml:14: for "c" a hand has to turn the gain of lectern from 10.0 dB to 50.0 dB within 16 s, and needs about 17 s with all that is to be turned: leave a longer pause, or put the performer on another position`}},
		// Without the length of the scene before nobody knows the pause: 15 s.
		"a scene without a length": {item("a", "start = \"19:00\"\n", on("lectern", "shouter", "")) + item("b", "start = \"19:30\"\n", on("lectern", "whisperer", "")),
			[]string{`running-orders/x.toml:9: for "b" a hand has to turn the gain of lectern from 10.0 dB to 50.0 dB within 15 s, and needs about 17 s with all that is to be turned: leave a longer pause, or put the performer on another position`}},
		// One knob by 34 dB: 5 + 10.2 = 15.2 s, which are more than 15 and said as 16.
		"just too far": {item("a", "", on("lectern", "just", "")) + item("b", "", on("lectern", "whisperer", "")),
			[]string{`running-orders/x.toml:7: for "b" a hand has to turn the gain of lectern from 16.0 dB to 50.0 dB within 15 s, and needs about 16 s with all that is to be turned: leave a longer pause, or put the performer on another position`}},
		// The gain stays from the scene before last.
		"over a scene that doesn't speak of it": {item("a", "", on("lectern", "shouter", "")) + item("b", "", on("desk", "pilot", "")) + item("c", "", on("lectern", "whisperer", "")),
			[]string{`running-orders/x.toml:10: for "c" a hand has to turn the gain of lectern from 10.0 dB to 50.0 dB within 15 s, and needs about 17 s with all that is to be turned: leave a longer pause, or put the performer on another position`}},
	} {
		t.Run(name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, texts(checkOrder(t, raftOrder(), order+c.order).Faults)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// The scene's file is right for another order of scenes, so that the item is named.
func TestCheckTellsOfGainsOfASceneWithAFileAtTheItem(t *testing.T) {
	other := raftOrder()
	other["scenes/loud.toml"] = "venue = \"hut\"\n" + on("lectern", "whisperer", "")
	got := texts(checkOrder(t, other, "venue = \"hut\"\n"+item("a", "", on("lectern", "shouter", ""))+"[[scenes]]\nscene = \"loud\"\n").Faults)
	if len(got) != 1 || !strings.HasPrefix(got[0], `running-orders/x.toml:6: for "loud" a hand has to turn the gain of lectern from 10.0 dB to 50.0 dB`) {
		t.Errorf("%q", got)
	}
}

func TestCheckLeavesGainsAloneThatNoHandSets(t *testing.T) {
	order := item("a", "", on("lectern", "shouter", "")) + item("b", "", on("lectern", "whisperer", ""))
	safe := raftOrder()
	safe["venues/hut.toml"] = "safes = [\"input.gain\"]\n" + safe["venues/hut.toml"]
	if found := checkOrder(t, safe, "venue = \"hut\"\n"+order).Faults; len(found) > 0 {
		t.Error("safe:", found)
	}
	over := raftOrder()
	over["venues/hut.toml"] = strings.Replace(over["venues/hut.toml"], "raft-8", "quay-24", 1)
	if found := checkOrder(t, over, "venue = \"hut\"\n"+order).Faults; len(found) > 0 {
		t.Error("over OSC:", found)
	}
}

func TestCheckTellsOfScenesThatOverlap(t *testing.T) {
	two := func(first, length, second string) string {
		return item("a", "start = \""+first+"\"\nlength = \""+length+"\"\n", on("lectern", "poet", "")) + item("b", "start = \""+second+"\"\n", on("lectern", "pilot", ""))
	}
	for name, c := range map[string]struct {
		order string
		want  []string
	}{
		"overlap":             {two("19:00", "30m", "19:20"), []string{`running-orders/x.toml:7: "b" is planned for 19:20, and "a" before it goes on until 19:30`}},
		"before it":           {two("19:00", "30m", "18:50"), []string{`running-orders/x.toml:7: "b" is planned for 18:50, and "a" before it goes on until 19:30`}},
		"one after the other": {two("19:00", "30m", "19:30"), nil},
		"over midnight":       {two("23:50", "20m", "00:10"), nil},
		"a time before it, without a length": {item("a", "start = \"19:00\"\n", on("lectern", "poet", "")) + item("b", "start = \"18:50\"\n", on("lectern", "pilot", "")),
			[]string{`running-orders/x.toml:6: "b" is planned for 18:50, and "a" before it for 19:00`}},
		"behind a scene without a time": {item("a", "start = \"19:00\"\nlength = \"30m\"\n", on("lectern", "poet", "")) + item("b", "", on("lectern", "pilot", "")) + item("c", "start = \"19:10\"\n", on("lectern", "poet", "")),
			[]string{`running-orders/x.toml:10: "c" is planned for 19:10, and "a" before it goes on until 19:30`}},
		"well after midnight": {two("23:50", "20m", "00:10") + item("c", "start = \"00:30\"\n", on("lectern", "poet", "")) + item("d", "start = \"00:20\"\n", on("lectern", "poet", "")),
			[]string{`running-orders/x.toml:15: "d" is planned for 00:20, and "c" before it for 00:30`}},
		"overlap after midnight": {two("23:50", "30m", "00:10"), []string{`running-orders/x.toml:7: "b" is planned for 00:10, and "a" before it goes on until 00:20`}},
	} {
		t.Run(name, func(t *testing.T) {
			report := checkOrder(t, nil, loftOrder+c.order)
			if diff := cmp.Diff(c.want, texts(report.Warnings)); diff != "" || len(report.Faults) > 0 {
				t.Errorf("%v %s", report.Faults, diff)
			}
		})
	}
}
