package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// hall is the example book in a folder and a mock desk for it.
type hall struct {
	t    *testing.T
	book string
	desk *mockdesk.Desk
}

func newHall(t *testing.T) *hall {
	t.Helper()
	h := &hall{t: t, book: filepath.Join(t.TempDir(), "book")}
	if err := writeExample(h.book); err != nil {
		t.Fatal(err)
	}
	text, err := profiles.Shipped("quay-24")
	if err != nil {
		t.Fatal(err)
	}
	p, err := profiles.Load("quay-24.toml", text)
	if err != nil {
		t.Fatal(err)
	}
	if h.desk, err = mockdesk.Start(p, mockdesk.Options{}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { h.desk.Close() })
	return h
}

// types carries out a command line, which must end with a code, and gives what it prints.
// As soon as it prints a word, between reading and sending, meanwhile runs.
func (h *hall) types(line string, code int, word string, meanwhile func()) (out, complaints string) {
	h.t.Helper()
	var printed, complained bytes.Buffer
	to := &cue{to: &printed, word: word, do: meanwhile}
	words := append(strings.Fields(line), "--book", h.book, "--desk", h.desk.Addr())
	if got := run(h.t.Context(), words, console{in: strings.NewReader(""), out: to, err: &complained}); got != code {
		h.t.Fatalf("%s: exit %d, not %d: %s%s", line, got, code, &printed, &complained)
	}
	return printed.String(), complained.String()
}

func (h *hall) label() string {
	v, _ := h.desk.Holds(profiles.Parameter{Place: profiles.Place{Part: profiles.Channel, Number: 3}, Name: "label"})
	return v.String()
}

// cue does something once when a word is written.
type cue struct {
	to   io.Writer
	word string
	do   func()
}

func (c *cue) Write(p []byte) (int, error) {
	if c.do != nil && bytes.Contains(p, []byte(c.word)) {
		do := c.do
		c.do = nil
		do()
	}
	return c.to.Write(p)
}

func (h *hall) does(line string) func() {
	return func() { h.types(line, exitDone, "", nil) }
}

func TestASwapOfWhatAnotherHasJustSwappedIsShownAnewAndSent(t *testing.T) {
	t.Parallel()
	h := newHall(t)
	h.does("swap lectern botanist")()
	out, _ := h.types("swap lectern poet", exitDone, "settings differ", h.does("swap lectern pilot"))
	for _, want := range []string{"botanist -> poet", "note: another deskhand has recalled lectern meanwhile", "pilot -> poet", "all confirmed"} {
		_, rest, found := strings.Cut(out, want)
		if !found {
			t.Fatalf("it does not go on with %q: %s", want, out)
		}
		out = rest
	}
	if strings.Contains(out, "by hand") {
		t.Error("told as a hand move:", out)
	}
	for _, before := range []string{"Pilot", "Botanist", ""} {
		h.does("undo")()
		if got := h.label(); got != profiles.Word(before).String() {
			t.Errorf("undone to %s, not %q", got, before)
		}
	}
}

func TestASwapBesideAnotherOneElsewhereGoesOn(t *testing.T) {
	t.Parallel()
	h := newHall(t)
	out, _ := h.types("swap lectern poet", exitDone, "settings differ", h.does("swap table-left pilot"))
	if strings.Contains(out, "note: another") || !strings.Contains(out, "all confirmed") {
		t.Error(out)
	}
	out, _ = h.types("swap table-left pilot", exitDone, "", nil)
	if !strings.Contains(out, "nothing differs") {
		t.Error(out)
	}
}

func TestAnUndoThatComesTooLateUndoesNothing(t *testing.T) {
	t.Parallel()
	h := newHall(t)
	h.does("swap lectern botanist")()
	h.does("swap lectern poet")()
	_, complaints := h.types("undo", exitWrong, "settings differ", h.does("undo"))
	if !strings.Contains(complaints, "nothing was sent: another deskhand has recalled lectern") {
		t.Error(complaints)
	}
	if got := h.label(); got != profiles.Word("Botanist").String() {
		t.Error("the label is", got)
	}
}

func TestKeepWritesNothingOnceAnotherHasRecalled(t *testing.T) {
	h := newHall(t)
	b, v := netLoft(t, h.book)
	m, err := b.Memory(v)
	if err != nil {
		t.Fatal(err)
	}
	v.Desk.Address = h.desk.Addr()
	s := &session{Recaller: &recall.Recaller{Book: b, Venue: v, Memory: m}}
	strip, err := s.resolveFor(keeping{position: "lectern", performer: "poet"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	fader := profiles.Parameter{Place: strip.Position.Place(), Name: "fader"}
	done := kept{strip: strip, file: "performers/poet.toml", holds: scenes.Values{fader: profiles.Number(-1)},
		values: []scenes.Kept{{Parameter: fader, Path: []string{"strip", "fader"}, To: profiles.Number(-1)}}}
	before, err := os.ReadFile(b.Path(done.file))
	if err != nil {
		t.Fatal(err)
	}
	turn := b.Turn(v)
	h.does("swap table-left pilot")()
	if err := s.writeInTurn(t.Context(), keeping{}, &done, turn); err == nil || !strings.Contains(err.Error(), "nothing was written") {
		t.Error(err)
	}
	if now, err := os.ReadFile(b.Path(done.file)); err != nil || !bytes.Equal(now, before) {
		t.Error("the file was changed", err)
	}
	if err := s.writeInTurn(t.Context(), keeping{}, &done, b.Turn(v)); err != nil {
		t.Error("in its turn:", err)
	}
	if m, err := b.Memory(v); err != nil || m.On["table-left"] != "pilot" || m.Held.Values[fader] != profiles.Number(-1) {
		t.Error("the memory has lost something:", m.On, m.Held.Values[fader], err)
	}
}
