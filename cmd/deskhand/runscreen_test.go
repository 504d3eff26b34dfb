package main

import (
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/agent"
	"deskhand/scenes/recall"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/x/ansi"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// pane is a screen without a terminal and without an agent: what it asks for is noted.
type pane struct {
	t    failer
	s    *screen
	now  time.Time
	asks []agent.Ask
	// refuse is what the next asks are answered with, nil for done.
	refuse error
	held   []bool
	hands  []bool
	// waiting are the asks that have no answer yet.
	waiting []tea.Cmd
	left    bool
}

// failer is a test, or a property.
type failer interface {
	Helper()
	Errorf(string, ...any)
}

func exampleView(t testing.TB) *agent.View {
	t.Helper()
	b, v := netLoft(t, exampleDir(t))
	order, err := b.RunningOrder("winter-talks")
	if err != nil {
		t.Fatal(err)
	}
	view := &agent.View{Venue: v, Order: order, Desk: agent.DeskThere, Number: 1, Since: time.Date(2026, 1, 9, 19, 31, 0, 0, time.UTC)}
	for _, p := range v.Positions {
		open := true
		view.Positions = append(view.Positions, agent.PositionView{Position: p.Name, Place: p.Place(), Performer: "botanist", Open: &open, Proof: agent.Proved})
	}
	return view
}

func newPane(t failer, v *agent.View) *pane {
	h := &pane{t: t, now: time.Date(2026, 1, 9, 19, 40, 0, 0, time.UTC)}
	app := newApp(console{in: strings.NewReader(""), out: io.Discard, err: io.Discard})
	h.s = newScreen(app, v, screenActs{
		ask: func(ask agent.Ask) agent.Event {
			h.asks = append(h.asks, ask)
			return agent.Event{Kind: agent.Trouble, Asked: ask, Err: h.refuse}
		},
		hold:       func(on bool) { h.held = append(h.held, on) },
		handDid:    func(done bool) { h.hands = append(h.hands, done) },
		performers: func() []string { return []string{"bell-founder", "botanist", "pilot", "poet"} },
		now:        func() time.Time { return h.now },
	})
	return h
}

func keyOf(word string) tea.KeyPressMsg {
	codes := map[string]rune{"enter": tea.KeyEnter, "esc": tea.KeyEscape, "up": tea.KeyUp, "down": tea.KeyDown, "space": tea.KeySpace, "backspace": tea.KeyBackspace}
	if code, ok := codes[word]; ok {
		return tea.KeyPressMsg{Code: code}
	}
	if letter, ok := strings.CutPrefix(word, "ctrl+"); ok {
		return tea.KeyPressMsg{Code: rune(letter[0]), Mod: tea.ModCtrl}
	}
	return tea.KeyPressMsg{Code: rune(word[0]), Text: word}
}

// press presses keys, a second apart, and has what they ask for answered at once.
func (h *pane) press(words ...string) {
	for _, w := range words {
		h.now = h.now.Add(time.Second)
		h.pressOnly(w)
		h.finish()
	}
}

// pressOnly presses a key at this very time, and leaves what it asks for under way.
func (h *pane) pressOnly(word string) {
	_, cmd := h.s.Update(keyOf(word))
	if cmd != nil {
		h.waiting = append(h.waiting, cmd)
	}
}

func (h *pane) finish() {
	for _, cmd := range h.waiting {
		msg := cmd()
		if _, quits := msg.(tea.QuitMsg); quits {
			h.left = true
			continue
		}
		if _, cmd := h.s.Update(msg); cmd != nil {
			if _, quits := cmd().(tea.QuitMsg); quits {
				h.left = true
			}
		}
	}
	h.waiting = nil
}

func (h *pane) shows(texts ...string) {
	h.t.Helper()
	shown := h.s.text()
	for _, text := range texts {
		if !strings.Contains(shown, text) {
			h.t.Errorf("the screen does not say %q:\n%s", text, shown)
		}
	}
}

func (h *pane) asked(want ...agent.Ask) {
	h.t.Helper()
	if diff := cmp.Diff(want, h.asks); diff != "" {
		h.t.Errorf("asked for, - wanted + got:\n%s", diff)
	}
}

func TestEachKeyOfTheScreenAsksForItsOwn(t *testing.T) {
	for key, want := range map[string]agent.Ask{
		"n": agent.AskNext{From: 1}, "N": agent.AskNext{From: 1}, "space": agent.AskNext{From: 1}, "b": agent.AskBack{From: 1},
		"a": agent.AskItem{Number: 1}, "u": agent.AskUndo{}, "m": agent.AskMute{},
	} {
		h := newPane(t, exampleView(t))
		h.press(key)
		h.asked(want)
	}
}

func TestAKeyThatIsPressedTwiceByAccidentMovesOneScene(t *testing.T) {
	h := newPane(t, exampleView(t))
	h.press("n")
	h.now = h.now.Add(499 * time.Millisecond)
	h.pressOnly("n")
	h.finish()
	h.asked(agent.AskNext{From: 1})
	h.now = h.now.Add(500 * time.Millisecond)
	h.pressOnly("n")
	h.finish()
	h.asked(agent.AskNext{From: 1}, agent.AskNext{From: 1})
}

func TestAHoldThatIsPressedTwiceByAccidentStays(t *testing.T) {
	h := newPane(t, exampleView(t))
	h.press("n") // another key just before is another press
	h.pressOnly("h")
	h.now = h.now.Add(499 * time.Millisecond)
	h.pressOnly("h")
	if diff := cmp.Diff([]bool{true}, h.held); diff != "" {
		t.Error(diff)
	}
	h.press("h")
	if diff := cmp.Diff([]bool{true, false}, h.held); diff != "" {
		t.Error(diff)
	}
}

func TestAllIsMutedAlsoWhileANameIsTyped(t *testing.T) {
	h := newPane(t, exampleView(t))
	h.press("s", "1", "m", "!")
	h.asked(agent.AskMute{})
}

// What is refused for loudness while another question is open is asked for after that one, and
// none of its keys answers it.
func TestARefusalForLoudnessWaitsForTheQuestionThatIsOpen(t *testing.T) {
	for _, open := range []string{"?", "s", "q"} {
		h := newPane(t, exampleView(t))
		h.refuse = &recall.Refused{Reasons: []string{"lectern gets 14.2 dB louder in the mains"}, Rise: 14.2}
		h.now = h.now.Add(time.Second)
		h.pressOnly("n")
		h.pressOnly(open)
		h.finish()
		h.asked(agent.AskNext{From: 1})
		h.refuse = nil
		h.press("l") // closes what is open
		h.asked(agent.AskNext{From: 1})
		h.shows("TOO LOUD")
		h.press("l")
		h.asked(agent.AskNext{From: 1}, agent.AskNext{From: 1, Rise: 14.2})
	}
}

func TestWhatGetsLouderIsAskedForOnceMore(t *testing.T) {
	refused := &recall.Refused{Reasons: []string{"lectern gets 14.2 dB louder in the mains"}, Rise: 14.2}
	for key, want := range map[string][]agent.Ask{
		"l": {agent.AskNext{From: 1}, agent.AskNext{From: 1, Rise: 14.2}}, "esc": {agent.AskNext{From: 1}},
		"n": {agent.AskNext{From: 1}}, "y": {agent.AskNext{From: 1}}, "enter": {agent.AskNext{From: 1}},
	} {
		h := newPane(t, exampleView(t))
		h.refuse = refused
		h.press("n")
		h.shows("TOO LOUD", "lectern gets 14.2 dB louder in the mains", "up to 14.2 dB louder")
		h.refuse = nil
		h.press(key)
		h.asked(want...)
		h.press("l") // the question is closed
		h.asked(want...)
	}
}

func TestASecondPressDoesNotAnswerTheQuestionOfTheFirst(t *testing.T) {
	h := newPane(t, exampleView(t))
	h.refuse = &recall.Refused{Reasons: []string{"louder"}, Rise: 13}
	h.press("n")
	h.now = h.now.Add(100 * time.Millisecond)
	h.pressOnly("n")
	h.shows("TOO LOUD")
}

func TestWhatNoRiseLetsThroughIsNotAskedForOnceMore(t *testing.T) {
	for _, rise := range []float64{0, 41} {
		h := newPane(t, exampleView(t))
		h.refuse = &recall.Refused{Reasons: []string{"phantom harms the ribbon"}, Rise: rise}
		h.press("n", "l")
		h.asked(agent.AskNext{From: 1})
	}
}

func TestWhileSomethingIsDoneOnlyTheMuteIsSent(t *testing.T) {
	h := newPane(t, exampleView(t))
	h.pressOnly("n")
	h.now = h.now.Add(time.Second)
	h.pressOnly("b")
	h.shows("not taken", "DOING")
	h.pressOnly("m")
	h.finish()
	h.asked(agent.AskNext{From: 1}, agent.AskMute{})
}

func TestHeldNothingIsSentAndTheMuteReleases(t *testing.T) {
	h := newPane(t, exampleView(t))
	h.press("h", "n")
	h.shows("HELD", "h release")
	h.asked()
	h.press("m")
	h.asked(agent.AskMute{})
	if diff := cmp.Diff([]bool{true, false}, h.held); diff != "" {
		t.Error(diff)
	}
}

func TestAPerformerIsFoundByTyping(t *testing.T) {
	h := newPane(t, exampleView(t))
	h.press("s", "2", "f", "o", "u")
	h.shows("table-left to: fou_", "bell-founder")
	h.press("enter")
	h.asked(agent.AskSwap{Position: "table-left", Performer: "bell-founder"})
	h.press("s", "down", "enter", "p", "o", "m", "backspace", "enter")
	h.asked(agent.AskSwap{Position: "table-left", Performer: "bell-founder"}, agent.AskSwap{Position: "table-left", Performer: "poet"})
	h.press("s", "1", "z", "enter", "esc")
	if len(h.asks) != 2 {
		t.Errorf("a name that nobody has was asked for: %v", h.asks)
	}
}

func TestHandMovesAreKeptWhereAHandHasMoved(t *testing.T) {
	v := exampleView(t)
	h := newPane(t, v)
	h.press("k")
	h.asked()
	q := profiles.Parameter{Place: v.Positions[2].Place, Name: "fader"}
	control, _ := v.Venue.Desk.Profile.Control(q)
	v.Positions[2].Moves = []scenes.Change{{Parameter: q, Spec: control.Spec, From: profiles.Number(-6), To: profiles.Number(-4)}}
	h.shows("1 hand move")
	h.press("k", "1")
	h.asked(agent.AskKeep{Position: "bench"})
}

func TestWhatIsForAHandIsAnsweredByItsOwnKeys(t *testing.T) {
	v := exampleView(t)
	h := newPane(t, v)
	hand := *v
	q := profiles.Parameter{Place: v.Positions[0].Place, Name: "fader"}
	control, _ := v.Venue.Desk.Profile.Control(q)
	hand.ByHand = []scenes.Change{{Parameter: q, Spec: control.Spec, To: profiles.Number(-4), Hand: "set the knob"}}
	hand.Doing = "next scene: by hand"
	h.s.Update(newsMsg{view: &hand})
	h.shows("BY HAND", "set the knob to -4.0 dB", "d done", "x not done")
	h.pressOnly("d") // meant for what was there before
	h.press("n", "d", "x")
	if diff := cmp.Diff([]bool{true, false}, h.hands); diff != "" {
		t.Error(diff)
	}
	h.asked()
}

func TestLeavingIsAskedForOnceAndWaitsForWhatIsDone(t *testing.T) {
	h := newPane(t, exampleView(t))
	h.press("q", "q")
	if h.left {
		t.Fatal("it left without an answer")
	}
	h.pressOnly("n")
	h.now = h.now.Add(time.Second)
	h.pressOnly("q")
	h.pressOnly("y")
	if h.left {
		t.Fatal("it left in the middle")
	}
	h.finish()
	if !h.left {
		t.Error("it did not leave")
	}
}

// TestNoWindowAndNoTextBreaksTheScreen: whatever the files and the desk say, and whatever the
// size is, no line is wider than the window, and nothing but text reaches the terminal.
func TestNoWindowAndNoTextBreaksTheScreen(t *testing.T) {
	view := exampleView(t)
	hostile := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{
		"\x1b[2J\x1b]0;x\x07", "\u009b31m", "雨の港の夜", "e\u0301\u0302\u0303", "👩‍🚀👩‍🚀👩‍🚀", "\u202e", strings.Repeat("long ", 60), "\xff\xfe", "a\nb\tc\r",
	}))
	rapid.Check(t, func(t *rapid.T) {
		v := *view
		order := *v.Order
		order.Title = hostile.Draw(t, "title")
		order.Items = append([]scenes.Item(nil), order.Items...)
		for i := range order.Items {
			order.Items[i].Title, order.Items[i].Notes = hostile.Draw(t, "scene"), hostile.Draw(t, "notes")
		}
		v.Order, v.Number = &order, rapid.IntRange(0, len(order.Items)).Draw(t, "number")
		v.Positions = nil
		for range rapid.IntRange(0, 30).Draw(t, "positions") {
			v.Positions = append(v.Positions, agent.PositionView{Position: hostile.Draw(t, "position"), Performer: hostile.Draw(t, "performer"), Proof: agent.Unread})
		}
		v.Next = &agent.Foreseen{Err: fmt.Errorf("%s", hostile.Draw(t, "fault"))}
		v.Hold = rapid.Bool().Draw(t, "hold")
		v.Doing = hostile.Draw(t, "doing")
		h := newPane(t, &v)
		h.s.Update(newsMsg{view: &v, events: []agent.Event{{Kind: agent.Trouble, Text: hostile.Draw(t, "event")}}})
		columns, rows := rapid.IntRange(0, 130).Draw(t, "columns"), rapid.IntRange(0, 50).Draw(t, "rows")
		h.s.Update(tea.WindowSizeMsg{Width: columns, Height: rows})
		h.refuse = &recall.Refused{Reasons: []string{hostile.Draw(t, "reason")}, Rise: 13}
		for _, key := range rapid.SliceOfN(rapid.SampledFrom([]string{"n", "b", "s", "1", "x", "k", "?", "q", "esc", "up", "down", "enter", "h", "m", "l", "u"}), 0, 8).Draw(t, "keys") {
			h.press(key)
			mustFit(t, h.s.text(), columns, rows)
		}
		mustFit(t, h.s.text(), columns, rows)
	})
}

func mustFit(t *rapid.T, text string, columns, rows int) {
	lines := strings.Split(text, "\n")
	if text != "" && len(lines) > rows {
		t.Fatalf("%d lines in a window of %d:\n%q", len(lines), rows, text)
	}
	for _, l := range lines {
		if ansi.StringWidth(l) > columns || ansi.StringWidthWc(l) > columns {
			t.Fatalf("wider than %d: %q", columns, l)
		}
		if strings.ContainsAny(l, "\x1b\u009b\r\t\x07\u202e") {
			t.Fatalf("a control character: %q", l)
		}
	}
}
