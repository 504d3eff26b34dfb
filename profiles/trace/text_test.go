package trace_test

import (
	"io"
	"strings"
	"testing"

	"deskhand/profiles/trace"
)

func TestATraceThatCantBeReadSaysWhereAndWhatToDo(t *testing.T) {
	const head = "# deskhand trace\n"
	for _, c := range []struct{ text, want string }{
		{"", `x.trace: this is no trace: the first line of one is "# deskhand trace"`},
		{"name = \"quay-24\"\n", `x.trace:1: this is no trace: the first line of one is "# deskhand trace"`},
		{head + "soon 2f61", `x.trace:2: "soon" is no time: a line is the seconds from the beginning, then the packet as hex`},
		{head + "NaN 2f61", `x.trace:2: "NaN" is no time`},
		{head + "-1 2f61", `x.trace:2: "-1" is no time`},
		{head + "1.0 2f6", `x.trace:2: "2f6" is no packet: write its bytes as hex, two figures each`},
		{head + "1.0 | /a i 1", `x.trace:2: "" is no packet`},
		{head + "1.0 2f61\n0.9 2f61", `x.trace:3: "0.9" s is before the line above it`},
		{head + "# mooved: channel.1.fader", `x.trace:2: no mark begins with "mooved": did you mean "moved"?`},
		{head + "# moved: chanel.1.fader", `x.trace:2: moved: parameter "chanel.1.fader": it begins with channel.N, mix.N or main: did you mean "channel"?`},
		{head + "# moved: channel.1.mute on,,off", `x.trace:2: moved: "on,,off": write "from bottom to top", or the positions it was put into: on, off, on`},
		{head + "# steps: many", `x.trace:2: steps: "many": write how many steps the control has, 2 to 100000`},
		{head + "# sets: lane", `x.trace:2: sets: "lane": write the address that sets the control, as /lane/1/level`},
		{head + "# moved: main.mute\n# quiet\n# shows: on", `x.trace:4: shows: no control was moved before it: write "# moved: ..." above`},
		{head + "# shows:", `x.trace:2: shows: write what the desk showed, as -6.0 dB`},
		{head + "# desk: buttons 3", `x.trace:2: desk: "buttons" is none of channels, mixes, bands, groups`},
		{head + "# desk: channels -3", `x.trace:2: desk: channels: "-3" is no number from 0 to 100000`},
		{head + "# quiet: please", `x.trace:2: quiet stands alone, without "please"`},
		{head + "1.0 " + strings.Repeat("2f", 300_000), `x.trace:2: the line is longer than that of any packet`},
		{head + "1.0 " + strings.Repeat("2f", 65_508), `x.trace:2: a packet of 65508 bytes: at most 65507 fit into one`},
	} {
		_, err := trace.Read("x.trace", strings.NewReader(c.text))
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%.60q: %v, not %s", c.text, err, c.want)
		}
	}
}

func TestFaultsOfATraceAreToldTogetherButNotWithoutEnd(t *testing.T) {
	_, err := trace.Read("x.trace", strings.NewReader("# deskhand trace\n"+strings.Repeat("# nonsense\n", 1000)))
	if err == nil || strings.Count(err.Error(), "\n") != 19 {
		t.Errorf("not twenty faults: %v", err)
	}
}

// What a desk sends must not reach a terminal through what a trace says of it.
func TestNothingThatATerminalObeysIsWrittenIntoATrace(t *testing.T) {
	var out strings.Builder
	w, err := trace.NewWriter(&out)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range []trace.Event{
		{Packet: []byte("/a\x1b]0\x00\x00\x00,s\x00\x00\x1b[2J\x00\x00\x00\x00")},
		{Packet: []byte("\x1b\x9b")},
		{Mark: trace.Mark{Kind: trace.Note, Text: "a\x1b[2Jb\n0.1 2f61"}},
	} {
		if err := w.Add(e); err != nil {
			t.Fatal(err)
		}
	}
	if strings.ContainsAny(out.String(), "\x1b\u009b") || strings.Contains(out.String(), "\x9b") || strings.Count(out.String(), "\n") != 4 {
		t.Errorf("it has what a terminal obeys: %q", out.String())
	}
}

func TestMarksWithoutEndAreRefusedAsPacketsAre(t *testing.T) {
	line := "# note: " + strings.Repeat("x", 200_000) + "\n"
	from := []io.Reader{strings.NewReader("# deskhand trace\n")}
	for range 400 {
		from = append(from, strings.NewReader(line))
	}
	_, err := trace.Read("x.trace", io.MultiReader(from...))
	if want := "x.trace:337: a trace has 200000 lines and 67108864 bytes at most: record fewer controls at a time"; err == nil || err.Error() != want {
		t.Errorf("%v, not %s", err, want)
	}
}
