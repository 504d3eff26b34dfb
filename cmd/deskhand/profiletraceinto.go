package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/trace"
)

// learning is a profile that entries are worked out for.
type learning struct {
	app *app
	t   tracing
	// text is what the entries go into, and out is the file, which may hold it already.
	text      []byte
	out       outFile
	library   profiles.Library
	known     *trace.Known
	recording *trace.Recording
	// typed gives a line that the user types, and an error when there is none.
	typed func(ctx context.Context, prompt string) (string, error)
}

// newLearning begins to learn for the file of --into.
func (a *app) newLearning(t tracing, to target, r *trace.Recording) (*learning, error) {
	out, err := a.outFile(t.into, "--into "+t.into)
	if err != nil {
		return nil, err
	}
	l := &learning{app: a, t: t, out: out, recording: r}
	if to.file != nil {
		l.out.old, l.text, l.library = to.file.text, to.file.text, to.file.library
	} else {
		l.library = libraryBeside(l.out.path, t.into)
		if l.text, err = l.newProfile(to); err != nil {
			return nil, err
		}
	}
	if l.known, err = trace.ReadKnown(l.library, l.text); err != nil {
		return nil, fmt.Errorf("%s: %w", t.into, err)
	}
	return l, nil
}

// newProfile is the head of a profile that there is not yet.
func (l *learning) newProfile(to target) ([]byte, error) {
	name, ok := strings.CutSuffix(filepath.Base(l.out.path), ".toml")
	if !ok || name == "" {
		return nil, fmt.Errorf("--into %s: the file of a profile ends in .toml", l.t.into)
	}
	like := profiles.Link{Over: profiles.OverUDP, Port: 9000}
	if to.profile != nil { // that of --profile says how its desk is reached
		like = to.profile.Link
	}
	over, err := overNamed(l.t.over, like.Over)
	if err != nil {
		return nil, err
	}
	port, follow := like.Port, ""
	if _, given, err := net.SplitHostPort(to.address); err == nil {
		if n, err := strconv.Atoi(given); err == nil && n > 0 {
			port = n
		}
	}
	for i, address := range l.t.follow {
		if i == 0 {
			follow = address
			continue
		}
		l.app.complain(fmt.Errorf("a profile asks for changes at one address: --follow %s will not be in %s", address, l.t.into))
	}
	sizes := make(map[string]int)
	for _, e := range l.recording.Events {
		for counter, n := range e.Mark.Counts {
			sizes[counter] = n
		}
	}
	return trace.NewProfile(name, over.String(), port, follow, sizes), nil
}

// learnFrom works entries out of a recorded trace.
func (a *app) learnFrom(ctx context.Context, t tracing, to target) error {
	if t.from == "-" && !t.yes {
		return errors.New("with --from - there is nothing left to type yes on: give --yes, or --from FILE")
	}
	r, err := a.readTrace(t.from)
	if err != nil {
		return err
	}
	l, err := a.newLearning(t, to, r)
	if err != nil {
		return err
	}
	lines := a.typedLines()
	l.typed = func(ctx context.Context, prompt string) (string, error) {
		fmt.Fprintln(a.err, strings.TrimRight(prompt, " "))
		return nextTyped(ctx, lines)
	}
	found, err := trace.Learn(r, l.known)
	if err != nil {
		return fmt.Errorf("%s: %w", t.from, err)
	}
	return l.finish(ctx, found)
}

// finish shows what was found, and writes it when the user has confirmed it.
func (l *learning) finish(ctx context.Context, f *trace.Findings) error {
	l.sayFindings(f)
	if len(f.Entries) == 0 {
		return errors.New("no entry could be made, so nothing was written")
	}
	text, err := f.Into(l.t.into, l.text)
	if err != nil {
		return err
	}
	l.sayReplaced(text)
	if err := l.prove(text); err != nil {
		return err
	}
	if err := l.write(ctx, text, len(f.Entries)); err != nil {
		return err
	}
	if len(f.Questions)+len(f.Troubles) > 0 {
		return ended{exitDiffers}
	}
	return nil
}

// write puts the new text in place of the file, when the user has confirmed it.
func (l *learning) write(ctx context.Context, text []byte, n int) error {
	if bytes.Equal(text, l.out.old) {
		l.say("unchanged", l.t.into+" says all of this already")
		return nil
	}
	if err := l.confirmed(ctx); err != nil {
		return err
	}
	if err := l.out.write(text, "profile"); err != nil {
		return err
	}
	l.say("written", fmt.Sprintf("written into %s: %s; try it on a mock desk first, and with the amplifiers down", l.t.into, entries(n)))
	return nil
}

