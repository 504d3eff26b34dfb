package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"net"
	"slices"
	"strconv"
	"strings"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/profiles/trace"
)

// dialogue asks the user to move one control at a time, and listens.
type dialogue struct {
	*learning
	listening *listening
	keeper    *keeper
	lines     <-chan string
	// heard is how many messages came since the last mark.
	heard int
	// told are the addresses that were shown since.
	told map[string]bool
}

// learnLive works entries out while the user moves the controls.
func (a *app) learnLive(ctx context.Context, t tracing, to target, l *listening, k *keeper) error {
	controls, err := controlsNamed(t.controls)
	if err != nil {
		return err
	}
	learning, err := a.newLearning(t, to, &trace.Recording{File: "what was heard"})
	if err != nil {
		return err
	}
	d := &dialogue{learning: learning, listening: l, keeper: k, lines: a.typedLines(), told: make(map[string]bool)}
	d.typed = d.ask
	if _, err := d.ask(ctx, "touch nothing on the desk for a moment, then press Enter: "); err != nil {
		return d.unfinished(err)
	}
	d.mark(trace.Mark{Kind: trace.Quiet})
	for i, c := range controls {
		if err := d.learn(ctx, c, i == 0); err != nil {
			return d.unfinished(err)
		}
	}
	found, err := trace.Learn(d.recording, d.known)
	if err != nil {
		return err
	}
	return d.finish(ctx, found)
}

// unfinished says that nothing was written.
func (d *dialogue) unfinished(err error) error {
	return fmt.Errorf("nothing was written into %s: %w", d.t.into, err)
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
	if d.app.json {
		d.app.printJSON(struct {
			Event string `json:"event"`
			Text  string `json:"text"`
		}{"ask", strings.TrimSpace(prompt)})
	} else {
		fmt.Fprintln(d.app.err, strings.TrimRight(prompt, " "))
	}
	for {
		select {
		case e := <-d.listening.packets:
			d.hear(e)
		case line, ok := <-d.lines:
			d.catchUp()
			if !ok {
				return "", errInputEnded
			}
			return line, nil
		case err := <-d.listening.broken:
			if errors.Is(err, net.ErrClosed) {
				return "", context.Canceled
			}
			return "", unreached{fmt.Errorf("the link to the desk has ended: %w", err)}
		case <-ctx.Done():
			return "", ctx.Err()
		}
	}
}

