package main

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/profiles/source"
	"deskhand/scenes/agent"

	"pgregory.net/rapid"
)

// hostile are what a desk could have in a name to act on a terminal, a page or a program.
var hostile = []string{
	"\x1b[2J", "\x1b]0;title\a", "\x1b]52;c;AAAA\x1b\\", "\x1bP+q\x1b\\", "\r", "\b\b", "\x7f", "\x00", "\n", "\t", "\v\f", "\x0e",
	"\u009b31m", "\u0085", "\u0090", "\u202e", "\u2066", "\u200f", "\u061c", "\u200b", "\u2060", "\ufeff", "\u00ad", "\u2028", "\u2029", "\U000e0041",
	"<script>", "</style>", "\"><b onload=x>", "{{.}}", "'", "\"", "\\", "%s", "$(x)", "\xff", "\xc2", "é",
}

func hostileText(t *rapid.T) string {
	return strings.Join(rapid.SliceOfN(rapid.SampledFrom(append(slices.Clone(hostile), "Poet")), 1, 4).Draw(t, "text"), "")
}

// mustBeSeen sees that a text has nothing that a terminal obeys, or nobody sees.
func mustBeSeen(t failer, what, text string) {
	t.Helper()
	if !utf8.ValidString(text) {
		t.Errorf("%s prints what is no text: %q", what, text)
	}
	unseen := func(r rune) bool { return source.IsUnseen(r) && r != '\n' && r != '\t' }
	if i := strings.IndexFunc(text, unseen); i >= 0 {
		t.Errorf("%s prints %q raw: %q", what, text[i:min(i+8, len(text))], text[max(i-40, 0):min(i+20, len(text))])
	}
}

// hostileDesk is a book and a desk whose every name is hostile.
type hostileDesk struct {
	dir  string
	mock *mockdesk.Desk
}

func newHostileDesk(t *testing.T, says string) *hostileDesk {
	t.Helper()
	h := &hostileDesk{dir: exampleDir(t)}
	smallDesk(t, h.dir)
	_, v := netLoft(t, h.dir)
	var err error
	if h.mock, err = mockdesk.Start(v.Desk.Profile, mockdesk.Options{Says: says}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { h.mock.Close() })
	return h
}

// name has the desk call a channel something.
func (h *hostileDesk) name(channel int, text string) error {
	_, err := h.mock.Move(profiles.Parameter{Place: profiles.Place{Part: profiles.Channel, Number: channel}, Name: "label"}, profiles.Word(text))
	return err
}

// prints runs a command on the book and the desk, and gives both its outputs.
func (h *hostileDesk) prints(ctx context.Context, in string, words ...string) (out, complaints string) {
	var to, err bytes.Buffer
	run(ctx, append(words, "--book", h.dir, "--desk", h.mock.Addr()), console{in: strings.NewReader(in), out: &to, err: &err})
	return to.String(), err.String()
}

func TestNoNameOnADeskReachesATerminalAsItIs(t *testing.T) {
	t.Parallel()
	h := newHostileDesk(t, "")
	for _, words := range []string{"swap lectern botanist", "send opening"} {
		h.prints(t.Context(), "", strings.Fields(words)...)
	}
	taken, next := 0, 0
	for _, words := range []string{
		"read", "read --position lectern", "diff opening desk", "swap lectern poet --dry-run", "swap lectern poet", "send opening", "undo", "keep lectern --dry-run",
		"log", "watch", "run winter-talks --plain", "profile trace --profile quay-24 --for 30ms",
	} {
		for _, args := range [][]string{strings.Fields(words), append(strings.Fields(words), "--json")} {
			for channel := 1; channel <= 8; channel++ {
				if h.name(channel, hostile[next%len(hostile)]+"Poet"+hostile[(next+1)%len(hostile)]) == nil {
					taken++
				}
				next++
			}
			h.mustPrintSeen(t, args)
		}
	}
	if taken < len(hostile) {
		t.Errorf("the desk took only %d hostile names", taken)
	}
}

// briefly is how long a command may take that goes on until it is ended.
const briefly = 150 * time.Millisecond

func (h *hostileDesk) mustPrintSeen(t *testing.T, args []string) {
	t.Helper()
	ctx, end := t.Context(), func() {}
	if args[0] == "watch" {
		ctx, end = context.WithTimeout(ctx, briefly)
	}
	defer end()
	what := strings.Join(args, " ")
	out, complaints := h.prints(ctx, "ahead\nstatus\nquit\n", args...)
	mustBeSeen(t, what, out)
	mustBeSeen(t, what, complaints)
	if args[len(args)-1] != "--json" {
		return
	}
	for line := range strings.Lines(out) {
		if !json.Valid([]byte(line)) {
			t.Errorf("%s prints what is no JSON: %q", what, line)
		}
	}
}

