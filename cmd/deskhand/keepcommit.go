package main

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes"
)

// commitKept makes a git commit of the performers' files that differ from the last one. What
// was kept stays kept if it fails.
func (a *app) commitKept(ctx context.Context, b *scenes.Book, k keeping) error {
	if !k.commit || a.rehearse {
		return nil
	}
	files, err := b.ChangedPerformers(ctx)
	if err != nil {
		return err
	}
	lines, err := changedSettings(ctx, b, files)
	if err != nil {
		return err
	}
	name, err := b.Commit(ctx, files, strings.TrimSpace(k.message)+"\n\n"+strings.Join(lines, "\n")+"\n")
	if err != nil {
		return err
	}
	if !a.json {
		fmt.Fprintf(a.out, "committed as %s: %s of %s\n", name, count(len(lines), "setting"), count(len(files), "file"))
	}
	return nil
}

// changedSettings lists what differs in performers' files from the last commit, one line a
// setting: "botanist: EQ 2 gain -3.0 -> -1.5 dB".
func changedSettings(ctx context.Context, b *scenes.Book, files []string) ([]string, error) {
	if len(files) == 0 {
		return nil, nil
	}
	before, err := b.At(ctx, "HEAD")
	if err != nil {
		return nil, err
	}
	known := before.Names(scenes.Performers)
	var lines []string
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".toml")
		now, err := b.Performer(name)
		if err != nil {
			return nil, fmt.Errorf("nothing was committed: %w", err)
		}
		var was scenes.Statement
		if slices.Contains(known, name) {
			if p, err := before.Performer(name); err == nil { // one with a fault counts as empty
				was.Entries = before.State(p)
			}
		}
		same := func(_ profiles.Parameter, x, y profiles.Value) bool { return x == y }
		for _, c := range scenes.Differences(was, scenes.Statement{Entries: b.State(now)}, same) {
			lines = append(lines, name+": "+sayWritten(c))
		}
	}
	return lines, nil
}

// sayWritten says one setting as a file has it, with the venue where it is for one only.
func sayWritten(c scenes.Change) string {
	name, at := c.Parameter.Name, ""
	if rest, here := strings.CutPrefix(name, "at."); here {
		at, name, _ = strings.Cut(rest, ".")
		at = " (at " + at + ")"
	}
	label := c.Spec.SayLabel(name, nil)
	if words := strings.Split(name, "."); words[0] == "send" && len(words) > 2 { // files have mixes by name
		label = strings.ReplaceAll(c.Spec.Label, "{mix}", words[1])
	}
	r := valueRow(label, c.Spec, c.From, c.To, "not set")
	return r.label + at + " " + r.from + " -> " + r.to
}
