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
			[]string{`running-orders/x.toml:12: in "c", poet is on bench and on lectern, and both are open: close one of them with open = false`}},
		"two performers, each told": {item("a", "", on("lectern", "poet", "open"), on("bench", "poet", "open"), on("roving", "pilot", "open"), on("table-left", "pilot", "open")),
			[]string{`running-orders/x.toml:4: in "a", poet is on lectern and on bench, and both are open: close one of them with open = false`,
				`running-orders/x.toml:8: in "a", pilot is on roving and on table-left, and both are open: close one of them with open = false`}},
		"one of them muted":               {item("a", "", on("lectern", "poet", "open"), on("bench", "poet", "muted")), nil},
		"nobody has said that it is open": {item("a", "", on("lectern", "poet", "open"), on("bench", "poet", "")), nil},
		"the first was closed":            {item("a", "", on("lectern", "poet", "open")) + item("b", "", "positions.lectern.open = false\n", on("bench", "poet", "open")), nil},
		"somebody else came":              {item("a", "", on("lectern", "poet", "open")) + item("b", "", on("lectern", "pilot", ""), on("bench", "poet", "open")), nil},
		"nobody, on two":                  {item("a", "", "positions.lectern.open = true\npositions.bench.open = true\n"), nil},
	} {
		t.Run(name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, texts(checkOrder(t, nil, loftOrder+c.order).Faults)); diff != "" {
				t.Error(diff)
			}
		})
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
// twin), 24 dB (poet) and, here, 50 and 10 dB.
func raftOrder() files {
	f := hutBook()
	f["performers/whisperer.toml"] = voiceAt(50, "")
	f["performers/shouter.toml"] = voiceAt(10, "")
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
		"overlap":                {two("19:00", "30m", "19:20"), []string{`running-orders/x.toml:7: "b" is planned for 19:20, and "a" before it goes on until 19:30`}},
		"before it":              {two("19:00", "30m", "18:50"), []string{`running-orders/x.toml:7: "b" is planned for 18:50, and "a" before it goes on until 19:30`}},
		"one after the other":    {two("19:00", "30m", "19:30"), nil},
		"over midnight":          {two("23:50", "20m", "00:10"), nil},
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
