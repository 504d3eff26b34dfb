package scenes_test

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
	_ "time/tzdata" // Windows has none of its own

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func recordFile(b *scenes.Book, day string) string {
	return b.Path(".deskhand/net-loft/record/" + day + ".jsonl")
}

func addRecord(t testing.TB, m *scenes.Memory, r scenes.Record) {
	t.Helper()
	if err := m.AddRecord(r); err != nil {
		t.Fatal(err)
	}
}

func record(t testing.TB, m *scenes.Memory, day string, unread int) []scenes.Record {
	t.Helper()
	lines, not, err := m.Record(day)
	if err != nil || not != unread {
		t.Fatalf("%d lines can't be read, not %d: %v", not, unread, err)
	}
	return lines
}

func TestEveryKindOfValueComesBackFromTheRecordAsItWas(t *testing.T) {
	values := rapid.OneOf(
		rapid.Map(rapid.Float64Range(-1e6, 1e6), profiles.Number),
		rapid.Map(rapid.Bool(), profiles.Switch),
		rapid.Map(rapid.String(), profiles.Word),
		rapid.SampledFrom([]profiles.Value{{}, profiles.Silence, profiles.Word("-inf"), profiles.Word("null"), profiles.Word(""), profiles.Word(`{"level":"-inf"}`)}),
	)
	rapid.Check(t, func(rt *rapid.T) {
		c := scenes.RecordedChange{From: scenes.RecordedValue{Value: values.Draw(rt, "from")}, To: scenes.RecordedValue{Value: values.Draw(rt, "to")}}
		text, err := json.Marshal(c)
		if err != nil {
			rt.Fatal(err)
		}
		var back scenes.RecordedChange
		if err := json.Unmarshal(text, &back); err != nil {
			rt.Fatalf("%s: %v", text, err)
		}
		if back != c {
			rt.Fatalf("%s came back as %+v, not %+v", text, back, c)
		}
	})
}