// sayReplaced shows the lines of the file that others are put in place of.
func (l *learning) sayReplaced(text []byte) {
	for _, line := range changedLines(l.out.old, text) {
		if line.gone && len(l.out.old) > 0 && strings.TrimSpace(line.text) != "" {
			l.say("replaced", fmt.Sprintf("in place of line %d: %s", line.number, line.text))
		}
	}
}

func entries(n int) string {
	if n == 1 {
		return "1 entry"
	}
	return fmt.Sprintf("%d entries", n)
}

// prove sees to it that the profile as it would be is sound, and reads everything that
// was heard as it should.
func (l *learning) prove(text []byte) error {
	p, err := l.library.Load(l.t.into, text)
	if err != nil {
		return fmt.Errorf("with these entries the profile would have faults, so nothing was written:\n%w", err)
	}
	n, against, err := trace.Prove(l.recording, p)
	if err != nil {
		return err
	}
	if len(against) > 0 {
		var lines []string
		for _, a := range against {
			lines = append(lines, fmt.Sprintf("%s: %s", a.Parameter, a.Err))
		}
		return fmt.Errorf("the entries don't agree with what was heard, so nothing was written:\n%s", strings.Join(lines, "\n"))
	}
	l.say("proved", fmt.Sprintf("with these entries, all %s of these controls are read back as what was moved", count(n, "message")))
	return nil
}

// confirmed asks whether to write.
func (l *learning) confirmed(ctx context.Context) error {
	if l.t.yes {
		return nil
	}
	refused := fmt.Errorf("nothing was written into %s", l.t.into)
	if l.app.json {
		return fmt.Errorf("%w: with --json it takes --yes", refused)
	}
	line, err := l.typed(ctx, fmt.Sprintf("write this into %s? type yes: ", l.t.into))
	if err != nil {
		return fmt.Errorf("%w: %w", refused, err)
	}
	if line != "yes" && line != "y" {
		return refused
	}
	return nil
}

// say prints one thing that happened, for a person or for a program.
func (l *learning) say(event, text string) {
	if l.app.json {
		l.app.printJSON(struct {
			Event string `json:"event"`
			Text  string `json:"text"`
			File  string `json:"file"`
		}{event, text, l.t.into})
		return
	}
	fmt.Fprintln(l.app.out, text)
}

// jsonLearned is what --json prints of one entry, line, question or trouble.
type jsonLearned struct {
	Event     string   `json:"event"` // entry, line, question, trouble
	Table     string   `json:"table,omitempty"`
	Parameter string   `json:"parameter,omitempty"`
	TOML      string   `json:"toml,omitempty"`
	Heard     int      `json:"heard,omitempty"`
	Notes     []string `json:"notes,omitempty"`
	Text      string   `json:"text,omitempty"`
}

// sayFindings shows entries with what they stand on, and what is not known.
func (l *learning) sayFindings(f *trace.Findings) {
	if l.app.json {
		for _, line := range f.Lines {
			l.app.printJSON(jsonLearned{Event: "line", Table: line.Table, TOML: line.Key + " = " + line.TOML, Text: line.Note})
		}
		for _, e := range f.Entries {
			l.app.printJSON(jsonLearned{Event: "entry", Table: e.Part.String(), Parameter: e.Name, TOML: e.String(), Heard: e.Heard, Notes: e.Notes})
		}
	} else {
		l.sayEntries(f)
	}
	for _, q := range f.Questions {
		l.sayOpen("question", q.Parameter, q.Text)
	}
	for _, t := range f.Troubles {
		l.sayOpen("trouble", t.Parameter, t.Err.Error())
	}
}

// sayEntries shows the lines as the profile would have them.
func (l *learning) sayEntries(f *trace.Findings) {
	table := ""
	header := func(name string) {
		if name != table {
			table = name
			fmt.Fprintf(l.app.out, "[%s]\n", name)
		}
	}
	for _, line := range f.Lines {
		header(line.Table)
		fmt.Fprintf(l.app.out, "%s = %s\n", line.Key, line.TOML)
		if line.Note != "" {
			fmt.Fprintln(l.app.out, l.app.paint.dim("    "+line.Note))
		}
	}
	for _, e := range f.Entries {
		header(e.Part.String())
		fmt.Fprintln(l.app.out, e)
		for _, note := range append([]string{"out of " + count(e.Heard, "message")}, e.Notes...) {
			fmt.Fprintln(l.app.out, l.app.paint.dim("    "+note))
		}
	}
}

// sayOpen tells what is not known of a control, on standard error.
func (l *learning) sayOpen(event string, q profiles.Parameter, text string) {
	if l.app.json {
		l.app.printJSON(jsonLearned{Event: event, Parameter: q.String(), Text: text})
		return
	}
	fmt.Fprintln(l.app.err, l.app.paint.warn("not known: ")+q.String()+": "+text)
}
