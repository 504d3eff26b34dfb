package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"net"
	"strings"

	"deskhand/osc"
	"deskhand/profiles/trace"
)

// dialogue asks the user to move one control at a time, and listens.
type dialogue struct {
	*learning
	listening *listening
	keeper    *keeper
	lines     <-chan string
	// bytes is how many the packets of the recording have, and full says that it has as
	// much as it may: nothing more is taken down.
	bytes int
	full  bool
	// setsAsked says that it was asked whether another address sets a control.
	setsAsked bool
	// heard is how many messages came since the last mark.
	heard int
	// told are the addresses that were shown since.
	told map[string]bool
}

// typedLines reads what is typed, a line at a time, until the input ends.
func (a *app) typedLines() <-chan string {
	lines := make(chan string)
	in := bufio.NewReaderSize(a.in, longestTyped)
	go func() { // ends with the input, or with the program
		defer close(lines)
		for {
			line, err := typedLine(in)
			if errors.Is(err, errInputEnded) {
				return
			}
			lines <- line // one that is too long is empty
		}
	}()
	return lines
}

// nextTyped waits for a line.
func nextTyped(ctx context.Context, lines <-chan string) (string, error) {
	select {
	case line, ok := <-lines:
		if !ok {
			return "", errInputEnded
		}
		return line, nil
	case <-ctx.Done():
		return "", ctx.Err()
	}
}

// ask prints a question and waits for the answer, and listens to the desk meanwhile.
// What the desk has said before the answer came belongs before it.
func (d *dialogue) ask(ctx context.Context, prompt string) (string, error) {
	d.prompt(prompt)
	for !d.full {
		select {
		case e := <-d.listening.packets:
			d.hear(e)
		case line, ok := <-d.lines:
			d.catchUp()
			if !ok {
				return "", errInputEnded
			}
			if !d.full {
				return line, nil
			}
		case err := <-d.listening.broken:
			if errors.Is(err, net.ErrClosed) {
				return "", context.Canceled
			}
			return "", unreached{fmt.Errorf("the link to the desk has ended: %w", err)}
		case <-ctx.Done():
			return "", ctx.Err()
		}
	}
	return "", errFull
}

// askOnly prints a question and waits for the answer, whatever the desk sends.
func (d *dialogue) askOnly(ctx context.Context, prompt string) (string, error) {
	d.prompt(prompt)
	return nextTyped(ctx, d.lines)
}

func (d *dialogue) prompt(prompt string) {
	if !d.app.json {
		fmt.Fprintln(d.app.err, strings.TrimRight(prompt, " "))
		return
	}
	d.app.printJSON(struct {
		Event string `json:"event"`
		Text  string `json:"text"`
	}{"ask", strings.TrimSpace(prompt)})
}

// errFull says that no more can be taken down.
var errFull = errors.New("the desk sends more than can be taken down at a time: learn fewer controls at a time, with --control, and see that it does not tell its meters")

// catchUp takes what has come already.
func (d *dialogue) catchUp() {
	for range len(d.listening.packets) {
		d.hear(<-d.listening.packets)
	}
}

// hear takes a packet down, and shows the first message of each address since the last
// question.
func (d *dialogue) hear(e trace.Event) {
	d.take(e)
	messages, err := osc.Decode(e.Packet)
	if err != nil {
		return
	}
	for _, m := range messages {
		d.heard++
		if d.app.json {
			d.app.printJSON(jsonHeard{Event: "message", At: round(e.At.Seconds(), 3), Address: m.Address, Arguments: listOf(m.Arguments, jsonArgumentOf), Untyped: m.Untyped})
			continue
		}
		if !d.told[m.Address] && len(d.told) < maxTold {
			d.told[m.Address] = true
			fmt.Fprintf(d.app.out, "  heard %s\n", m)
		}
	}
}

// maxTold bounds the addresses that are shown after one question.
const maxTold = 8

// take adds to the recording, up to its bounds, and to the file of --save.
func (d *dialogue) take(e trace.Event) {
	d.keeper.add(e)
	d.bytes += len(e.Packet)
	if d.full = d.full || d.bytes > maxKept || len(d.recording.Events) >= trace.MaxEvents; !d.full {
		d.recording.Events = append(d.recording.Events, e)
	}
}

// note takes a mark down, at the time of what came before it.
func (d *dialogue) note(m trace.Mark) {
	e := trace.Event{Mark: m}
	if n := len(d.recording.Events); n > 0 {
		e.At = d.recording.Events[n-1].At
	}
	d.take(e)
}

// mark takes down that something else is done now.
func (d *dialogue) mark(m trace.Mark) {
	d.note(m)
	d.heard = 0
	clear(d.told)
}

// sayHeard says how much was heard since the last mark, and what was lost of it.
func (d *dialogue) sayHeard() {
	if lost := d.listening.dropped.Swap(0); lost > 0 {
		d.app.complain(fmt.Errorf("%d packets came too fast to be taken down: what is worked out of the rest may be wrong", lost))
	}
	if !d.app.json {
		fmt.Fprintf(d.app.out, "  heard %s\n", count(d.heard, "message"))
	}
}