func TestADeskThatSaysItIsSomethingHostileIsQuoted(t *testing.T) {
	t.Parallel()
	for some := range slices.Chunk(hostile, 10) {
		says := strings.Join(some, "")
		h := newHostileDesk(t, "quay"+says)
		for _, words := range []string{"read", "swap lectern botanist", "profile check quay-24", "profile check quay-24 --json", "watch --json", "run winter-talks --plain"} {
			ctx, end := context.WithTimeout(t.Context(), briefly)
			out, complaints := h.prints(ctx, "quit\n", strings.Fields(words)...)
			end()
			mustBeSeen(t, words, out)
			mustBeSeen(t, words, complaints)
		}
	}
}

// The full screen draws past the output that makes text safe: its lines must be safe before.
func TestNoTextOfABookOrADeskReachesTheFullScreenAsItIs(t *testing.T) {
	view := exampleView(t)
	rapid.Check(t, func(t *rapid.T) {
		v := *view
		order := *v.Order
		order.Items = slices.Clone(order.Items)
		order.Title = hostileText(t)
		for i := range order.Items {
			order.Items[i].Title, order.Items[i].Notes = hostileText(t), hostileText(t)
		}
		v.Order, v.Doing = &order, hostileText(t)
		v.Positions = slices.Clone(v.Positions)
		for i := range v.Positions {
			v.Positions[i].Position, v.Positions[i].Performer, v.Positions[i].Scene = hostileText(t), hostileText(t), hostileText(t)
		}
		v.Next = &agent.Foreseen{Number: 2, Err: fmt.Errorf("%s", hostileText(t))}
		app := newApp(console{in: strings.NewReader(""), out: io.Discard, err: io.Discard})
		s := newScreen(app, &v, screenActs{performers: func() []string { return []string{hostileText(t)} }, now: time.Now})
		s.Update(newsMsg{view: &v, events: []agent.Event{
			{Kind: agent.Silent, Text: hostileText(t)}, {Kind: agent.Trouble, Position: hostileText(t), Performer: hostileText(t), Text: hostileText(t)},
			{Kind: agent.Awoke, Text: hostileText(t)},
		}})
		for _, key := range []string{"", "?", "esc", "s", "enter"} {
			if key != "" {
				s.Update(keyOf(key))
			}
			mustBeSeen(t, "the screen after "+key, s.text())
		}
	})
}

// marks are the elements and attributes of a page, in order, without its text.
func marks(t *testing.T, page []byte) []string {
	d := xml.NewDecoder(bytes.NewReader(page))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var all []string
	for {
		token, err := d.Token()
		if err == io.EOF {
			return all
		}
		if err != nil {
			t.Fatalf("the page can't be read: %v", err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			all = append(all, fmt.Sprint("<", token.Name.Local, token.Attr))
		case xml.EndElement:
			all = append(all, "</"+token.Name.Local)
		case xml.Comment, xml.ProcInst:
			all = append(all, fmt.Sprintf("%T", token))
		}
	}
}

// A page is made of the same elements and attributes whatever its text says, but for the size
// of a label's letters.
func TestTheElementsOfASheetAreTheSameWhateverItSays(t *testing.T) {
	files := func(text string) map[string]string {
		q := source.Quote(text)
		return map[string]string{
			"venues/hall.toml":            "title = " + q + "\n" + oneChannel,
			"performers/x.toml":           "[strip]\nlabel = " + q + "\n",
			"running-orders/evening.toml": "title = " + q + "\nvenue = \"hall\"\n[[scenes]]\ntitle = " + q + "\nnotes = " + q + "\npositions.lectern.performer = \"x\"\n",
		}
	}
	page := func(text string) []string {
		html, err := sheetHTML(sheetIn(t, files(text)), usualLabel, papers[0])
		if err != nil {
			t.Fatal(err)
		}
		var all []string
		for _, mark := range marks(t, html) {
			before, _, sized := strings.Cut(mark, "font-size: ")
			if sized {
				mark = before
			}
			all = append(all, mark)
		}
		return all
	}
	plain := page("Poet")
	for _, text := range hostile {
		if strings.ContainsFunc(text, func(r rune) bool { return r == utf8.RuneError || source.IsUnseen(r) }) || text == "\t" {
			continue // no file may have it
		}
		if got := page(text + " javascript:alert(1) " + text); !slices.Equal(got, plain) {
			t.Errorf("%q changes the page", text)
		}
	}
}
