package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/trace"
)

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
	d.typed = d.askOnly // in the end: what the desk sends then is about no control
	if _, err := d.ask(ctx, "touch nothing on the desk for a moment, then press Enter: "); err != nil {
		return d.unfinished(err)
	}
	d.mark(trace.Mark{Kind: trace.Quiet})
	if err := d.learnAll(ctx, controls); err != nil {
		return d.unfinished(err)
	}
	found, err := trace.Learn(d.recording, d.known)
	if err != nil {
		return d.unfinished(err)
	}
	return d.finish(ctx, found)
}

// learnAll asks about one control after the other, for as long as it can be taken down.
func (d *dialogue) learnAll(ctx context.Context, controls []lesson) error {
	for _, c := range controls {
		begun := len(d.recording.Events)
		err := d.learn(ctx, c)
		switch {
		case errors.Is(err, errFull):
			d.recording.Events = d.recording.Events[:begun] // half a move would be taken for a whole one
			d.app.complain(fmt.Errorf("%s and what comes after it is left out: %w", c, err))
			return nil
		case err != nil && !errors.Is(err, errLeft):
			return err
		}
	}
	return nil
}

// unfinished says that nothing was written.
func (d *dialogue) unfinished(err error) error {
	return fmt.Errorf("nothing was written into %s: %w", d.t.into, err)
}

// maxRounds bounds how often something is asked about one control.
const maxRounds = 40

// learn asks about one control until it is known. The error is errLeft if the user leaves
// it.
func (d *dialogue) learn(ctx context.Context, c lesson) error {
	q := c.Parameter
	if err := d.sizes(ctx, q); err != nil {
		return err
	}
	if err := d.through(ctx, q); err != nil {
		return err
	}
	if !d.setsAsked && !d.known.SaysAnswer() {
		d.setsAsked = true
		if err := d.sets(ctx, q); err != nil {
			return err
		}
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
	return d.until(ctx, q)
}

// until asks what is not known yet of a control that was moved, until nothing is left.
func (d *dialogue) until(ctx context.Context, q profiles.Parameter) error {
	for range maxRounds {
		found, err := trace.Learn(d.recording, d.known)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(found.Questions, func(o trace.Question) bool { return o.Parameter == q })
		j := slices.IndexFunc(found.Troubles, func(o trace.Trouble) bool { return o.Parameter == q })
		switch {
		case i >= 0:
			err = d.answer(ctx, q, found.Questions[i])
		case j >= 0:
			err = d.again(ctx, q, found.Troubles[j].Err)
		default:
			return nil
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// sets asks for the address that sets a control, where it is not the one that reports it.
func (d *dialogue) sets(ctx context.Context, q profiles.Parameter) error {
	spec, _ := trace.SpecOf(q)
	for {
		line, err := d.ask(ctx, fmt.Sprintf("  does the desk's manual name another address that sets the %s? type that, or Enter alone: ", sayControl(spec, q)))
		if err != nil || line == "" {
			return err
		}
		m, err := trace.ParseMark("sets: " + line)
		if err == nil {
			d.mark(m)
			return nil
		}
		d.app.complain(err)
	}
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
		if m.Words = parsed.Words; m.Words[0] != m.Words[len(m.Words)-1] {
			m.Words = append(m.Words, m.Words[0])
		}
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
	_, err := d.read(ctx, "now stop at the bottom, in the middle, at the top, and wherever its scale changes; at each,\n")
	return err
}

// read takes down what the desk shows, until an empty line, and gives how often it did.
func (d *dialogue) read(ctx context.Context, prompt string) (n int, err error) {
	for {
		line, err := d.ask(ctx, prompt+"  type what the desk shows, as -6.0 dB, or Enter alone when done: ")
		if err != nil || line == "" {
			return n, err
		}
		m, err := trace.ParseMark("shows: " + line)
		if err != nil {
			d.app.complain(err)
			continue
		}
		d.note(m)
		n++
		prompt = ""
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
		n, err := d.read(ctx, o.Text+"\n")
		if err == nil && n == 0 {
			return errLeft
		}
		return err
	case o.Want.Kind == trace.Steps:
		return d.steps(ctx, q, o.Text)
	case o.Want.Parameter == q:
		return d.again(ctx, q, errors.New(o.Text))
	}
	return d.little(ctx, o.Want.Parameter)
}

// steps asks how many steps a control has.
func (d *dialogue) steps(ctx context.Context, q profiles.Parameter, text string) error {
	for {
		line, err := d.ask(ctx, text+"; type the number, or Enter alone to leave it: ")
		if err != nil {
			return err
		}
		if line == "" {
			return errLeft
		}
		m, err := trace.ParseMark("steps: " + line)
		if err == nil {
			d.mark(trace.Mark{Kind: trace.Moved, Parameter: q})
			d.note(m)
			return nil
		}
		d.app.complain(err)
	}
}

// little has a control moved at another place.
func (d *dialogue) little(ctx context.Context, q profiles.Parameter) error {
	spec, _ := trace.SpecOf(q)
	d.mark(trace.Mark{Kind: trace.Moved, Parameter: q})
	_, err := d.ask(ctx, fmt.Sprintf("move the %s a little, and press Enter: ", sayControl(spec, q)))
	d.sayHeard()
	return err
}
