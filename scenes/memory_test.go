package scenes_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
)

var evening = time.Date(2031, 11, 6, 19, 30, 0, 0, time.UTC)

func parameter(t testing.TB, path string) profiles.Parameter {
	t.Helper()
	q, err := profiles.ParseParameter(path)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

func memoryOf(t testing.TB, b *scenes.Book) *scenes.Memory {
	t.Helper()
	m, err := b.Memory(venueOf(t, b, "net-loft"))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestNothingRememberedIsNoError(t *testing.T) {
	m := memoryOf(t, folderOf(t, nil))
	if len(m.Held.Values) != 0 || len(m.On) != 0 || len(m.Unfinished) != 0 {
		t.Errorf("got %+v", m)
	}
	if r, _, err := m.Undo(); r != nil || err != nil {
		t.Errorf("undo: %v, %v", r, err)
	}
}

func TestWhatIsSavedIsRemembered(t *testing.T) {
	b := folderOf(t, nil)
	m := memoryOf(t, b)
	fader, gain := parameter(t, "channel.3.fader"), parameter(t, "channel.3.input.gain")
	m.Hold(scenes.Values{fader: profiles.Number(-6), gain: profiles.Number(32.5)})
	m.Doubt(gain)
	m.On["lectern"], m.On["table-left"] = "poet", ""
	m.Unfinished["lectern"] = true
	if err := m.Save(evening); err != nil {
		t.Fatal(err)
	}
	again := memoryOf(t, b)
	control, _ := venueOf(t, b, "net-loft").Desk.Profile.Control(fader)
	if len(again.Held.Values) != 1 || !control.Same(again.Held.Values[fader], profiles.Number(-6)) || !again.Held.Taken.Equal(evening) {
		t.Errorf("held: %+v", again.Held)
	}
	if diff := cmp.Diff(map[string]string{"lectern": "poet", "table-left": ""}, again.On); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff(map[string]bool{"lectern": true}, again.Unfinished); diff != "" {
		t.Error(diff)
	}
}

func TestWhatAnotherDeskHeldIsForgotten(t *testing.T) {
	b := folderOf(t, files{"profiles/hut-8.toml": hut})
	m := memoryOf(t, b)
	m.Hold(scenes.Values{parameter(t, "channel.3.fader"): profiles.Number(-6)})
	m.On["lectern"] = "poet"
	if err := m.Save(evening); err != nil {
		t.Fatal(err)
	}
	venue := hutVenue + "[positions.lectern]\nchannel = 3\n"
	if err := os.WriteFile(b.Path("venues/net-loft.toml"), []byte(venue), 0o600); err != nil {
		t.Fatal(err)
	}
	if m = memoryOf(t, b); len(m.Held.Values) != 0 || m.Held.Desk != "hut-8" {
		t.Errorf("held: %+v", m.Held)
	}
}

func TestABrokenMemorySaysWhatToDo(t *testing.T) {
	for _, file := range []string{"held.toml", "state.toml"} {
		b := folderOf(t, nil)
		m := memoryOf(t, b)
		if err := m.Save(evening); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(b.Path(".deskhand/net-loft/"+file), []byte("[on\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := b.Memory(venueOf(t, b, "net-loft"))
		if err == nil || !strings.Contains(err.Error(), "remove "+b.Path(".deskhand/net-loft")+" to forget it") || !strings.Contains(err.Error(), ".deskhand/net-loft/"+file+":1: ") {
			t.Errorf("%s: %v", file, err)
		}
	}
}

func TestAPowerCutLeavesTheOldFilesOrTheNew(t *testing.T) {
	b := folderOf(t, nil)
	m := memoryOf(t, b)
	m.Unfinished["lectern"] = true
	if err := m.Save(evening); err != nil {
		t.Fatal(err)
	}
	// The recall ends; the power fails after the first of the two files is written.
	state := b.Path(".deskhand/net-loft/state.toml")
	before, err := os.ReadFile(state)
	if err != nil {
		t.Fatal(err)
	}
	m.Hold(scenes.Values{parameter(t, "channel.3.fader"): profiles.Number(-6)})
	delete(m.Unfinished, "lectern")
	if err := m.Save(evening.Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(state, before, 0o600); err != nil {
		t.Fatal(err)
	}
	again := memoryOf(t, b)
	if !again.Unfinished["lectern"] || len(again.Held.Values) != 1 {
		t.Errorf("unfinished %v, held %v", again.Unfinished, again.Held.Values)
	}
	entries, err := os.ReadDir(filepath.Dir(state))
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != 2 {
		t.Errorf("left over: %v", entries)
	}
}

func TestUndosComeBackNewestFirst(t *testing.T) {
	b := folderOf(t, nil)
	m := memoryOf(t, b)
	undo := func(level float64) *scenes.Reading {
		return &scenes.Reading{Desk: "quay-24", Taken: evening, Note: "before lectern: poet", On: map[string]string{"lectern": "botanist"},
			Values: scenes.Values{parameter(t, "channel.3.fader"): profiles.Number(level)}}
	}
	for _, level := range []float64{-10, -20, -30} {
		if err := m.PushUndo(undo(level)); err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []float64{-30, -20, -10} {
		r, drop, err := memoryOf(t, b).Undo() // as the next command would
		if err != nil {
			t.Fatal(err)
		}
		control, _ := venueOf(t, b, "net-loft").Desk.Profile.Control(parameter(t, "channel.3.fader"))
		if !control.Same(r.Values[parameter(t, "channel.3.fader")], profiles.Number(want)) || r.On["lectern"] != "botanist" {
			t.Errorf("undo %+v, want %v", r, want)
		}
		if err := drop(); err != nil {
			t.Fatal(err)
		}
	}
	if r, _, err := m.Undo(); r != nil || err != nil {
		t.Errorf("one too many: %v, %v", r, err)
	}
}

func TestFiftyUndosAreKeptAndTheirOrderSurvivesGaps(t *testing.T) {
	b := folderOf(t, nil)
	m := memoryOf(t, b)
	r := &scenes.Reading{Desk: "quay-24", Taken: evening}
	for n := range 53 {
		r.Note = string(rune('A' + n%26))
		if err := m.PushUndo(r); err != nil {
			t.Fatal(err)
		}
	}
	dir := b.Path(".deskhand/net-loft")
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != 50 || entries[0].Name() != "undo-000004.toml" {
		t.Errorf("%d kept, the oldest is %s", len(entries), entries[0].Name())
	}
	// Files of another hand don't count, and numbers may grow beyond six figures.
	for _, name := range []string{"undo-9.toml", "undo-000099.txt", "undo-x.toml", "undo-000060"} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Rename(filepath.Join(dir, "undo-000053.toml"), filepath.Join(dir, "undo-999999.toml")); err != nil {
		t.Fatal(err)
	}
	r.Note = "the newest"
	if err := m.PushUndo(r); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(dir, "undo-1000000.toml")); err != nil {
		t.Error(err)
	}
	if newest, _, err := m.Undo(); err != nil || newest.Note != "the newest" {
		t.Errorf("got %v, %v", newest, err)
	}
}

func TestGitNeverSeesTheMemory(t *testing.T) {
	b := folderOf(t, nil)
	if err := os.Remove(b.Path(".gitignore")); err != nil { // not every book comes from deskhand new
		t.Fatal(err)
	}
	g := gitIn(t, b.Dir)
	g("init", "--quiet")
	g("add", "--all")
	g("commit", "--quiet", "--message", "the book")
	if err := memoryOf(t, b).Save(evening); err != nil {
		t.Fatal(err)
	}
	if status := g("status", "--porcelain"); status != "" {
		t.Errorf("git sees:\n%s", status)
	}
}

// gitIn gives a git that runs in a folder and knows nothing of the machine's user.
func gitIn(t testing.TB, dir string) func(...string) string {
	t.Helper()
	env := map[string]string{
		"GIT_CONFIG_GLOBAL": "/dev/null", "GIT_CONFIG_SYSTEM": "/dev/null", "GIT_CEILING_DIRECTORIES": os.TempDir(),
		"GIT_AUTHOR_NAME": "harbour", "GIT_AUTHOR_EMAIL": "harbour@example.org",
		"GIT_COMMITTER_NAME": "harbour", "GIT_COMMITTER_EMAIL": "harbour@example.org",
	}
	for key, value := range env {
		t.(*testing.T).Setenv(key, value)
	}
	return func(arguments ...string) string {
		t.Helper()
		command := exec.Command("git", arguments...)
		command.Dir = dir
		out, err := command.CombinedOutput()
		if err != nil {
			t.Fatalf("git %v: %v\n%s", arguments, err, out)
		}
		return string(out)
	}
}