func TestALineThatWasOnlyBegunIsCountedAndTheNextIsWhole(t *testing.T) {
	b := folderOf(t, nil)
	m := memoryOf(t, b)
	day := scenes.Evening(evening)
	addRecord(t, m, scenes.Record{Time: evening, What: scenes.DidHold})
	f, err := os.OpenFile(recordFile(b, day), os.O_APPEND|os.O_WRONLY, 0)
	if err == nil {
		_, err = f.WriteString(`{"time":"2031-11-06T19:31:00Z","what":"rel`)
		f.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	if lines := record(t, m, day, 1); len(lines) != 1 {
		t.Errorf("%d lines are whole, not 1", len(lines))
	}
	addRecord(t, m, scenes.Record{Time: evening.Add(time.Minute), What: scenes.DidRelease})
	if lines := record(t, m, day, 1); len(lines) != 2 || lines[1].What != scenes.DidRelease {
		t.Errorf("after one more there are %+v", lines)
	}
}

// A line longer than any buffer goes and comes back whole, also beside others.
const longLine = 300_000

func TestManyAppendAtOnceAndEachLineIsWhole(t *testing.T) {
	if dir := os.Getenv("RECORD_BOOK"); dir != "" {
		appendMany(t, dir, os.Getenv("RECORD_NAME"))
		return
	}
	const processes = 4
	b := folderOf(t, nil)
	var all sync.WaitGroup
	for i := range processes {
		all.Go(func() {
			c := exec.Command(os.Args[0], "-test.run=^TestManyAppendAtOnceAndEachLineIsWhole$")
			c.Env = append(os.Environ(), "RECORD_BOOK="+b.Path("."), fmt.Sprintf("RECORD_NAME=process %d", i))
			if out, err := c.CombinedOutput(); err != nil {
				t.Errorf("%v: %s", err, out)
			}
		})
	}
	all.Wait()
	last := make(map[string]int)
	for _, line := range record(t, memoryOf(t, b), scenes.Evening(evening), 0) {
		number := len(line.Text)
		if number%longLine != last[line.Command]+1 {
			t.Fatalf("%s: line %d comes after %d", line.Command, number%longLine, last[line.Command])
		}
		last[line.Command]++
	}
	want := make(map[string]int)
	for i := range processes {
		want[fmt.Sprintf("process %d", i)] = manyLines
	}
	if diff := cmp.Diff(want, last); diff != "" {
		t.Error(diff)
	}
}

const manyLines = 40

// appendMany writes lines, each one letter longer than the one before, and every tenth very
// long besides.
func appendMany(t *testing.T, dir, name string) {
	b, err := scenes.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	m := memoryOf(t, b)
	for i := 1; i <= manyLines; i++ {
		length := i
		if i%10 == 0 {
			length += longLine
		}
		addRecord(t, m, scenes.Record{Time: evening, What: scenes.DidRecall, Command: name, Text: strings.Repeat("x", length)})
	}
}

func TestAnEveningGoesOnPastMidnight(t *testing.T) {
	m := memoryOf(t, folderOf(t, nil))
	local := func(day, hour, minute int) time.Time { return time.Date(2031, 11, day, hour, minute, 0, 0, time.Local) }
	for _, at := range []time.Time{local(6, 19, 30), local(7, 1, 0), local(7, 5, 59), local(7, 6, 0)} {
		addRecord(t, m, scenes.Record{Time: at, What: scenes.DidHold})
	}
	if diff := cmp.Diff([]string{"2031-11-06", "2031-11-07"}, m.Evenings()); diff != "" {
		t.Fatal(diff)
	}
	if first, second := record(t, m, "2031-11-06", 0), record(t, m, "2031-11-07", 0); len(first) != 3 || len(second) != 1 {
		t.Errorf("%d and %d lines, not 3 and 1", len(first), len(second))
	}
}

func TestNoOtherFileIsReadAsAnEvening(t *testing.T) {
	m := memoryOf(t, folderOf(t, nil))
	for _, day := range []string{"", "..", "../held", "2031-11-6", "2031-02-30", "yesterday"} {
		if _, _, err := m.Record(day); err == nil {
			t.Errorf("%q is taken for a day", day)
		}
	}
}

// What hands have moved counts as recorded until a recall has set it otherwise.
func TestAHandsMoveIsInTheRecordUntilItIsRecalledOtherwise(t *testing.T) {
	b := folderOf(t, nil)
	m := memoryOf(t, b)
	q := parameter(t, "channel.3.fader")
	change := func(to float64) []scenes.RecordedChange {
		return []scenes.RecordedChange{{Parameter: q.String(), To: scenes.RecordedValue{Value: profiles.Number(to)}}}
	}
	for _, step := range []struct {
		what string
		to   float64
		want scenes.Values
	}{
		{scenes.DidRecall, -6, scenes.Values{}},
		{scenes.DidMove, -4, scenes.Values{q: profiles.Number(-4)}},
		{scenes.DidKeep, -4.5, scenes.Values{q: profiles.Number(-4)}},
		{scenes.DidRecall, -6, scenes.Values{}},
	} {
		addRecord(t, m, scenes.Record{What: step.what, Changes: change(step.to)})
		got, err := m.RecordedMoves()
		if err != nil || len(got) != len(step.want) || got[q] != step.want[q] {
			t.Errorf("after %s to %v: %v, %v", step.what, step.to, got, err)
		}
	}
}

// FuzzRecord reads any bytes as a record: nothing panics, each line is read or counted, and
// one more can be added.
func FuzzRecord(f *testing.F) {
	f.Add([]byte(`{"time":"2031-11-06T19:30:00Z","what":"held","by":"remote","confirmed":false}` + "\n" + `{"time":`))
	f.Add([]byte("\n\nnull\n[]\n{}\n\"-inf\"\n"))
	f.Add([]byte(`{"time":"2031-11-06T19:30:00Z","changes":[{"from":{"level":"-inf"},"to":null},{"from":[1],"to":{}}]}`))
	b := folderOf(f, nil)
	m := memoryOf(f, b)
	day := scenes.Evening(evening)
	file := recordFile(b, day)
	if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(file, text, 0o666); err != nil {
			t.Fatal(err)
		}
		lines, unread, err := m.Record(day)
		if most := strings.Count(string(text), "\n") + 1; err != nil || len(lines)+unread > most {
			t.Fatalf("%d lines and %d unread of %d: %v", len(lines), unread, most, err)
		}
		addRecord(t, m, scenes.Record{Time: evening, What: scenes.DidHold, Command: "the last"})
		after, notRead, err := m.Record(day)
		if err != nil || len(after) != len(lines)+1 || notRead != unread || after[len(after)-1].Command != "the last" {
			t.Fatalf("one more makes %d of %d, unread %d of %d: %v", len(after), len(lines), notRead, unread, err)
		}
	})
}

// In Lisbon clocks go forward on 29 March 2026 and back on 25 October.
func TestAnEveningEndsAtSixByTheClockAlsoWhenClocksChange(t *testing.T) {
	lisbon, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	usual := time.Local
	time.Local = lisbon
	t.Cleanup(func() { time.Local = usual })
	for clock, want := range map[string]string{
		"2026-03-29 05:59": "2026-03-28", "2026-03-29 06:00": "2026-03-29", "2026-10-25 05:59": "2026-10-24", "2026-10-25 06:00": "2026-10-25",
	} {
		at, err := time.ParseInLocation("2006-01-02 15:04", clock, lisbon)
		if err != nil {
			t.Fatal(err)
		}
		if got := scenes.Evening(at); got != want {
			t.Errorf("%s belongs to %s, not %s", clock, got, want)
		}
	}
}
