package main

import (
	"fmt"

	"deskhand/profiles"
	"deskhand/scenes"
)

// sayKept prints what went into a performer's file, and what was left alone.
func (a *app) sayKept(v *scenes.Venue, done kept) {
	if a.json {
		a.printJSON(keptJSON(v, done, a.rehearse))
		return
	}
	for _, x := range done.apart {
		fmt.Fprintf(a.out, "left alone: %s holds %s%s: %s\n", labelOf(v, x.Spec, x.Parameter), x.Spec.Say(x.Held), sayWanted(x), x.Why)
	}
	switch {
	case len(done.values) > 0:
	case len(done.apart) > 0:
		fmt.Fprintf(a.out, "nothing to keep at %s: all else is as %s says\n", done.strip.Position.Name, done.file)
		return
	default:
		fmt.Fprintf(a.out, "nothing to keep at %s: %s says what the desk holds\n", done.strip.Position.Name, done.file)
		return
	}
	a.sayKeptRows(v, done)
	if a.rehearse {
		fmt.Fprintln(a.out, "nothing was written (--dry-run)")
		return
	}
	fmt.Fprintf(a.out, "%s kept; git diff shows the same\n", count(len(done.values), "value"))
}

// sayKeptRows prints the values that go into a file, and the lines that change there.
func (a *app) sayKeptRows(v *scenes.Venue, done kept) {
	fmt.Fprintln(a.out, a.paint.head(done.file))
	var rows []row
	for _, k := range done.values {
		rows = append(rows, valueRow(labelOf(v, k.Spec, k.Parameter), k.Spec, k.From, k.To, "not set"))
	}
	fmt.Fprint(a.out, table(rows, a.paint))
	for _, line := range done.lines {
		paint := a.paint.good
		if line.gone {
			paint = a.paint.bad
		}
		fmt.Fprintln(a.out, "    "+paint(line.String()))
	}
}

func labelOf(v *scenes.Venue, spec profiles.Spec, q profiles.Parameter) string {
	return spec.SayLabel(q.Name, v.MixName)
}

func sayWanted(x scenes.Apart) string {
	if x.Wanted.IsZero() {
		return ""
	}
	return ", the book says " + x.Spec.Say(x.Wanted)
}
