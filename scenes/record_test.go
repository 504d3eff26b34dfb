package scenes_test

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// values are those of every kind, those that look like others among them.
func values() *rapid.Generator[profiles.Value] {
	return rapid.OneOf(
		rapid.Map(rapid.Float64Range(-1e6, 1e6), profiles.Number), rapid.Map(rapid.Bool(), profiles.Switch), rapid.Map(rapid.String(), profiles.Word),
		rapid.SampledFrom([]profiles.Value{{}, profiles.Silence, profiles.Word("-inf"), profiles.Word(`{"level":"-inf"}`), profiles.Word(""), profiles.Number(0)}),
	)
}

func TestARecordedValueReadsBackAsItWas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := values().Draw(t, "value")
		if word, isWord := want.Word(); isWord && strings.ToValidUTF8(word, "") != word {
			t.Skip("no text of a desk")
		}
		text, err := json.Marshal(scenes.RecordedValue{want})
		if err != nil {
			t.Fatal(err)
		}
		var got scenes.RecordedValue
		if err := json.Unmarshal(text, &got); err != nil || got.Value != want {
			t.Fatalf("%v as %s reads back as %v, %v", want, text, got.Value, err)
		}
	})
}

func recordingMemory(t *testing.T) (*scenes.Book, *scenes.Memory) {
	t.Helper()
	b := folderOf(t, nil)
	return b, memoryOf(t, b)
}

func TestALineThatWasOnlyBegunIsCountedAndSpoilsNoOther(t *testing.T) {
	b, m := recordingMemory(t)
	at := time.Date(2026, 11, 26, 20, 0, 0, 0, time.Local)
	add := func(position string) {
		t.Helper()
		if err := m.AddRecord(scenes.Record{Time: at, What: scenes.DidRecall, By: scenes.ByUs, Position: position}); err != nil {
			t.Fatal(err)
		}
	}
	add("lectern")
	file := b.Path(".deskhand/net-loft/record/2026-11-26.jsonl")
	f, err := os.OpenFile(file, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteString(`{"time":"2026-11-26T20:0`); err != nil { // as when the power fails
		t.Fatal(err)
	}
	f.Close()
	add("bench")
	lines, unread, err := m.Record("2026-11-26")
	if err != nil || unread != 1 || len(lines) != 2 || lines[0].Position != "lectern" || lines[1].Position != "bench" {
		t.Errorf("read %+v, %d unread, %v", lines, unread, err)
	}
}

func TestManyWhoWriteTheRecordAtOnceLeaveWholeLines(t *testing.T) {
	_, m := recordingMemory(t)
	at := time.Date(2026, 11, 26, 20, 0, 0, 0, time.Local)
	long := strings.Repeat("a long text, as of a recall of many channels; ", 2000) // 90 kB
	var writers sync.WaitGroup
	for w := range 8 {
		writers.Go(func() {
			for n := range 25 {
				if err := m.AddRecord(scenes.Record{Time: at, What: scenes.DidRecall, By: scenes.ByUs, Position: fmt.Sprint(w, "-", n), Text: long}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	writers.Wait()
	lines, unread, err := m.Record("2026-11-26")
	if err != nil || unread > 0 || len(lines) != 200 {
		t.Errorf("%d lines, %d unread, %v", len(lines), unread, err)
	}
}

func TestAnEveningGoesOnPastMidnight(t *testing.T) {
	for clock, want := range map[string]string{"26 20:00": "2026-11-26", "27 00:30": "2026-11-26", "27 05:59": "2026-11-26", "27 06:00": "2026-11-27"} {
		at, err := time.ParseInLocation("2006-01 02 15:04", "2026-11 "+clock, time.Local)
		if err != nil {
			t.Fatal(err)
		}
		if got := scenes.Evening(at); got != want {
			t.Errorf("%s belongs to %s, not %s", clock, got, want)
		}
	}
}

func TestTheEveningsAreListedAndNothingElse(t *testing.T) {
	b, m := recordingMemory(t)
	for _, day := range []int{27, 26} {
		if err := m.AddRecord(scenes.Record{Time: time.Date(2026, 11, day, 20, 0, 0, 0, time.Local), What: scenes.DidHold, By: scenes.ByUs}); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(b.Path(".deskhand/net-loft/record/notes.jsonl"), nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"2026-11-26", "2026-11-27"}, m.Evenings()); diff != "" {
		t.Error(diff)
	}
	if _, _, err := m.Record("../../book"); err == nil {
		t.Error("a path is no evening")
	}
}