// catchUp takes what has come already.
func (d *dialogue) catchUp() {
	for {
		select {
		case e := <-d.listening.packets:
			d.hear(e)
		default:
			return
		}
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
	if len(d.recording.Events) < trace.MaxEvents {
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

// maxRounds bounds how often something is asked about one control.
const maxRounds = 40

// learn asks about one control until it is known, or the user leaves it.
func (d *dialogue) learn(ctx context.Context, c lesson, first bool) error {
	q := c.Parameter
	if err := d.sizes(ctx, q); err != nil {
		return err
	}
	if err := d.through(ctx, q); err != nil {
		return err
	}
	// That a control is there for all bands only shows if it is moved at another one.
	for _, counter := range c.all {
		if d.size(counter) < 2 {
			continue
		}
		if err := d.little(ctx, trace.AtNumber(q, counter, 2)); err != nil {
			return err
		}
	}
	if first && !d.known.SaysAnswer() {
		line, err := d.ask(ctx, "  does the desk's manual name another address that sets it? type that, or Enter alone: ")
		if err != nil {
			return err
		}
		if strings.HasPrefix(line, "/") {
			d.mark(trace.Mark{Kind: trace.Sets, Text: line})
		}
	}
	for range maxRounds {
		found, err := trace.Learn(d.recording, d.known)
		if err != nil {
			return err
		}
		is := func(p profiles.Parameter) bool { return p == q }
		i := slices.IndexFunc(found.Questions, func(o trace.Question) bool { return is(o.Parameter) })
		j := slices.IndexFunc(found.Troubles, func(o trace.Trouble) bool { return is(o.Parameter) })
		switch {
		case i >= 0:
			err = d.answer(ctx, q, found.Questions[i])
		case j >= 0:
			err = d.again(ctx, q, found.Troubles[j].Err)
		default:
			return nil
		}
		if errors.Is(err, errLeft) {
			return nil
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// errLeft says that the user leaves a control.
var errLeft = errors.New("left")

// again tells why a control is not known, and has it moved again if the user likes.
func (d *dialogue) again(ctx context.Context, q profiles.Parameter, why error) error {
	d.sayOpen("trouble", q, why.Error())
	line, err := d.ask(ctx, "  move it again? type yes, or Enter alone to leave it: ")
	if err != nil {
		return err
	}
	if line != "yes" && line != "y" {
		return errLeft
	}
	return d.through(ctx, q)
}

// sizes asks how many there are of what the control is one of.
func (d *dialogue) sizes(ctx context.Context, q profiles.Parameter) error {
	_, numbers := profiles.Family(q.Name)
	counters := []string{"channel"}
	if q.Place.Part == profiles.Mix {
		counters = append(counters, "mix")
	}
	for counter := range numbers {
		counters = append(counters, counter)
	}
	for _, counter := range counters {
		if d.size(counter) > 0 {
			continue
		}
		plural := map[string]string{"channel": "channels", "mix": "mixes", "band": "bands of EQ on a channel", "group": "groups"}[counter]
		n, err := d.number(ctx, fmt.Sprintf("how many %s has the desk? ", plural))
		if err != nil {
			return err
		}
		d.mark(trace.Mark{Kind: trace.Desk, Counts: map[string]int{counter: n}})
		word := map[string]string{"channel": "channels", "mix": "mixes", "band": "bands", "group": "groups"}[counter]
		d.text = withCount(d.text, word, n)
	}
	return nil
}

// size is how many there are, as the profile or the user says; 0 is not known.
func (d *dialogue) size(counter string) int {
	n := d.known.Size(counter)
	for _, e := range d.recording.Events {
		if told, ok := e.Mark.Counts[counter]; ok && n == 0 {
			n = told
		}
	}
	return n
}

// withCount puts a count into the head of a profile.
func withCount(text []byte, word string, n int) []byte {
	document, err := source.Parse("profile", text)
	if err != nil {
		return text
	}
	if made, err := document.Apply(source.Edit{Path: []string{word}, Value: n}); err == nil {
		return made
	}
	return text
}

// number asks for a whole number above 0, until it gets one.
func (d *dialogue) number(ctx context.Context, prompt string) (int, error) {
	for {
		line, err := d.ask(ctx, prompt)
		if err != nil {
			return 0, err
		}
		if n, err := strconv.Atoi(line); err == nil && n > 0 && n <= 100_000 {
			return n, nil
		}
		d.app.complain(fmt.Errorf("%q is no whole number from 1 to 100000", line))
	}
}

// through has a control moved through all that it has.
func (d *dialogue) through(ctx context.Context, q profiles.Parameter) error {
	spec, _ := trace.SpecOf(q)
	m := trace.Mark{Kind: trace.Moved, Parameter: q}
	what := sayControl(spec, q)
	prompt := ""
	switch spec.Kind {
	case profiles.Toggle:
		m.Words = []string{"on", "off", "on"}
		prompt = fmt.Sprintf("switch the %s on, then off, then on again, and press Enter: ", what)
	case profiles.Choice:
		line, err := d.ask(ctx, fmt.Sprintf("which positions has the %s, in the desk's order? (of %s) ", what, strings.Join(spec.Words, ", ")))
		if err != nil {
			return err
		}
		parsed, err := trace.ParseMark("moved: " + q.String() + " " + line)
		if err != nil || len(parsed.Words) < 2 {
			return d.again(ctx, q, errors.New("write at least two positions, with commas between them"))
		}
		m.Words = append(parsed.Words, parsed.Words[0])
		prompt = fmt.Sprintf("turn it through %s, and press Enter: ", strings.Join(m.Words, ", "))
	default:
		m.Sweep = true
		prompt = fmt.Sprintf("move the %s to the top and back, then slowly from the bottom to the top, and press Enter: ", what)
	}
	d.mark(m)
	if _, err := d.ask(ctx, prompt); err != nil {
		return err
	}
	d.sayHeard()
	if !m.Sweep {
		return nil
	}
	return d.read(ctx, "now stop at the bottom, in the middle, at the top, and wherever its scale changes; at each,\n")
}

// read takes down what the desk shows, until an empty line.
func (d *dialogue) read(ctx context.Context, prompt string) error {
	for {
		line, err := d.ask(ctx, prompt+"  type what the desk shows, as -6.0 dB, or Enter alone when done: ")
		if err != nil || line == "" {
			return err
		}
		m, err := trace.ParseMark("shows: " + line)
		if err != nil {
			d.app.complain(err)
			continue
		}
		d.note(m)
		prompt = ""
	}
}

func (d *dialogue) sayHeard() {
	if !d.app.json {
		fmt.Fprintf(d.app.out, "  heard %s\n", count(d.heard, "message"))
	}
}

// sayControl says a control as people do: "fader of channel 1".
func sayControl(spec profiles.Spec, q profiles.Parameter) string {
	label := spec.SayLabel(q.Name, func(n int) string { return "mix " + strconv.Itoa(n) })
	return label + " of " + q.Place.Say()
}

// answer asks what a question wants to know.
func (d *dialogue) answer(ctx context.Context, q profiles.Parameter, o trace.Question) error {
	switch {
	case o.Want.Kind == trace.Shows:
		d.mark(trace.Mark{Kind: trace.Moved, Parameter: q})
		return d.read(ctx, o.Text+"\n")
	case o.Want.Kind == trace.Steps:
		n, err := d.number(ctx, o.Text+" ")
		if err != nil {
			return err
		}
		d.mark(trace.Mark{Kind: trace.Moved, Parameter: q})
		d.note(trace.Mark{Kind: trace.Steps, Count: n})
		return nil
	case o.Want.Parameter == q:
		return d.again(ctx, q, errors.New(o.Text))
	}
	return d.little(ctx, o.Want.Parameter)
}

// little has a control moved at another place.
func (d *dialogue) little(ctx context.Context, q profiles.Parameter) error {
	spec, _ := trace.SpecOf(q)
	d.mark(trace.Mark{Kind: trace.Moved, Parameter: q})
	_, err := d.ask(ctx, fmt.Sprintf("move the %s a little, and press Enter: ", sayControl(spec, q)))
	d.sayHeard()
	return err
}
